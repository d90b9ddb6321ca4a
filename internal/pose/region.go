package pose

import "math"

// Region is a square of the picture that a network looks at: its centre and
// side in pixels (x to the right, y down, the first pixel's centre at 0.5,
// 0.5) and the angle, in radians and clockwise as shown, by which its upright
// axis leans from the picture's. A Region with Side 0 is none.
type Region struct {
	X, Y, Side, Angle float64
}

// None tells whether there is no region at all.
func (r Region) None() bool { return r.Side <= 0 }

// At gives the picture's pixel at the place u, v of the square, both from 0
// (left, top) to 1 (right, bottom).
func (r Region) At(u, v float64) (x, y float64) {
	s, c := math.Sincos(r.Angle)
	du, dv := (u-0.5)*r.Side, (v-0.5)*r.Side
	return r.X + du*c - dv*s, r.Y + du*s + dv*c
}

// Inverse gives the place u, v in the square of a pixel of the picture; it
// undoes At. The Region must not be None.
func (r Region) Inverse(x, y float64) (u, v float64) {
	s, c := math.Sincos(r.Angle)
	dx, dy := x-r.X, y-r.Y
	return 0.5 + (dx*c+dy*s)/r.Side, 0.5 + (-dx*s+dy*c)/r.Side
}

// Scaled gives the same square in a picture enlarged by k.
func (r Region) Scaled(k float64) Region {
	return Region{X: r.X * k, Y: r.Y * k, Side: r.Side * k, Angle: r.Angle}
}

// bodyFactor is the side of a region over the distance from the mid-hip to
// the point that marks the whole body's size (the circle's radius around the
// body, doubled, with a quarter more around it).
const bodyFactor = 2.5

// measureFactor is the same for the squares that are measured: the light
// network, which follows, sees a body 3 to 4 % smaller than the measuring ones
// do, so that this is the square they would choose themselves. In the study
// it halves the exchanges of the legs against bodyFactor.
const measureFactor = 2.6

// regionFromBody gives the region around a body from its mid-hip x0, y0 and
// its size point x1, y1, which lies above the head of an upright body:
// side factor·|p1−p0|, turned so that p0→p1 points up in it.
func regionFromBody(x0, y0, x1, y1, factor float64) Region {
	dx, dy := x1-x0, y1-y0
	return Region{
		X: x0, Y: y0,
		Side:  factor * math.Hypot(dx, dy),
		Angle: wrapAngle(math.Pi/2 - math.Atan2(-dy, dx)),
	}
}

// wrapAngle brings an angle into [−π, π).
func wrapAngle(a float64) float64 {
	return a - 2*math.Pi*math.Floor((a+math.Pi)/(2*math.Pi))
}

// letterbox is the square around a whole picture of w × h pixels.
func letterbox(w, h int) Region {
	return Region{X: float64(w) / 2, Y: float64(h) / 2, Side: float64(max(w, h))}
}
