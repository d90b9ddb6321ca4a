// Package geom takes points of the sagittal plane from the stages (X forward,
// Y up, metres) and gives lengths and angles between them, in degrees.
package geom

import "math"

// Vec is a point or a displacement.
type Vec struct{ X, Y float64 }

// Add gives a + b.
func (a Vec) Add(b Vec) Vec { return Vec{a.X + b.X, a.Y + b.Y} }

// Sub gives a − b.
func (a Vec) Sub(b Vec) Vec { return Vec{a.X - b.X, a.Y - b.Y} }

// Scale gives k·a.
func (a Vec) Scale(k float64) Vec { return Vec{k * a.X, k * a.Y} }

// Norm gives |a|.
func (a Vec) Norm() float64 { return math.Hypot(a.X, a.Y) }

// Mid gives the point halfway between a and b.
func Mid(a, b Vec) Vec { return a.Add(b).Scale(0.5) }

// Degrees turns radians into degrees.
func Degrees(rad float64) float64 { return rad * 180 / math.Pi }

// Radians turns degrees into radians.
func Radians(deg float64) float64 { return deg * math.Pi / 180 }

// Lean gives the angle of the line from low to high to the vertical,
// degrees, positive when high lies forward of low: atan2(Δx, Δy).
func Lean(low, high Vec) float64 {
	d := high.Sub(low)
	return Degrees(math.Atan2(d.X, d.Y))
}

// Slope gives the angle of the line from a to b to the horizontal, degrees,
// positive when b is higher: atan2(Δy, Δx).
func Slope(a, b Vec) float64 {
	d := b.Sub(a)
	return Degrees(math.Atan2(d.Y, d.X))
}

// Flexion gives 180° minus the angle at joint between the lines to upper and
// lower, signed: positive when the joint bends as a knee does in a runner
// who faces +X (lower segment turned backward), negative when hyperextended.
//
// With u = joint − upper and l = lower − joint it is atan2(u × l, u·l)
// turned so that flexion is positive.
func Flexion(upper, joint, lower Vec) float64 {
	u, l := joint.Sub(upper), lower.Sub(joint)
	cross := u.X*l.Y - u.Y*l.X
	dot := u.X*l.X + u.Y*l.Y
	return -Degrees(math.Atan2(cross, dot))
}

// Wrap brings an angle in degrees into (−180, 180].
func Wrap(deg float64) float64 {
	d := math.Mod(deg, 360)
	switch {
	case d <= -180:
		return d + 360
	case d > 180:
		return d - 360
	default:
		return d
	}
}
