package pose

import (
	"math"

	"plumbstride/internal/form"
)

// Which frames deserve a second look.
const (
	doubtScale = 3.5 // times a leg point's usual surprise
	doubtNear  = 1   // frames to each side of one that is in doubt
)

// doubtful tells which frames of a track as the network gave it are in doubt:
// those whose legs KeepSides would exchange, those in which a leg's point lies
// far from the middle of its neighbours in time, and the frames beside them.
func doubtful(raw form.Track) []bool {
	l := readLegs(raw)
	scale := l.surpriseScale()
	states := legStates(raw)
	n := len(states)
	found := make([]bool, n)
	mark := func(t int) {
		for k := max(0, t-doubtNear); k <= min(n-1, t+doubtNear); k++ {
			found[k] = true
		}
	}
	for t := range n {
		if states[t] != keptLegs {
			mark(t)
		}
		if t < 2 {
			continue
		}
		for side := range 2 {
			for i := range numLegPoints {
				d, ok := l.surprise(t, side, i, keptLegs, keptLegs, keptLegs)
				if ok && d > doubtScale*math.Max(scale[i], 0.02) {
					mark(t - 1) // the middle of the three
				}
			}
		}
	}
	return found
}
