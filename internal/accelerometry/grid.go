package accelerometry

import (
	"math"
	"sort"
)

// section is a stretch of the recording without gaps, on an even clock.
type section struct {
	startS, rateHz float64
	// up and forward in g; forward is nil where it is not known.
	up, forward []float64
	// axes are x, y, z on the even clock, where the orientation is unknown.
	axes [][]float64
}

func (s section) seconds() float64 { return float64(len(s.up)) / s.rateHz }

// gridHz is the slowest even clock: interpolated, so that the time of a
// crossing is found between samples.
const gridHz = 200.0

// sections cuts a recording at its gaps and puts each piece on an even
// clock; missing is the share of the time that lies in gaps or in pieces too
// short to use.
func (rec Recording) sections() (out []section, missing float64) {
	t := rec.TimesS
	longest := math.Max(0.1, 5/rec.RateHz)
	from, used := 0, 0.0
	for i := 1; i <= len(t); i++ {
		if i < len(t) && t[i]-t[i-1] <= longest {
			continue
		}
		if t[i-1]-t[from] >= shortestS-0.5 {
			s := rec.even(from, i)
			used += t[i-1] - t[from]
			out = append(out, s)
		}
		from = i
	}
	return out, 1 - used/t[len(t)-1]
}

// even puts samples from..to on an even clock.
func (rec Recording) even(from, to int) section {
	t := rec.TimesS[from:to]
	s := section{startS: t[0], rateHz: math.Max(rec.RateHz, gridHz)}
	n := int((t[len(t)-1]-t[0])*s.rateHz) + 1
	axes := make([][]float64, len(rec.Axes))
	for k, axis := range rec.Axes {
		axes[k] = resample(t, axis[from:to], s.rateHz, n)
	}
	if rec.Upright {
		s.up = axes[0]
		if len(axes) > 1 {
			s.forward = axes[1]
		}
		return s
	}
	s.axes = axes
	s.up = upward(axes, s.rateHz)
	return s
}

// resample interpolates by cubics through four neighbours (Catmull–Rom on an
// uneven clock).
func resample(t, v []float64, rateHz float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		at := t[0] + float64(i)/rateHz
		k := sort.SearchFloat64s(t, at)
		if k < len(t) && t[k] == at || k == 0 {
			out[i] = v[k]
			continue
		}
		if k >= len(t) {
			out[i] = v[len(v)-1]
			continue
		}
		out[i] = cubic(t, v, k-1, at)
	}
	return out
}

// cubic is the Hermite cubic between samples k and k+1.
func cubic(t, v []float64, k int, at float64) float64 {
	slope := func(i int) float64 {
		a, b := max(i-1, 0), min(i+1, len(t)-1)
		return (v[b] - v[a]) / (t[b] - t[a])
	}
	h := t[k+1] - t[k]
	u := (at - t[k]) / h
	m0, m1 := slope(k)*h, slope(k+1)*h
	return (1+2*u)*(1-u)*(1-u)*v[k] + u*(1-u)*(1-u)*m0 + u*u*(3-2*u)*v[k+1] + u*u*(u-1)*m1
}

// gravitySpanS is the span over which gravity's direction is averaged: a few
// strides, over which a body's own accelerations cancel.
const gravitySpanS = 4.0

// upward is the component along gravity's direction, which may turn slowly
// as a phone does in a pocket.
func upward(axes [][]float64, rateHz float64) []float64 {
	half := int(gravitySpanS * rateHz / 2)
	g := make([][]float64, len(axes))
	for k, axis := range axes {
		g[k] = movingMean(axis, half)
	}
	up := make([]float64, len(axes[0]))
	for i := range up {
		dot, size := 0.0, 0.0
		for k := range axes {
			dot += axes[k][i] * g[k][i]
			size += g[k][i] * g[k][i]
		}
		if size > 0 {
			up[i] = dot / math.Sqrt(size)
		}
	}
	return up
}

// movingMean averages over half samples on either side; near an end, over
// the same number of samples all on one side.
func movingMean(v []float64, half int) []float64 {
	n := len(v)
	sums := make([]float64, n+1)
	for i, x := range v {
		sums[i+1] = sums[i] + x
	}
	out := make([]float64, n)
	for i := range out {
		a, b := i-half, i+half+1
		if a < 0 {
			a, b = 0, min(2*half+1, n)
		}
		if b > n {
			a, b = max(0, n-2*half-1), n
		}
		out[i] = (sums[b] - sums[a]) / float64(b-a)
	}
	return out
}

// wave is the part of a series that goes with a period, as cosine and sine.
func wave(v []float64, rateHz, periodS float64) (c, s float64) {
	n := int(math.Floor(float64(len(v))/rateHz/periodS) * periodS * rateHz)
	if n < 1 {
		n = len(v)
	}
	for i := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / rateHz / periodS)
		c += v[i] * cos
		s += v[i] * sin
	}
	return 2 * c / float64(n), 2 * s / float64(n)
}
