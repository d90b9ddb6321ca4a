package accelerometry

import (
	"math"

	"plumbstride/internal/signal"
)

// stance is what a running bout tells of the time on the ground, seconds;
// NaN where it can't be had.
type stance struct {
	byPulse, byEdges, byLandmarks float64
	spread                        float64 // standard deviation between steps
	n                             int
	stepS                         float64 // mean time of a step
}

// Cut-offs in Hz. Force goes by the whole body, so soft tissue's shaking above
// 10 Hz is left out (sacral sensors are commonly read below 5–10 Hz: Day et
// al. 2021, J Biomech 119:110323; from memory); a landing's moment needs the
// edge of the rise, which 30 Hz leaves.
const (
	forceHz = 10.0
	edgeHz  = 30.0
	// endG is the vertical acceleration, g, below which hardly anything pushes
	// any more: above what a sensor shows in the air.
	endG = 0.2
)

// contactTimes estimates how long a foot is down in a running bout, in up to
// three ways:
//
//   - Landmarks. From where braking begins, the tangent to the fore–aft
//     acceleration's steepest fall run back to its level before, to toe-off,
//     half-way between the end of the vertical push and the fore–aft trough
//     of the trunk's falling forward. The landmarks of trunk accelerometry
//     (Auvinet et al. 2002; Lee et al. 2010, J Sci Med Sport 13:270–273; from
//     memory); the trunk's pitching moves the two of toe-off opposite ways.
//   - Pulse. Over whole steps the mean vertical force is body weight, and in
//     running it is near a half sine (Alexander 1989; Morin et al. 2005, J Appl
//     Biomech 21:167–180): its mean square is then π²/8 ÷ (contact / step
//     time) body weights squared, whatever its height.
//   - Edges. From the tangent to the vertical's steepest rise, run back to
//     nothing, to the end of the push.
//
// up and forward are in g, forward may be nil; crossings are the rises
// through 1 g, in samples.
func contactTimes(up, forward []float64, rateHz float64, crossings []float64) stance {
	s := stance{byPulse: math.NaN(), byEdges: math.NaN(), byLandmarks: math.NaN(), spread: math.NaN(), n: len(crossings)}
	if len(crossings) < 4 {
		return s
	}
	first, last := crossings[0], crossings[len(crossings)-1]
	s.stepS = (last - first) / float64(len(crossings)-1) / rateHz
	force := signal.LowPass(pushed(up), rateHz, forceHz)[int(first):int(last)]
	s.byPulse = pulse(force) * s.stepS
	if above := effective(force, mean(force), rateHz, s.stepS); len(above) >= 3 {
		_, s.spread = signal.MeanSD(above)
	}
	v := meanStep(signal.LowPass(up, rateHz, edgeHz), rateHz, s.stepS, crossings)
	rise := v.tangent(-0.25, 0.2, 1, 0)
	end := v.falls(endG, 0.3, 0.97)
	s.byEdges = end - rise
	if forward != nil {
		a := meanStep(signal.LowPass(forward, rateHz, edgeHz), rateHz, s.stepS, crossings)
		s.byLandmarks = (end+a.trough(end/s.stepS))/2 - a.tangent(-0.25, 0.2, -1, math.NaN())
	}
	return s
}

// pushed is the upward acceleration without what the ground can't do: pull.
func pushed(up []float64) []float64 {
	out := make([]float64, len(up))
	for i, v := range up {
		out[i] = math.Max(v, 0)
	}
	return out
}

// pulse is contact / step time of a half sine with this mean square.
func pulse(v []float64) float64 {
	m, square := mean(v), 0.0
	for _, x := range v {
		square += x * x / float64(len(v))
	}
	return math.Pi * math.Pi / 8 * m * m / square
}

// effective are the times above the level, seconds, one a step: how much they
// differ is how much the steps do.
func effective(v []float64, level, rateHz, stepS float64) []float64 {
	var out []float64
	up := -1.0
	for i := 1; i < len(v); i++ {
		at := float64(i-1) + (level-v[i-1])/(v[i]-v[i-1])
		switch {
		case v[i-1] < level && v[i] >= level:
			up = at
		case v[i-1] >= level && v[i] < level && up >= 0:
			if d := (at - up) / rateHz; d > 0.25*stepS && d < stepS {
				out = append(out, d)
			}
			up = -1
		}
	}
	return out
}

// wavelet is the mean step: samples every stepMS from before the rise
// through 1 g to the next one.
type wavelet struct {
	values []float64
	stepS  float64
}

// sampleS is the mean step's clock, beforeS what it has before the rise, as
// shares of a step.
const (
	sampleS = 0.001
	before  = 0.45
)

// meanStep averages the steps, each laid on its rise.
func meanStep(v []float64, rateHz, stepS float64, crossings []float64) wavelet {
	w := wavelet{stepS: stepS, values: make([]float64, int((1+before)*stepS/sampleS))}
	for i := range w.values {
		n := 0.0
		for _, c := range crossings {
			at := c + (float64(i)*sampleS-before*stepS)*rateHz
			k := int(math.Floor(at))
			if k < 0 || k+1 >= len(v) {
				continue
			}
			w.values[i] += v[k] + (at-float64(k))*(v[k+1]-v[k])
			n++
		}
		w.values[i] /= math.Max(n, 1)
	}
	return w
}

// index and time turn shares of a step and seconds after the rise into
// samples and back.
func (w wavelet) index(share float64) int {
	return min(max(int((share+before)*w.stepS/sampleS), 1), len(w.values)-2)
}

func (w wavelet) time(i float64) float64 { return i*sampleS - before*w.stepS }

// tangent runs the tangent at the steepest change of the sign, between two
// shares of a step, back to a level, or, where that is NaN, to the highest
// value in the 60 ms before; seconds after the rise.
func (w wavelet) tangent(from, to, sign, level float64) float64 {
	best, k := 0.0, -1
	for i := w.index(from); i <= w.index(to); i++ {
		if d := sign * (w.values[i+1] - w.values[i-1]) / 2; d > best {
			best, k = d, i
		}
	}
	if k < 0 {
		return math.NaN()
	}
	if math.IsNaN(level) {
		level = w.values[k]
		for i := k; i > max(0, k-int(0.06/sampleS)); i-- {
			level = math.Max(level, w.values[i])
		}
	}
	return w.time(float64(k) - (w.values[k]-level)/(sign*best))
}

// falls is where the mean step first falls through a level between two
// shares of a step; NaN where it doesn't.
func (w wavelet) falls(level, from, to float64) float64 {
	for i := w.index(from); i < w.index(to); i++ {
		if a, b := w.values[i], w.values[i+1]; a >= level && b < level {
			return w.time(float64(i) + (a-level)/(a-b))
		}
	}
	return math.NaN()
}

// trough is the deepest local minimum about a share of a step.
func (w wavelet) trough(share float64) float64 {
	if math.IsNaN(share) {
		return share
	}
	found, lowest := math.NaN(), math.Inf(1)
	for i := w.index(share - 0.15); i <= w.index(math.Min(share+0.15, 0.9)); i++ {
		if v := w.values[i]; v < lowest && v <= w.values[i-1] && v <= w.values[i+1] {
			found, lowest = w.time(float64(i)), v
		}
	}
	return found
}

// riseHz smooths what the steps are told apart by.
const riseHz = 20.0

// rises are the moments, in samples, at which a series rises through 1 g out
// of a flight, one a step: between two it falls below half of that. Of two
// within half a step, the steeper counts.
func rises(v []float64, rateHz, stepS float64) []float64 {
	edge := signal.LowPass(v, rateHz, riseHz)
	var out, slopes []float64
	aloft := false
	for k, x := range edge {
		if x < 0.5 {
			aloft = true
		}
		if !aloft || x < 1 || k == 0 {
			continue
		}
		aloft = false
		slope := x - edge[k-1]
		at := float64(k) - (x-1)/slope
		n := len(out)
		if n == 0 || at-out[n-1] > 0.5*stepS*rateHz {
			out, slopes = append(out, at), append(slopes, slope)
		} else if slope > slopes[n-1] {
			out[n-1], slopes[n-1] = at, slope
		}
	}
	return out
}
