package pose

import (
	"math"
	"sort"

	"plumbstride/internal/form"
)

// Repair tells what KeepSides changed.
type Repair struct {
	// Frames counts the frames in which leg points were exchanged back.
	Frames int
	// Share is Frames over the frames in which both ankles were seen.
	Share float64
}

// The leg points that networks exchange, from the knee down.
var legPoints = [...]form.Point{form.Knee, form.Ankle, form.Heel, form.Toe}

const numLegPoints = len(legPoints)

// How the two legs' points may be exchanged in one frame: not at all, below
// the knees, or knees and all below.
const (
	keptLegs = iota
	exchangedFeet
	exchangedLegs
	numExchanges
)

// exchanged tells whether a leg point (by its place in legPoints) changes
// sides in a state.
func exchanged(state, point int) bool {
	return state == exchangedLegs || state == exchangedFeet && point > 0
}

// Costs of the repair, in squared standard deviations. A frame counts as
// exchanged only where motion and rhythm speak against the network's sides by
// more than chance: each exchanged frame costs framePrior, each change of
// state changePrior, and no single point can say more than residualCap.
const (
	framePrior   = 3
	changePrior  = 8
	residualCap  = 9
	rhythmWeight = 0.7
	motionWeight = 0.5 // points of one foot err together
	longestStep  = 0.1 // s; no motion is predicted over longer gaps
	sidesSpan    = 4   // s; the rhythm is fitted to pieces of about this length
)

// KeepSides gives the track with the runner's left and right leg kept apart:
// where a network exchanged the legs for some frames, knees, ankles, heels
// and toes are exchanged back. The exchange in each frame is the most
// probable sequence of states (Viterbi 1967) under three costs: how far each
// point lies from where its last two places lead it; how far the vector
// between the legs lies from its own rhythm over the strides around (a
// Fourier series at the stride frequency, fitted with Tukey's weights); and
// the prior that networks are mostly right. The track's own labels stay
// wherever they are not clearly contradicted. The input is not changed.
func KeepSides(track form.Track) (form.Track, Repair) {
	out := track
	out.Frames = append([]form.Frame(nil), track.Frames...)
	return out, exchangeLegs(out.Frames, legStates(track))
}

// legStates gives the most probable state of each frame.
func legStates(track form.Track) []int {
	l := readLegs(track)
	states := make([]int, len(track.Frames))
	for range 2 { // the rhythm is fitted again to the repaired sides
		states = l.bestStates(l.rhythm(states))
	}
	return states
}

// exchangeLegs carries out the states on the frames.
func exchangeLegs(frames []form.Frame, states []int) Repair {
	var repair Repair
	both := 0
	for t := range frames {
		f := &frames[t]
		if f.Spot(form.Ankle, form.Left).Seen() && f.Spot(form.Ankle, form.Right).Seen() {
			both++
		}
		if states[t] == keptLegs {
			continue
		}
		repair.Frames++
		exchangeJoints(&f.Spots, states[t])
	}
	if both > 0 {
		repair.Share = float64(repair.Frames) / float64(both)
	}
	return repair
}

// exchangeJoints exchanges one frame's values of left and right leg.
func exchangeJoints[T any](joints *[form.NumJoints]T, state int) {
	for i, p := range legPoints {
		if exchanged(state, i) {
			a, b := form.At(p, form.Left), form.At(p, form.Right)
			joints[a], joints[b] = joints[b], joints[a]
		}
	}
}

// vec is a place in the picture relative to the hips; ok is false where the
// point was not seen.
type vec struct {
	x, y float64
	ok   bool
}

func (a vec) to(b vec) vec { return vec{b.x - a.x, b.y - a.y, a.ok && b.ok} }

// legs is the part of a track that the repair works on: time in seconds,
// places relative to the mid-hip over the leg's length in the picture.
type legs struct {
	time []float64
	at   [][2][numLegPoints]vec // frame, left or right, point
}

func readLegs(track form.Track) legs {
	size := legSize(track)
	l := legs{time: make([]float64, len(track.Frames)), at: make([][2][numLegPoints]vec, len(track.Frames))}
	for t := range track.Frames {
		f := &track.Frames[t]
		l.time[t] = f.Time
		left, right := f.Spot(form.Hip, form.Left), f.Spot(form.Hip, form.Right)
		if !left.Seen() || !right.Seen() || size <= 0 {
			continue
		}
		hipX, hipY := (left.X+right.X)/2, (left.Y+right.Y)/2
		for s, side := range [2]form.Side{form.Left, form.Right} {
			for i, p := range legPoints {
				if spot := f.Spot(p, side); spot.Seen() {
					l.at[t][s][i] = vec{(spot.X - hipX) / size, (spot.Y - hipY) / size, true}
				}
			}
		}
	}
	return l
}

// legSize is the upper quartile of hip–knee + knee–ankle in pixels.
func legSize(track form.Track) float64 {
	var lengths []float64
	for t := range track.Frames {
		for _, side := range [2]form.Side{form.Left, form.Right} {
			f := &track.Frames[t]
			hip, knee, ankle := f.Spot(form.Hip, side), f.Spot(form.Knee, side), f.Spot(form.Ankle, side)
			if hip.Seen() && knee.Seen() && ankle.Seen() {
				lengths = append(lengths, math.Hypot(hip.X-knee.X, hip.Y-knee.Y)+math.Hypot(knee.X-ankle.X, knee.Y-ankle.Y))
			}
		}
	}
	return quantile(lengths, 0.75)
}

// place gives a point of a side when the frame is in a state.
func (l *legs) place(t, side, point, state int) vec {
	if exchanged(state, point) {
		side = 1 - side
	}
	return l.at[t][side][point]
}

// surprise is the distance of a point from where its last two places lead.
func (l *legs) surprise(t, side, point, s0, s1, s2 int) (float64, bool) {
	d1, d2 := l.time[t]-l.time[t-1], l.time[t-1]-l.time[t-2]
	if d1 <= 0 || d2 <= 0 || d1 > longestStep || d2 > longestStep {
		return 0, false
	}
	x0, x1, x2 := l.place(t, side, point, s0), l.place(t-1, side, point, s1), l.place(t-2, side, point, s2)
	if !x0.ok || !x1.ok || !x2.ok {
		return 0, false
	}
	r := d1 / d2
	return math.Hypot(x0.x-x1.x-(x1.x-x2.x)*r, x0.y-x1.y-(x1.y-x2.y)*r), true
}

// surpriseScale is the usual size of each point's surprise with the sides as
// they are: its upper quartile, so that the swing's accelerations count as
// usual; at least a hundredth of the leg.
func (l *legs) surpriseScale() (scale [numLegPoints]float64) {
	for i := range scale {
		var all []float64
		for t := 2; t < len(l.time); t++ {
			for side := range 2 {
				if d, ok := l.surprise(t, side, i, keptLegs, keptLegs, keptLegs); ok {
					all = append(all, d)
				}
			}
		}
		scale[i] = math.Max(0.01, quantile(all, 0.75)/1.15)
	}
	return scale
}

// bestStates runs the Viterbi search over pairs of successive states; rhythm
// holds each frame's cost of each state.
func (l *legs) bestStates(rhythm [][numExchanges]float64) []int {
	n := len(l.time)
	states := make([]int, n)
	if n == 0 {
		return states
	}
	const pairs = numExchanges * numExchanges // (state before, state now)
	scale := l.surpriseScale()
	cost := [pairs]float64{}
	back := make([][pairs]int8, n)
	for s := range pairs {
		cost[s] = stateCost(rhythm[0], s%numExchanges)
		if s/numExchanges != keptLegs { // before the first frame there is no state
			cost[s] = math.Inf(1)
		}
	}
	for t := 1; t < n; t++ {
		var next [pairs]float64
		for pair := range next {
			s1, s0 := pair/numExchanges, pair%numExchanges
			best, from := math.Inf(1), 0
			for s2 := range numExchanges {
				c := cost[s2*numExchanges+s1] + l.motionCost(t, s0, s1, s2, scale)
				if c < best {
					best, from = c, s2
				}
			}
			next[pair] = best + stateCost(rhythm[t], s0)
			if s0 != s1 {
				next[pair] += changePrior
			}
			back[t][pair] = int8(from)
		}
		cost = next
	}
	last := 0
	for pair := range cost {
		if cost[pair] < cost[last] {
			last = pair
		}
	}
	for t := n - 1; t >= 0; t-- {
		states[t] = last % numExchanges
		last = int(back[t][last])*numExchanges + last/numExchanges
	}
	return states
}

func stateCost(rhythm [numExchanges]float64, s int) float64 {
	c := rhythm[s]
	if s != keptLegs {
		c += framePrior
	}
	return c
}

// motionCost is the sum of capped squared surprises over both legs' points.
// A point that was not seen says nothing for or against.
func (l *legs) motionCost(t, s0, s1, s2 int, scale [numLegPoints]float64) float64 {
	if t < 2 {
		return 0
	}
	sum := 0.0
	for side := range 2 {
		for i := range numLegPoints {
			if d, ok := l.surprise(t, side, i, s0, s1, s2); ok {
				sum += math.Min(d*d/(scale[i]*scale[i]), residualCap)
			} else {
				sum++
			}
		}
	}
	return motionWeight * sum
}

// quantile gives the q-quantile of values (0 for none), sorting a copy.
func quantile(values []float64, q float64) float64 {
	if len(values) == 0 {
		return 0
	}
	sorted := append([]float64(nil), values...)
	sort.Float64s(sorted)
	at := q * float64(len(sorted)-1)
	i := int(at)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}
