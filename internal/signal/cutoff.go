package signal

import "math"

// LikelyCutoff gives the smoother's cut-off, Hz, at which the series are the
// likeliest: the white-jerk model whose one-step predictions fit them best,
// each series with its own size of noise. It asks the data what residual
// analysis asks (Winter, Biomechanics and Motor Control of Human Movement;
// Wells & Winter 1980, Human Locomotion I:92–93; from memory), how much of the
// high frequencies is motion; but it takes uneven times and missing samples,
// and needs no stretch of the spectrum that is noise alone.
//
// times are seconds, increasing; doubts are the samples' noise relative to one
// another, infinite where one is missing; rateHz is the samples' mean rate, as
// given to JerkDensity. The result lies within low … high, to 3 %; with too
// few samples it is the middle, √(low·high).
//
// Source: the likelihood by the innovations of a Kalman filter, Schweppe 1965,
// IEEE Trans Inf Theory 11:61–70; with the noise's size concentrated out,
// Harvey 1989, Forecasting, Structural Time Series Models and the Kalman
// Filter, 3.4 (from memory).
func LikelyCutoff(times []float64, series [][]float64, doubts []float64, rateHz, low, high float64) float64 {
	seen := 0
	for _, d := range doubts {
		if present(d) {
			seen++
		}
	}
	if seen < leastForCutoff || !(low < high) {
		return math.Sqrt(low * high)
	}
	surprise := func(logHz float64) float64 {
		q := JerkDensity(math.Exp(logHz), rateHz, 1)
		sum := 0.0
		for _, values := range series {
			sum += surpriseOf(times, values, doubts, q)
		}
		return sum
	}
	return math.Exp(lowest(surprise, math.Log(low), math.Log(high)))
}

// leastForCutoff samples are needed to tell motion from noise (common
// practice, no source).
const leastForCutoff = 20

// surpriseOf is minus the log-likelihood of a series, but for a constant, for
// a jerk density in units of the noise's variance, with the noise's size set
// to its likeliest. The first three samples only begin the filter, which has
// three states.
func surpriseOf(t, z, sds []float64, q float64) float64 {
	m, p := begin(t, z, sds)
	squares, logs, n := 0.0, 0.0, -3.0
	for i := range t {
		if i > 0 {
			m, p = predict(m, p, t[i]-t[i-1], q)
		}
		if !present(sds[i]) {
			continue
		}
		r := sds[i] * sds[i]
		if n++; n > 0 {
			s, e := p[0][0]+r, z[i]-m[0]
			squares += e * e / s
			logs += math.Log(s)
		}
		m, p = update(m, p, z[i], r)
	}
	return n/2*math.Log(math.Max(squares/n, 1e-300)) + logs/2
}

// lowest is where a function with one valley between a and b is lowest, to
// 0.03, by golden sections.
func lowest(f func(float64) float64, a, b float64) float64 {
	const golden, enough = 0.6180339887498949, 0.03
	x1, x2 := b-golden*(b-a), a+golden*(b-a)
	f1, f2 := f(x1), f(x2)
	for b-a > enough {
		if f1 <= f2 {
			b, x2, f2 = x2, x1, f1
			x1 = b - golden*(b-a)
			f1 = f(x1)
		} else {
			a, x1, f1 = x1, x2, f2
			x2 = a + golden*(b-a)
			f2 = f(x2)
		}
	}
	return (a + b) / 2
}
