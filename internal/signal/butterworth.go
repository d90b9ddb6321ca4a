package signal

import "math"

// passCorrection is what a second-order filter's warped frequency is divided
// by so that two passes, one each way, leave 1/√2 at the cut-off that was
// asked for: C = (2^(1/2) − 1)^(1/4) = 0.8022 (Winter, Biomechanics and Motor
// Control of Human Movement; from memory, and derived in the test).
const passCorrection = 0.80224

// LowPass gives the values, samples at the even rate rateHz, after a
// second-order Butterworth low-pass run forwards and backwards: no delay,
// fourth order, half the power left at cutoffHz. The ends are mirrored
// through their own value. Coefficients after Winter (bilinear transform with
// the frequency warped). A cut-off too near half the rate to be had gives a
// copy. values is not changed.
func LowPass(values []float64, rateHz, cutoffHz float64) []float64 {
	if cutoffHz >= 0.45*rateHz || len(values) < 3 {
		return append([]float64(nil), values...)
	}
	c := butterworth(math.Tan(math.Pi*cutoffHz/rateHz) / passCorrection)
	pad := min(len(values)-1, int(2*rateHz/cutoffHz)+2)
	x := mirrored(values, pad)
	c.run(x)
	reverse(x)
	c.run(x)
	reverse(x)
	return x[pad : pad+len(values) : pad+len(values)]
}

// biquad are the coefficients of y = a0·x + a1·x₁ + a0·x₂ + b1·y₁ + b2·y₂.
type biquad struct{ a0, a1, b1, b2 float64 }

// butterworth is the second-order low-pass for a warped frequency.
func butterworth(w float64) biquad {
	k1, k2 := math.Sqrt2*w, w*w
	a0 := k2 / (1 + k1 + k2)
	k3 := 2 * a0 / k2
	b1 := -2*a0 + k3
	return biquad{a0: a0, a1: 2 * a0, b1: b1, b2: 1 - 4*a0 - b1}
}

// run filters in place, beginning as if the first value had always been.
func (c biquad) run(x []float64) {
	x1, x2, y1, y2 := x[0], x[0], x[0], x[0]
	for i, v := range x {
		y := c.a0*v + c.a1*x1 + c.a0*x2 + c.b1*y1 + c.b2*y2
		x2, x1, y2, y1 = x1, v, y1, y
		x[i] = y
	}
}

// mirrored puts pad values before and behind, point-mirrored at the ends.
func mirrored(v []float64, pad int) []float64 {
	n := len(v)
	out := make([]float64, n+2*pad)
	copy(out[pad:], v)
	for i := 1; i <= pad; i++ {
		out[pad-i] = 2*v[0] - v[i]
		out[pad+n-1+i] = 2*v[n-1] - v[n-1-i]
	}
	return out
}

func reverse(x []float64) {
	for i, j := 0, len(x)-1; i < j; i, j = i+1, j-1 {
		x[i], x[j] = x[j], x[i]
	}
}
