// Package scene takes a few still frames of a clip from package clip and the
// runner's boxes in them, and gives the camera's roll from the upright edges of
// the background: walls, door and window frames, posts.
//
// The way there: each frame is made smaller by whole-number averaging (plane.go);
// nearly upright edges are followed from row to row to a fraction of a pixel
// and cut into straight pieces (edge.go); pieces that lie on the grid of a
// video coder or are not there in most frames are left out (lasting.go); the
// rest must agree on one vanishing point of the vertical (fit.go).
package scene

import (
	"math"
	"slices"

	"plumbstride/internal/geom"
)

// Luma is one frame's brightness plane: the sample of column x and row y is
// Pix[y·Stride+x], 8 bits, of any range.
type Luma struct {
	Width, Height, Stride int
	Pix                   []byte
}

// Box is a part of the picture, pixels of the luma plane from its top left
// corner, y down. A box without area holds nothing.
type Box struct{ X0, Y0, X1, Y1 float64 }

func (b Box) holds(x, y float64) bool {
	return x >= b.X0 && x <= b.X1 && y >= b.Y0 && y <= b.Y1
}

const (
	smallestSide = 120 // pixels; smaller pictures say nothing
	poorestDeg   = 1.0 // standard uncertainty beyond which the roll is not known
	leastSDDeg   = 0.1 // the best that walls and lenses allow
)

// Level gives the camera's roll in degrees, clockwise positive: a level line is
// then seen falling to the right and an upright one leaning with its top to the
// right. The standard uncertainty sd, degrees, is 0.1 or more. It holds for
// −10…+10°. ok is false where the picture has too few upright edges, edges that
// contradict each other, or edges that a coder short of bits has bent; deg and sd are NaN then.
//
// The frames are some moments of one clip from a still or nearly still camera,
// all of one size; runner holds the part of each frame to be left out, or is
// nil. Level panics when the lengths of frames and runner differ, when frames
// differ in size and when a plane is shorter than its size says.
func Level(frames []Luma, runner []Box) (deg, sd float64, ok bool) {
	mustFit(frames, runner)
	if len(frames) == 0 || min(frames[0].Width, frames[0].Height) < smallestSide {
		return math.NaN(), math.NaN(), false
	}
	k := factorFor(frames[0].Width)
	l := lasting{w: float64(frames[0].Width / k), h: float64(frames[0].Height / k)}
	for i, f := range frames {
		var box Box
		if runner != nil {
			box = runner[i]
		}
		box = box.shrunk(k)
		l.add(shrink(f, k).pieces(box), box)
	}
	edges := l.edges()
	if l.blocky() || l.stepped(edges) {
		return math.NaN(), math.NaN(), false
	}
	edges = slices.DeleteFunc(edges, func(e edge) bool { return e.whole })
	v, ok := trusted(edges, l.w, l.h)
	if !ok {
		return math.NaN(), math.NaN(), false
	}
	return geom.Degrees(math.Atan(v.slope)), geom.Degrees(v.sd), true
}

func mustFit(frames []Luma, runner []Box) {
	if runner != nil && len(runner) != len(frames) {
		panic("scene: frames and boxes differ in number")
	}
	for _, f := range frames {
		if f.Width != frames[0].Width || f.Height != frames[0].Height {
			panic("scene: frames differ in size")
		}
		if f.Width < 0 || f.Height < 0 || f.Stride < f.Width {
			panic("scene: a plane's stride is less than its width")
		}
		if f.Height > 0 && len(f.Pix) < (f.Height-1)*f.Stride+f.Width {
			panic("scene: a plane is shorter than its size")
		}
	}
}
