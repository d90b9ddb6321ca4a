package accelerometry

import (
	"math"

	"plumbstride/internal/signal"
)

// bearing is which way the column that was named forward points.
type bearing int

const (
	unclear  bearing = 0
	ahead    bearing = 1
	backward bearing = -1
)

// What it takes to tell the bearing: the brake and push of the mean step, as
// standard deviations of the axis, the share of steps that say the same, and
// the sine of the lag behind the vertical. The trials of
// docs/accelerometer.md give 2.1–2.8, 0.9–1 and 0.6–1
// (TestBearingOfTheTrials).
const (
	leastPush, mostSteps, leastLag = 1.0, 0.75, 0.3
)

// bearingOf tells which way a fore–aft axis points, by two signs that a
// runner on the ground can't give otherwise. Braking comes first in a
// stance and pushing off last (Cavanagh & Lafortune 1980, J Biomech
// 13:397–406; from memory), so that the acceleration is lower early than late. And since
// the push is late, the beat of the steps comes up to half a step after that
// of the vertical. unclear where the two don't agree, or hardly show: an axis
// to the side swings with the strides, an upward one has no lag. up and
// forward are in g, crossings the rises of up through 1 g, in samples.
func bearingOf(up, forward []float64, rateHz, stepS float64, crossings []float64) bearing {
	v := signal.LowPass(forward, rateHz, forceHz)
	var pushes []float64
	sum := 0.0
	for i := 1; i < len(crossings); i++ {
		push := latePush(v, crossings[i-1], crossings[i])
		if math.IsNaN(push) {
			continue
		}
		pushes = append(pushes, push)
		sum += push
	}
	if len(pushes) < 4 || math.Abs(sum) < leastPush*float64(len(pushes)) {
		return unclear
	}
	way, same := math.Copysign(1, sum), 0
	for _, p := range pushes {
		if p*way > 0 {
			same++
		}
	}
	first := int(crossings[0])
	c, s := wave(forward[first:], rateHz, stepS)
	uc, us := wave(up[first:], rateHz, stepS)
	lag := math.Sin(math.Atan2(s, c) - math.Atan2(us, uc))
	if float64(same) < mostSteps*float64(len(pushes)) || way*lag < leastLag {
		return unclear
	}
	return bearing(way)
}

// latePush is how much higher a fore–aft axis is in the second half of a
// stance than early in it, in its own standard deviations over the step; from
// and to are the rises of the vertical that bound the step. NaN for an axis
// that doesn't move.
func latePush(v []float64, from, to float64) float64 {
	const (
		earlyTo            = 0.15
		lateFrom, lateUpTo = 0.25, 0.45
	)
	piece := func(a, b float64) []float64 {
		return v[int(from+a*(to-from)) : int(from+b*(to-from))+1]
	}
	_, sd := signal.MeanSD(v[int(from):int(to)])
	if !(sd > 1e-9) {
		return math.NaN()
	}
	return (mean(piece(lateFrom, lateUpTo)) - mean(piece(0, earlyTo))) / sd
}
