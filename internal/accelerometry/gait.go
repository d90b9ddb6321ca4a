package accelerometry

import (
	"math"

	"plumbstride/internal/signal"
)

// Gait is how somebody gets along.
type Gait string

// The gaits. None is neither: standing, sitting, riding.
const (
	None    Gait = ""
	Walking Gait = "walking"
	Running Gait = "running"
)

// Windows in which the gait is told: long enough for a few strides.
const (
	windowS = 4.0
	hopS    = 0.5
	// coarseHz is the even clock on which windows are looked at.
	coarseHz = 100.0
)

// The lengths of a step, seconds. Within either range there is no step with
// its double, so that a stride isn't taken for a step: running 125–230, walking
// 71–140 steps/min. People change over at about 140 (Nilsson & Thorstensson
// 1987, from memory; 2.22 of the reference's sources).
var (
	runningStep = [2]float64{0.26, 0.48}
	walkingStep = [2]float64{0.42, 0.84}
)

const (
	// flightG: in the air a sensor feels nothing of gravity; on the ground a
	// walker's never falls far below half of it.
	flightG     = 0.35
	flightShare = 0.08
	// lively and fierce are standard deviations of the upward acceleration,
	// g, from which it may be, and is, running: about 0.2–0.5 in walking and
	// 0.75–1.3 in running, wherever the sensor is worn.
	lively, fierce = 0.5, 0.72
	// stillG is the standard deviation below which nobody walks.
	stillG = 0.05
	// regular is how alike successive strides must be.
	regular = 0.5
	// leastScore is how alike a step and a stride later must be on average;
	// pedals turned once a stride's time fall below.
	leastScore = 0.1
	// swing is the least motion with the strides, as a share of that with the
	// steps, on some axis: a leg, an arm or the trunk moves to and fro once a
	// stride, but pedals turn once a "step". impacts is the least share of the
	// motion above the steps' frequency, where the upright axis alone is known.
	swing, impacts = 0.1, 0.015
)

// window is what a few seconds look like.
type window struct {
	at         float64 // seconds from the section's start, its middle
	sd, flight float64
	gait       Gait
	stepS      float64
	alike      float64 // how alike successive strides are
	feet       float64 // what feet alone give, 1 being enough; of walking
	above      float64 // share of the motion above the steps' frequency
}

// windows looks at a section piece by piece.
func windows(s section) []window {
	every := max(1, int(s.rateHz/coarseHz))
	rate := s.rateHz / float64(every)
	smooth := signal.LowPass(s.up, s.rateHz, 10)
	v := make([]float64, 0, len(smooth)/every+1)
	for i := 0; i < len(smooth); i += every {
		v = append(v, smooth[i])
	}
	size, hop := min(int(windowS*rate), len(v)), int(hopS*rate)
	var out []window
	for from := 0; from+size <= len(v); from += hop {
		w := look(v[from:from+size], rate)
		if w.gait == Walking {
			w.feet = feet(s, v[from:from+size], rate, from*every, w.stepS)
		}
		w.at = (float64(from) + float64(size)/2) / rate
		out = append(out, w)
	}
	return out
}

// look tells the gait of one window of smoothed upward acceleration.
func look(v []float64, rateHz float64) window {
	var w window
	_, w.sd = signal.MeanSD(v)
	for _, x := range v {
		if x < flightG {
			w.flight += 1 / float64(len(v))
		}
	}
	if !(w.sd > stillG) {
		return w
	}
	r := repeats(v, int(2*walkingStep[1]*rateHz)+8)
	run, runScore := beat(r, rateHz, runningStep)
	walk, walkScore := beat(r, rateHz, walkingStep)
	running := w.sd >= fierce || w.sd >= lively && w.flight >= flightShare
	if running && runScore > leastScore && runScore >= 0.8*walkScore {
		w.gait, w.stepS = Running, run
	} else if walkScore > leastScore && !(w.sd >= fierce && w.flight >= flightShare) {
		w.gait, w.stepS = Walking, walk
	}
	if w.gait == None {
		return w
	}
	w.alike = math.Max(at(r, w.stepS*rateHz), at(r, 2*w.stepS*rateHz))
	if w.alike < regular {
		w.gait = None
	}
	return w
}

// feet is how much of what feet alone give there is in a window, 1 being
// enough: something that comes once a stride, or impacts. v is its smoothed
// upward part, first its first sample in the section.
func feet(s section, v []float64, rateHz float64, first int, stepS float64) float64 {
	if s.axes == nil {
		return aboveBeat(v, rateHz, stepS) / impacts
	}
	c, d := wave(v, rateHz, stepS)
	steps := math.Hypot(c, d)
	size := min(int(float64(len(v))/rateHz*s.rateHz), len(s.up)-first)
	most := 0.0
	for _, axis := range s.axes {
		c, d := wave(axis[first:first+size], s.rateHz, 2*stepS)
		most = math.Max(most, math.Hypot(c, d))
	}
	return most / steps / swing
}

// repeats is the series' correlation with itself 0 … most samples later.
func repeats(v []float64, most int) []float64 {
	most = min(most, len(v)*3/4)
	m := mean(v)
	r := make([]float64, most+1)
	for lag := range r {
		var xy, xx, yy float64
		for i := 0; i+lag < len(v); i++ {
			x, y := v[i]-m, v[i+lag]-m
			xy += x * y
			xx += x * x
			yy += y * y
		}
		if xx > 0 && yy > 0 {
			r[lag] = xy / math.Sqrt(xx*yy)
		}
	}
	return r
}

// at interpolates between lags.
func at(r []float64, lag float64) float64 {
	i := int(lag)
	if i < 0 || i+1 >= len(r) {
		return 0
	}
	return r[i] + (lag-float64(i))*(r[i+1]-r[i])
}

// beat is the step's length in seconds, within the range, at which a series
// is most like itself one step and one stride later, and how much; 0 for
// none.
func beat(r []float64, rateHz float64, within [2]float64) (stepS, score float64) {
	s := func(lag int) float64 { return (at(r, float64(lag)) + at(r, 2*float64(lag))) / 2 }
	lo, hi := int(math.Ceil(within[0]*rateHz)), int(within[1]*rateHz)
	for lag := max(lo, 1); lag <= hi; lag++ {
		a, b, c := s(lag-1), s(lag), s(lag+1)
		if b < a || b < c || b <= score {
			continue
		}
		shift := 0.0
		if curve := a - 2*b + c; curve < 0 {
			shift = (a - c) / (2 * curve)
		}
		stepS, score = (float64(lag)+shift)/rateHz, b
	}
	return stepS, score
}

// aboveBeat is the share of the motion that lies above 1.6 times the steps'
// frequency.
func aboveBeat(v []float64, rateHz, stepS float64) float64 {
	low := signal.LowPass(v, rateHz, 1.6/stepS)
	m := mean(v)
	var all, rest float64
	for i, x := range v {
		all += (x - m) * (x - m)
		rest += (x - low[i]) * (x - low[i])
	}
	if all == 0 {
		return 0
	}
	return rest / all
}
