package signal

import "math"

// State is a smoothed value with its first two time derivatives, in the
// sample's unit, per second and per second squared. SD is the standard
// uncertainty of X if the noise is white with the sd that was stated.
type State struct {
	X, V, A float64
	SD      float64
}

// cutoffGain is ω⁶·r²/(fs·q) where the smoother passes 1/√2 of an amplitude.
const cutoffGain = math.Sqrt2 - 1

// JerkDensity gives the white-jerk spectral density q (unit²/s⁵) for which
// Smooth passes 1/√2 of the amplitude at cutoffHz, for samples at rateHz
// with noise of standard deviation sd.
//
// The smoother of the model x”' = w, E[w(t)w(s)] = q·δ(t−s), observed at
// rate fs with noise variance r², has the zero-lag frequency response
//
//	H(ω) = 1 / (1 + ω⁶·r²/(fs·q))
//
// (the Wiener smoother S_x/(S_x+S_n) with S_x = q/ω⁶, S_n = r²/fs), so that
// q = r²·ω_c⁶ / (fs·(√2−1)).
func JerkDensity(cutoffHz, rateHz, sd float64) float64 {
	w := 2 * math.Pi * cutoffHz
	return sd * sd * math.Pow(w, 6) / (rateHz * cutoffGain)
}

// Smooth gives the zero-lag (forward Kalman filter, backward
// Rauch–Tung–Striebel) estimate of each sample for the white-jerk model.
// times are seconds, increasing; values[i] is ignored where sds[i] is not
// finite or not positive (a missing sample): it is then interpolated.
// density is q as JerkDensity gives it. With fewer than three samples the
// result is nil.
//
// Source: Rauch, Tung, Striebel 1965, AIAA J 3:1445–1450 (from memory).
func Smooth(times, values, sds []float64, density float64) []State {
	return SmoothAcross(times, values, sds, density, nil)
}

// Impact is a moment at which the motion may break: its velocity changes by
// SpeedSD and its acceleration by AccelSD (standard deviations, in the
// sample's unit per second and per second squared) from one sample to the
// next, while the place goes on.
type Impact struct{ Time, SpeedSD, AccelSD float64 }

// SmoothAcross is Smooth for a motion with impacts: a foot that lands stops
// within milliseconds, which a filter with one cut-off would smear over both
// sides of the event. The break goes into the filter as process noise at that
// moment, so that either side is smoothed for itself and both meet in one
// place.
func SmoothAcross(times, values, sds []float64, density float64, impacts []Impact) []State {
	if len(times) != len(values) || len(times) != len(sds) {
		panic("signal: Smooth: lengths differ")
	}
	seen := 0
	for _, sd := range sds {
		if present(sd) {
			seen++
		}
	}
	if seen < 3 {
		return nil
	}
	s := newSmoother(len(times))
	s.impacts = impacts
	s.forward(times, values, sds, density)
	return s.backward(times, density)
}

func present(sd float64) bool { return sd > 0 && !math.IsInf(sd, 0) && !math.IsNaN(sd) }

type vec3 [3]float64
type mat3 [3][3]float64

type smoother struct {
	mean, predMean []vec3
	cov, predCov   []mat3
	impacts        []Impact
}

func newSmoother(n int) *smoother {
	return &smoother{mean: make([]vec3, n), predMean: make([]vec3, n), cov: make([]mat3, n), predCov: make([]mat3, n)}
}

// forward runs the filter from what the first samples say, which counts for
// hardly anything beside them.
func (s *smoother) forward(t, z, sds []float64, q float64) {
	m, p := begin(t, z, sds)
	for i := range t {
		if i > 0 {
			m, p = predict(m, p, t[i]-t[i-1], q)
			for _, k := range s.impacts {
				if t[i-1] < k.Time && k.Time <= t[i] {
					p[1][1] += k.SpeedSD * k.SpeedSD
					p[2][2] += k.AccelSD * k.AccelSD
				}
			}
		}
		s.predMean[i], s.predCov[i] = m, p
		if present(sds[i]) {
			m, p = update(m, p, z[i], sds[i]*sds[i])
		}
		s.mean[i], s.cov[i] = m, p
	}
}

// begin gives the state at the first time and bounds for it: a parabola by
// least squares through the first samples, and thousands of times the
// uncertainty that they have. Bounds as wide as the numbers would lose the
// digits where an early sample is missing.
func begin(t, z, sds []float64) (m vec3, p mat3) {
	const most = 8 // distinct times
	var u, y []float64
	worst, span, times := 0.0, 0.0, 0
	for i, sd := range sds {
		if !present(sd) {
			continue
		}
		if at := t[i] - t[0]; times == 0 || at > span {
			if times++; times > most {
				break
			}
			span = at
		}
		u, y = append(u, t[i]-t[0]), append(y, z[i])
		worst = math.Max(worst, sd)
	}
	if times < 3 { // no parabola: somewhere about the first sample
		wide := 1e3 * (math.Abs(y[0]) + worst)
		return vec3{y[0], 0, 0}, mat3{{wide * wide, 0, 0}, {0, 1e2 * wide * wide, 0}, {0, 0, 1e4 * wide * wide}}
	}
	// In units of the span the three sums are of one size.
	var a mat3
	var r vec3
	for i := range u {
		row := vec3{1, u[i] / span, u[i] / span * u[i] / span}
		for j := range 3 {
			r[j] += row[j] * y[i]
			for k := range 3 {
				a[j][k] += row[j] * row[k]
			}
		}
	}
	g := inverse(a)
	var c vec3
	for j := range 3 {
		for k := range 3 {
			c[j] += g[j][k] * r[k]
		}
	}
	rest := worst
	for i := range u {
		x := u[i] / span
		rest = math.Max(rest, math.Abs(y[i]-c[0]-c[1]*x-c[2]*x*x))
	}
	wide := 1e3 * rest
	v, w := wide/span, wide/(span*span)
	return vec3{c[0], c[1] / span, 2 * c[2] / (span * span)},
		mat3{{wide * wide, 0, 0}, {0, 1e2 * v * v, 0}, {0, 0, 1e4 * w * w}}
}

func (s *smoother) backward(t []float64, q float64) []State {
	n := len(t)
	out := make([]State, n)
	m, p := s.mean[n-1], s.cov[n-1]
	out[n-1] = stateOf(m, p)
	for i := n - 2; i >= 0; i-- {
		f := transition(t[i+1] - t[i])
		g := mul(mulT(s.cov[i], f), inverse(s.predCov[i+1]))
		var d vec3
		for r := range 3 {
			d[r] = m[r] - s.predMean[i+1][r]
		}
		dp := sub(p, s.predCov[i+1])
		mi, pi := s.mean[i], s.cov[i]
		for r := range 3 {
			for c := range 3 {
				mi[r] += g[r][c] * d[c]
			}
		}
		pi = add(pi, mulT(mul(g, dp), g))
		m, p = mi, pi
		out[i] = stateOf(m, p)
	}
	return out
}

func stateOf(m vec3, p mat3) State {
	return State{X: m[0], V: m[1], A: m[2], SD: math.Sqrt(math.Max(p[0][0], 0))}
}

func transition(dt float64) mat3 {
	return mat3{{1, dt, dt * dt / 2}, {0, 1, dt}, {0, 0, 1}}
}

func predict(m vec3, p mat3, dt, q float64) (vec3, mat3) {
	f := transition(dt)
	out := vec3{m[0] + dt*m[1] + dt*dt/2*m[2], m[1] + dt*m[2], m[2]}
	d2, d3, d4, d5 := dt*dt, dt*dt*dt, dt*dt*dt*dt, dt*dt*dt*dt*dt
	noise := mat3{
		{q * d5 / 20, q * d4 / 8, q * d3 / 6},
		{q * d4 / 8, q * d3 / 3, q * d2 / 2},
		{q * d3 / 6, q * d2 / 2, q * dt},
	}
	return out, add(mulT(mul(f, p), f), noise)
}

func update(m vec3, p mat3, z, r float64) (vec3, mat3) {
	s := p[0][0] + r
	k := vec3{p[0][0] / s, p[1][0] / s, p[2][0] / s}
	e := z - m[0]
	row := p[0]
	for i := range 3 {
		m[i] += k[i] * e
		for j := range 3 {
			p[i][j] -= k[i] * row[j]
		}
	}
	for i := range 3 { // keep it symmetric
		for j := range i {
			v := (p[i][j] + p[j][i]) / 2
			p[i][j], p[j][i] = v, v
		}
	}
	return m, p
}

func mul(a, b mat3) (c mat3) {
	for i := range 3 {
		for j := range 3 {
			c[i][j] = a[i][0]*b[0][j] + a[i][1]*b[1][j] + a[i][2]*b[2][j]
		}
	}
	return c
}

// mulT is a·bᵀ.
func mulT(a, b mat3) (c mat3) {
	for i := range 3 {
		for j := range 3 {
			c[i][j] = a[i][0]*b[j][0] + a[i][1]*b[j][1] + a[i][2]*b[j][2]
		}
	}
	return c
}

func add(a, b mat3) mat3 {
	for i := range 3 {
		for j := range 3 {
			a[i][j] += b[i][j]
		}
	}
	return a
}

func sub(a, b mat3) mat3 {
	for i := range 3 {
		for j := range 3 {
			a[i][j] -= b[i][j]
		}
	}
	return a
}

// inverse of a symmetric positive matrix, scaled first so that states of
// very different size don't lose digits.
func inverse(a mat3) mat3 {
	var d vec3
	for i := range 3 {
		d[i] = 1 / math.Sqrt(math.Max(a[i][i], 1e-300))
	}
	var b mat3
	for i := range 3 {
		for j := range 3 {
			b[i][j] = a[i][j] * d[i] * d[j]
		}
	}
	c00 := b[1][1]*b[2][2] - b[1][2]*b[2][1]
	c01 := b[1][2]*b[2][0] - b[1][0]*b[2][2]
	c02 := b[1][0]*b[2][1] - b[1][1]*b[2][0]
	det := b[0][0]*c00 + b[0][1]*c01 + b[0][2]*c02
	if math.Abs(det) < 1e-300 {
		det = 1e-300
	}
	inv := mat3{
		{c00, b[0][2]*b[2][1] - b[0][1]*b[2][2], b[0][1]*b[1][2] - b[0][2]*b[1][1]},
		{c01, b[0][0]*b[2][2] - b[0][2]*b[2][0], b[0][2]*b[1][0] - b[0][0]*b[1][2]},
		{c02, b[0][1]*b[2][0] - b[0][0]*b[2][1], b[0][0]*b[1][1] - b[0][1]*b[1][0]},
	}
	for i := range 3 {
		for j := range 3 {
			inv[i][j] *= d[i] * d[j] / det
		}
	}
	return inv
}

// Interpolate gives the state at time t between the samples: the quintic is
// not needed, since over one frame the white-jerk model is a cubic; position
// and velocity of both neighbours fix it (Hermite). Outside the samples the
// nearest one is carried on with its velocity for at most a frame.
func Interpolate(times []float64, states []State, t float64) State {
	if len(times) != len(states) || len(states) == 0 {
		panic("signal: Interpolate: lengths differ or are 0")
	}
	i := search(times, t)
	if i <= 0 || i >= len(times) {
		k := min(max(i, 0), len(times)-1)
		s := states[k]
		s.X += s.V * (t - times[k])
		return s
	}
	a, b := states[i-1], states[i]
	h := times[i] - times[i-1]
	u := (t - times[i-1]) / h
	h00, h10 := (1+2*u)*(1-u)*(1-u), u*(1-u)*(1-u)
	h01, h11 := u*u*(3-2*u), u*u*(u-1)
	d00, d10 := 6*u*u-6*u, 3*u*u-4*u+1
	d11 := 3*u*u - 2*u
	return State{
		X:  h00*a.X + h10*h*a.V + h01*b.X + h11*h*b.V,
		V:  d00*(a.X-b.X)/h + d10*a.V + d11*b.V,
		A:  a.A + u*(b.A-a.A),
		SD: math.Sqrt((1-u)*a.SD*a.SD + u*b.SD*b.SD),
	}
}

// search gives the first index whose time is ≥ t.
func search(times []float64, t float64) int {
	lo, hi := 0, len(times)
	for lo < hi {
		m := (lo + hi) / 2
		if times[m] < t {
			lo = m + 1
		} else {
			hi = m
		}
	}
	return lo
}
