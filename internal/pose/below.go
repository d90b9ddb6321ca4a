package pose

import (
	"fmt"
	"math"

	"plumbstride/internal/clip"
	"plumbstride/internal/form"
)

// Our own network looks at the legs from near by: the whole-body networks see
// a foot in a dozen pixels and put its points where people point at, not where
// the joints are. It gets a square around both legs, the runner facing right,
// with what the whole-body network took for each leg as a first guess.
const (
	legPixels   = 224  // pixels of the network's input
	legSquare   = 0.74 // side of the square against the body's height
	legDot      = 6.0  // spread of a first guess's soft dot, pixels
	lowSize     = 320  // pixels of the part of the frame kept for it
	lowSquare   = 0.99 // its side against the body's height
	lowBelow    = 0.25 // its middle below the mid-hip, likewise
	bodyHeight  = 0.70 // body's height against the side of a measured region
	legDoubt    = 5.0  // pixels: a point less sure than this stays as it was
	sideOnUpTo  = 0.40 // width of shoulders and hips against the trunk's length
	facingAbove = 0.04 // of the region's side: below it, facing is not clear
)

// legPointOf is the place of each of the network's points among the
// landmarks, left side; the ball of the foot is none of them.
var legPointOf = [6]int{23, 25, 27, 29, -1, 31}

// low is the part of a frame around the legs.
type low struct {
	pic    *picture
	region Region // in shown pixels
}

// legLook is what the leg network made of a frame.
type legLook struct {
	// at holds x and y in shown pixels and the scale of their error, by the
	// runner's own side.
	at [2][6]struct{ x, y, b float64 }
}

// cutLow cuts the legs' part out of a frame, upright, given the region around
// the body in the frame's pixels.
func cutLow(s *sampler, f *clip.Frame, body Region) *low {
	height := bodyHeight * body.Side
	r := Region{X: body.X, Y: body.Y + lowBelow*height, Side: lowSquare * height}
	l := &low{pic: newPicture(lowSize), region: r.Scaled(f.Scale)}
	s.sample(f, r, l.pic)
	return l
}

// legSession is one session of the leg network with its scratch memory.
type legSession struct {
	session Session
	input   []float32
	small   *picture
	cut     *sampler
	tint    palette
	rows    []float32
}

func openLegs(nets Networks) (*legSession, error) {
	s, err := nets.Open("legs")
	if err != nil {
		return nil, fmt.Errorf("open the network legs: %w", err)
	}
	return &legSession{
		session: s, input: make([]float32, 5*legPixels*legPixels), small: newPicture(legPixels),
		cut: newSampler(), tint: palette{low: 0, high: 1}, rows: make([]float32, 3*legPixels*legPixels),
	}, nil
}

func (l *legSession) close() { _ = l.session.Close() } // it only fails when closed before

// look runs the network on a crop whose body was found, and lets go of the
// legs' part of the frame.
func (l *legSession) look(c *Crop) error {
	part := c.low
	if part == nil || c.seen == nil {
		return nil
	}
	c.low = nil
	facing := c.seen.facing()
	if c.seen.presence < presentAbove || facing == 0 {
		return nil
	}
	guess := c.guesses()
	square := squareAround(guess, c.Region.Side*bodyHeight*legSquare)
	l.fill(part, square, guess, facing)
	out, err := l.session.Run(l.input)
	if err != nil {
		return fmt.Errorf("look at the legs of frame %d: %w", c.Frame, err)
	}
	points := out["points"]
	if len(points) != 2*6*3 {
		return fmt.Errorf("look at the legs of frame %d: %d values where 36 are wanted", c.Frame, len(points))
	}
	look := &legLook{}
	for leg := range 2 {
		side := sideNear(facing, leg)
		for i := range 6 {
			v := points[(leg*6+i)*3:]
			x, y, b := float64(v[0]), float64(v[1]), float64(v[2])
			if !finite(x) || !finite(y) || !finite(b) {
				return fmt.Errorf("look at the legs of frame %d: a point that is not a number", c.Frame)
			}
			if facing < 0 {
				x = legPixels - x
			}
			p := &look.at[side][i]
			p.x, p.y = square.At(x/legPixels, y/legPixels)
			p.b = b
		}
	}
	c.legs = look
	return nil
}

// sideNear gives the runner's side, 0 left and 1 right, of the near leg (0)
// or the far one (1): who runs to the right shows the right side.
func sideNear(facing, leg int) int {
	if facing > 0 {
		return 1 - leg
	}
	return leg
}

// facing tells which way a body seen from the side faces: +1 to the right,
// −1 to the left, 0 where that is not clear.
func (b *body) facing() int {
	x := func(i int) float64 { return b.points[i].x }
	ahead := x(31) - x(29) + x(32) - x(30) + 2*(x(0)-(x(7)+x(8))/2)
	switch {
	case ahead > facingAbove:
		return 1
	case ahead < -facingAbove:
		return -1
	default:
		return 0
	}
}

// guesses are the legs' points of the whole-body network in shown pixels, by
// side, in the order of legPointOf.
func (c *Crop) guesses() (out [2][6]struct{ x, y float64 }) {
	for side := range 2 {
		for i, k := range legPointOf {
			if k >= 0 {
				out[side][i].x, out[side][i].y = c.place(c.seen.points[k+side])
			}
		}
	}
	return out
}

// squareAround is the upright square about the middle of all guesses.
func squareAround(g [2][6]struct{ x, y float64 }, side float64) Region {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, leg := range g {
		for i, p := range leg {
			if legPointOf[i] >= 0 {
				x0, x1, y0, y1 = math.Min(x0, p.x), math.Max(x1, p.x), math.Min(y0, p.y), math.Max(y1, p.y)
			}
		}
	}
	return Region{X: (x0 + x1) / 2, Y: (y0 + y1) / 2, Side: side}
}

// fill writes the network's input: colours in planes, then the soft dots of
// the near and the far leg; turned over where the runner faces left.
func (l *legSession) fill(part *low, square Region, guess [2][6]struct{ x, y float64 }, facing int) {
	p := part.pic
	l.small.full, l.small.bt709 = p.full, p.bt709
	inside := square.Scaled(float64(p.size) / part.region.Side)
	k := float64(p.size) / part.region.Side
	inside.X = (square.X - part.region.X + part.region.Side/2) * k
	inside.Y = (square.Y - part.region.Y + part.region.Side/2) * k
	black := byte(16)
	if p.full {
		black = 0
	}
	half := p.size / 2
	l.cut.samplePlane(plane{pix: p.y, stride: p.size, w: p.size, h: p.size}, inside, l.small.y, legPixels, black)
	l.cut.samplePlane(plane{pix: p.cb, stride: half, w: half, h: half}, inside.Scaled(0.5), l.small.cb, legPixels/2, 128)
	l.cut.samplePlane(plane{pix: p.cr, stride: half, w: half, h: half}, inside.Scaled(0.5), l.small.cr, legPixels/2, 128)
	l.tint.fill(l.rows, l.small)
	const n = legPixels
	for j := range n {
		for i := range n {
			from := j*n + i
			if facing < 0 {
				from = j*n + n - 1 - i
			}
			for c := range 3 {
				l.input[c*n*n+j*n+i] = l.rows[3*from+c]
			}
		}
	}
	dots := l.input[3*n*n:]
	clear(dots)
	for leg := range 2 {
		for i, g := range guess[sideNear(facing, leg)] {
			if legPointOf[i] < 0 {
				continue
			}
			u, v := square.Inverse(g.x, g.y)
			if facing < 0 {
				u = 1 - u
			}
			dot(dots[leg*n*n:(leg+1)*n*n], u*n, v*n)
		}
	}
}

// dot raises a map to a soft dot of height 1 about x, y.
func dot(m []float32, x, y float64) {
	const n, reach = legPixels, 4 * legDot
	for j := max(0, int(y-reach)); j < min(n, int(y+reach)+1); j++ {
		for i := max(0, int(x-reach)); i < min(n, int(x+reach)+1); i++ {
			dx, dy := float64(i)+0.5-x, float64(j)+0.5-y
			if h := float32(math.Exp(-(dx*dx + dy*dy) / (2 * legDot * legDot))); h > m[j*n+i] {
				m[j*n+i] = h
			}
		}
	}
}

// placeLegs puts the leg network's points into the frame wherever it is sure
// of them, and tells whether it had a look at all.
func (c *Crop) placeLegs(f *form.Frame) bool {
	if c.legs == nil {
		return false
	}
	for side := range 2 {
		for i, p := range c.legs.at[side] {
			if legPointOf[i] < 0 || p.b > legDoubt {
				continue
			}
			s := &f.Spots[legJoint[side][i]]
			s.X, s.Y = p.x, p.y
		}
	}
	return true
}

// dropLegs leaves the legs of a frame unseen: the whole-body network's points
// lie elsewhere, and a gap costs less than a mean of both.
func dropLegs(f *form.Frame) {
	for _, leg := range legJoint {
		for _, j := range leg {
			f.Spots[j] = form.Spot{}
		}
	}
}

// legJoint is the joint of each of the leg network's points, left and right.
var legJoint = func() (of [2][6]form.Joint) {
	for k, side := range [2]form.Side{form.Left, form.Right} {
		for i, p := range [6]form.Point{form.Hip, form.Knee, form.Ankle, form.Heel, form.Heel, form.Toe} {
			of[k][i] = form.At(p, side)
		}
	}
	return of
}()

// mostLegs is the share of the frames with a body in which the leg network
// must have had a look for its points to be used. In the others the legs are
// then unseen, for two networks' points hardly mix.
const mostLegs = 0.6

// legsCount tells whether the leg network's points are to be used: it looked
// at most frames, and the body is mostly seen from the side, shoulders and
// hips narrow against the trunk. The leg network knows no other view.
func legsCount(crops []*Crop) bool {
	var widths []float64
	looks := 0
	for _, c := range crops {
		if c == nil || c.seen == nil || c.seen.presence < presentAbove {
			continue
		}
		if c.legs != nil {
			looks++
		}
		p := &c.seen.points
		trunk := math.Hypot((p[11].x+p[12].x-p[23].x-p[24].x)/2, (p[11].y+p[12].y-p[23].y-p[24].y)/2)
		if trunk > 0 {
			widths = append(widths, (math.Abs(p[11].x-p[12].x)+math.Abs(p[23].x-p[24].x))/2/trunk)
		}
	}
	return looks > 0 && float64(looks) >= mostLegs*float64(len(widths)) && quantile(widths, 0.5) < sideOnUpTo
}
