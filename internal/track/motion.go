package track

import (
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/geom"
	"plumbstride/internal/signal"
)

// Path is one joint over time: smoothed pixels (x to the right, y down) with
// derivatives, at the track's frames.
type Path struct {
	X, Y []signal.State
	// Noise is the robust standard deviation of the raw points about the
	// smoothed ones, pixels a coordinate.
	Noise float64
	// Weight is 0 where the raw point was missing or left out as an outlier,
	// else up to 1.
	Weight []float64
	// Outliers is how many raw points were left out.
	Outliers int
}

// Motion is a track smoothed: what the gait stage reads.
type Motion struct {
	Track form.Track
	Times []float64
	Paths [form.NumJoints]*Path // nil where a joint was hardly ever seen
}

// Cut-off frequencies in Hz of the smoother by point. The trunk and head
// move at twice the stride frequency and its first harmonics; the foot stops
// within a few hundredths of a second. Usual values 8–12 Hz for the body and
// 15–20 Hz for the foot (from memory, after Winter's textbook); residual
// analysis asks for less, and gains nothing (docs/studies/smoothing.md).
func cutoff(p form.Point) float64 {
	switch p {
	case form.Ankle, form.Heel, form.Toe:
		return 15
	case form.Knee, form.Elbow, form.Wrist:
		return 12
	default:
		return 9
	}
}

// maxGap is the longest time, seconds, over which a missing joint is
// interpolated: about a third of a step.
const maxGap = 0.12

// Smooth gives the track's joints smoothed over time, outliers left out.
// A joint seen in fewer than a fifth of the frames has no Path.
func Smooth(t form.Track) *Motion {
	m := &Motion{Track: t, Times: make([]float64, len(t.Frames))}
	for i := range t.Frames {
		m.Times[i] = t.Frames[i].Time
	}
	rate := nominalRate(t.Frames)
	floor := outlierFloor * bodySize(t)
	for j := range form.Joint(form.NumJoints) {
		m.Paths[j] = smoothJoint(t, m.Times, j, rate, floor)
	}
	return m
}

func smoothJoint(t form.Track, times []float64, j form.Joint, rate, floor float64) *Path {
	n := len(times)
	x, y, sd := make([]float64, n), make([]float64, n), make([]float64, n)
	p := &Path{Weight: make([]float64, n)}
	byHand := make([]bool, n)
	seen := 0
	for i := range t.Frames {
		s := t.Frames[i].Spots[j]
		x[i], y[i], sd[i] = s.X, s.Y, math.Inf(1)
		if s.Seen() {
			seen++
			p.Weight[i] = 1
			sd[i] = pointSD(s.Confidence)
		}
		if s.Seen() && t.Frames[i].ByHand.Has(j) {
			byHand[i], sd[i] = true, ByHandSD
		}
	}
	if seen < max(n/5, 3) {
		return nil
	}
	q := signal.JerkDensity(math.Min(cutoff(j.Point()), 0.4*rate), rate, 1)
	for range 3 { // leave out outliers, then smooth again
		p.X = signal.Smooth(times, x, sd, q)
		p.Y = signal.Smooth(times, y, sd, q)
		if p.X == nil {
			return nil
		}
		if !p.dropOutliers(x, y, sd, byHand, floor) {
			break
		}
	}
	return p
}

// pointSD is the relative noise of a point of a confidence (1 at full
// confidence); doubtful points count less, and never for nothing.
func pointSD(confidence float64) float64 {
	return math.Min(1/math.Max(confidence, 0.1), 5)
}

// ByHandSD is the noise of a point that a person placed, as a share of that
// of a point found with full confidence: a quarter, so that it counts as much
// as sixteen of those (common practice, no source).
const ByHandSD = 0.25

// outlierFloor is the distance from the smoothed path, as a share of the
// body's height in the picture, below which no point is an outlier: about
// 4 cm.
const outlierFloor = 0.025

// bodySize is the median height of the points' bounding box, pixels.
func bodySize(t form.Track) float64 {
	var heights []float64
	for i := range t.Frames {
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, s := range t.Frames[i].Spots {
			if s.Seen() {
				lo, hi = math.Min(lo, s.Y), math.Max(hi, s.Y)
			}
		}
		if hi > lo {
			heights = append(heights, hi-lo)
		}
	}
	if len(heights) == 0 {
		return 0
	}
	return signal.Median(heights)
}

// dropOutliers leaves out points further from the smoothed path than six
// robust standard deviations and floor pixels, and tells whether it left out any.
// What a person placed is never left out, and tells nothing of the noise.
func (p *Path) dropOutliers(x, y, sd []float64, byHand []bool, floor float64) bool {
	var rx, ry []float64
	for i := range x {
		if p.Weight[i] > 0 && !byHand[i] {
			rx = append(rx, x[i]-p.X[i].X)
			ry = append(ry, y[i]-p.Y[i].X)
		}
	}
	p.Noise = math.Sqrt((sq(signal.RobustSD(rx)) + sq(signal.RobustSD(ry))) / 2)
	limit := math.Max(6*p.Noise, floor)
	dropped := false
	for i := range x {
		if p.Weight[i] > 0 && !byHand[i] && math.Hypot(x[i]-p.X[i].X, y[i]-p.Y[i].X) > limit*pointSD(1/sd[i]) {
			p.Weight[i], sd[i] = 0, math.Inf(1)
			p.Outliers++
			dropped = true
		}
	}
	return dropped
}

func sq(v float64) float64 { return v * v }

// Spot gives a joint's smoothed place (pixels) at any time within the track;
// ok is false where the joint has no path or was missing for too long.
func (m *Motion) Spot(j form.Joint, t float64) (pos, vel geom.Vec, ok bool) {
	p := m.Paths[j]
	if p == nil || !m.covered(p, t) {
		return geom.Vec{}, geom.Vec{}, false
	}
	x := signal.Interpolate(m.Times, p.X, t)
	y := signal.Interpolate(m.Times, p.Y, t)
	return geom.Vec{X: x.X, Y: y.X}, geom.Vec{X: x.V, Y: y.V}, true
}

// covered tells whether raw points stand close enough on both sides of t.
func (m *Motion) covered(p *Path, t float64) bool {
	n := len(m.Times)
	i := 0
	for lo, hi := 0, n; lo < hi; {
		k := (lo + hi) / 2
		if m.Times[k] < t {
			lo = k + 1
		} else {
			hi = k
		}
		i = lo
	}
	before, after := math.Inf(-1), math.Inf(1)
	for k := min(i, n-1); k >= 0; k-- {
		if p.Weight[k] > 0 && m.Times[k] <= t {
			before = m.Times[k]
			break
		}
		if t-m.Times[k] > maxGap {
			break
		}
	}
	for k := max(i-1, 0); k < n; k++ {
		if p.Weight[k] > 0 && m.Times[k] >= t {
			after = m.Times[k]
			break
		}
		if m.Times[k]-t > maxGap {
			break
		}
	}
	edge := 0.02 // seconds beyond the first or last point
	switch {
	case math.IsInf(before, -1) && math.IsInf(after, 1):
		return false
	case math.IsInf(before, -1):
		return after-t <= edge
	case math.IsInf(after, 1):
		return t-before <= edge
	default:
		return after-before <= maxGap
	}
}
