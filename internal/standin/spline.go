package standin

// spline is a cubic through its knots with a given slope at both ends,
// continuous to the second derivative.
type spline struct {
	x, y, m []float64 // knots, values, slopes
}

// newSpline gives the clamped cubic spline through (x[i], y[i]), x rising,
// with slopes first and last at the ends. It panics on fewer than two knots.
func newSpline(x, y []float64, first, last float64) spline {
	n := len(x)
	if n < 2 || len(y) != n {
		panic("standin: newSpline: need at least two knots and as many values")
	}
	m := make([]float64, n)
	m[0], m[n-1] = first, last
	// The slopes solve a diagonally dominant tridiagonal system:
	// m[i-1]/h0 + 2(1/h0+1/h1) m[i] + m[i+1]/h1 = 3(d0/h0² + d1/h1²).
	diag, rhs := make([]float64, n), make([]float64, n)
	for i := 1; i < n-1; i++ {
		h0, h1 := x[i]-x[i-1], x[i+1]-x[i]
		diag[i] = 2 * (1/h0 + 1/h1)
		rhs[i] = 3 * ((y[i]-y[i-1])/(h0*h0) + (y[i+1]-y[i])/(h1*h1))
		if i == 1 {
			rhs[i] -= first / h0
		} else {
			k := (1 / h0) / diag[i-1]
			diag[i] -= k / h0
			rhs[i] -= k * rhs[i-1]
		}
		if i == n-2 {
			rhs[i] -= last / h1
		}
	}
	for i := n - 2; i >= 1; i-- {
		m[i] = rhs[i]
		if i < n-2 {
			m[i] -= m[i+1] / (x[i+1] - x[i])
		}
		m[i] /= diag[i]
	}
	return spline{x: x, y: y, m: m}
}

// at gives the value at x; beyond the ends it goes on with the end pieces.
func (s spline) at(x float64) float64 {
	i := 0
	for i < len(s.x)-2 && x > s.x[i+1] {
		i++
	}
	return hermite(s.x[i], s.x[i+1], s.y[i], s.y[i+1], s.m[i], s.m[i+1], x)
}

// hermite is the cubic with values ya, yb and slopes ma, mb at xa, xb.
func hermite(xa, xb, ya, yb, ma, mb, x float64) float64 {
	h := xb - xa
	u := (x - xa) / h
	v := 1 - u
	return v*v*((1+2*u)*ya+u*h*ma) + u*u*((1+2*v)*yb-v*h*mb)
}
