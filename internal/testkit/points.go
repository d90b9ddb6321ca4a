package testkit

import (
	"math"
	"sort"

	"plumbstride/internal/form"
	"plumbstride/internal/geom"
)

// Places in the stride at which a point's error is told: so many in stance,
// from contact to toe-off, and so many from there to the next contact.
const (
	StanceKnots = 10
	StrideKnots = 24
)

// PointError is how far a point lies from its joint, in shares of the body's
// height, along its limb and across it (LimbAxis): on average at each place in
// the stride; what is left frame by frame, standard deviation of a coordinate,
// with its memory over a sixtieth of a second; and the share of frames in
// which it lies somewhere else, on the other leg say.
type PointError struct {
	Mean                 [StrideKnots]geom.Vec
	Noise, Memory, Gross float64
}

// At is the mean error at a place in the stride, 0 to StrideKnots.
func (e *PointError) At(knot float64) geom.Vec {
	k, u := int(knot), knot-math.Floor(knot)
	return e.Mean[k%StrideKnots].Scale(1 - u).Add(e.Mean[(k+1)%StrideKnots].Scale(u))
}

// StrideTimes are a side's contacts and toe-offs, seconds, in time order.
type StrideTimes struct{ On, Off []float64 }

// TimesOf takes a side's out of a list of events.
func TimesOf(events []form.Event, s form.Side) StrideTimes {
	var t StrideTimes
	for _, e := range events {
		switch {
		case e.Side != s:
		case e.Kind == form.Contact:
			t.On = append(t.On, e.Time)
		default:
			t.Off = append(t.Off, e.Time)
		}
	}
	return t
}

// CarriedOn goes on for two strides at both ends.
func (t StrideTimes) CarriedOn() StrideTimes {
	around := func(v []float64) []float64 {
		stride := (v[len(v)-1] - v[0]) / float64(len(v)-1)
		out := append([]float64{v[0] - 2*stride, v[0] - stride}, v...)
		return append(out, v[len(v)-1]+stride, v[len(v)-1]+2*stride)
	}
	return StrideTimes{around(t.On), around(t.Off)}
}

// Knot is a time's place in the stride, 0 to StrideKnots from the contact; ok
// is false where the stride is not there whole.
func (t StrideTimes) Knot(at float64) (knot float64, ok bool) {
	i := sort.Search(len(t.On), func(i int) bool { return t.On[i] > at }) - 1
	if i < 0 || i+1 >= len(t.On) {
		return 0, false
	}
	on, next := t.On[i], t.On[i+1]
	k := sort.SearchFloat64s(t.Off, on)
	if k >= len(t.Off) || t.Off[k] >= next {
		return 0, false
	}
	if off := t.Off[k]; at >= off {
		return StanceKnots + (StrideKnots-StanceKnots)*(at-off)/(next-off), true
	}
	return StanceKnots * (at - on) / (t.Off[k] - on), true
}

// Upright turns a vector of the picture (to the right and down) into one
// ahead and up of a runner who faces a side, the scene turned clockwise by
// rollDeg.
func Upright(v geom.Vec, facing form.Side, rollDeg float64) geom.Vec {
	sin, cos := math.Sincos(geom.Radians(rollDeg))
	return geom.Vec{X: ahead(facing) * (v.X*cos + v.Y*sin), Y: v.X*sin - v.Y*cos}
}

// Pictured is the inverse of Upright.
func Pictured(v geom.Vec, facing form.Side, rollDeg float64) geom.Vec {
	sin, cos := math.Sincos(geom.Radians(rollDeg))
	x, y := ahead(facing)*v.X, -v.Y
	return geom.Vec{X: x*cos - y*sin, Y: x*sin + y*cos}
}

func ahead(facing form.Side) float64 {
	if facing == form.Left {
		return -1
	}
	return 1
}

// limbs are the ends of the limb that a point is fixed to; trunk and head
// stay nearly upright.
var limbs = map[form.Point][2]form.Point{
	form.Heel: {form.Heel, form.Toe}, form.Toe: {form.Heel, form.Toe},
	form.Ankle: {form.Ankle, form.Knee}, form.Knee: {form.Knee, form.Hip},
	form.Elbow: {form.Elbow, form.Shoulder}, form.Wrist: {form.Wrist, form.Elbow},
}

// LimbAxis is the direction, ahead and up, of the limb that a joint is fixed
// to, in a frame of true joints: what a network makes of a joint stays more
// alike along it and across it than in the picture. ok is false where the limb
// is not there.
func LimbAxis(j form.Joint, f *form.Frame, facing form.Side, rollDeg float64) (axis geom.Vec, ok bool) {
	ends, limb := limbs[j.Point()]
	if !limb {
		return geom.Vec{X: 1}, true
	}
	a, b := f.Spot(ends[0], j.Side()), f.Spot(ends[1], j.Side())
	v := geom.Vec{X: b.X - a.X, Y: b.Y - a.Y}
	if !a.Seen() || !b.Seen() || v.Norm() == 0 {
		return geom.Vec{}, false
	}
	return Upright(v.Scale(1/v.Norm()), facing, rollDeg), true
}

// Along splits a vector into its parts along an axis and across it, to the
// left of it; Across is the way back.
func Along(v, axis geom.Vec) geom.Vec {
	return geom.Vec{X: v.X*axis.X + v.Y*axis.Y, Y: v.Y*axis.X - v.X*axis.Y}
}

// Across puts the parts along and across an axis together again.
func Across(v, axis geom.Vec) geom.Vec {
	return geom.Vec{X: v.X*axis.X - v.Y*axis.Y, Y: v.X*axis.Y + v.Y*axis.X}
}
