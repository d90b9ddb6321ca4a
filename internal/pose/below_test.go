package pose

import (
	"math"
	"testing"

	"plumbstride/internal/form"
)

// toldLegs is a leg network that keeps what it is shown and gives the points
// that it was told.
type toldLegs struct {
	shown  []float32
	points []float32
}

func (l *toldLegs) Run(image []float32) (map[string][]float32, error) {
	l.shown = append([]float32(nil), image...)
	return map[string][]float32{"points": l.points}, nil
}

func (l *toldLegs) Close() error { return nil }

type toldNetworks struct{ legs *toldLegs }

func (n toldNetworks) Open(string) (Session, error) { return n.legs, nil }

// legCrop is a runner who faces right in a frame 960 wide, or the mirror
// image of that frame, with a picture of waves in luma and chroma.
func legCrop(mirrored bool) *Crop {
	b := body{presence: 1}
	for i, p := range map[int][2]float64{
		0: {0.53, 0.2}, 7: {0.5, 0.2}, 8: {0.5, 0.2}, 11: {0.51, 0.3}, 12: {0.49, 0.3},
		23: {0.49, 0.5}, 25: {0.52, 0.62}, 27: {0.47, 0.73}, 29: {0.46, 0.75}, 31: {0.51, 0.76}, // left, far
		24: {0.50, 0.5}, 26: {0.47, 0.62}, 28: {0.40, 0.70}, 30: {0.38, 0.69}, 32: {0.42, 0.74}, // right, near
	} {
		b.points[i] = landmark{x: p[0], y: p[1], visible: 1, present: 1, peak: 1}
	}
	at := 430.0
	if mirrored {
		b, at = b.mirrored(), 960-at
	}
	c := &Crop{Region: Region{X: at, Y: 250, Side: 480}, scale: 1, seen: &b}
	height := bodyHeight * c.Region.Side
	c.low = &low{pic: newPicture(lowSize), region: Region{X: at, Y: 250 + lowBelow*height, Side: lowSquare * height}}
	wave := func(dst []byte, n int, k float64) {
		for j := range n {
			for i := range n {
				x := (float64(i) + 0.5) / float64(n)
				if mirrored {
					x = 1 - x
				}
				dst[j*n+i] = byte(128 + 60*math.Sin(k*x)*math.Cos(9*(float64(j)+0.5)/float64(n)))
			}
		}
	}
	wave(c.low.pic.y, lowSize, 17)
	wave(c.low.pic.cb, lowSize/2, 11)
	wave(c.low.pic.cr, lowSize/2, 7)
	return c
}

// The mirror image of a frame shows the network the same, runner and first
// guesses, and its points go to the mirrored places of the other side.
func TestLegsOfAMirroredFrame(t *testing.T) {
	net := &toldLegs{points: make([]float32, 36)}
	for i := range net.points {
		net.points[i] = float32(20 + 5*i)
	}
	l, err := openLegs(toldNetworks{net})
	if err != nil {
		t.Fatal(err)
	}
	a, b := legCrop(false), legCrop(true)
	if a.seen.facing() != 1 || b.seen.facing() != -1 {
		t.Fatalf("they face %d and %d", a.seen.facing(), b.seen.facing())
	}
	if err := l.look(a); err != nil {
		t.Fatal(err)
	}
	first := net.shown
	if err := l.look(b); err != nil {
		t.Fatal(err)
	}
	for i, v := range first {
		if math.Abs(float64(v-net.shown[i])) > 0.03 {
			t.Fatalf("plane %d, row %d, column %d: %.3f and %.3f", i/legPixels/legPixels, i/legPixels%legPixels, i%legPixels, v, net.shown[i])
		}
	}
	for side := range 2 {
		for i, p := range a.legs.at[side] {
			q := b.legs.at[1-side][i]
			if math.Abs(960-q.x-p.x) > 1e-6 || math.Abs(q.y-p.y) > 1e-6 || q.b != p.b {
				t.Errorf("point %d of side %d at %.2f, %.2f, mirrored at %.2f, %.2f", i, side, p.x, p.y, 960-q.x, q.y)
			}
		}
	}
	// Who faces right shows the right leg: the network's first point is its hip.
	square := squareAround(a.guesses(), a.Region.Side*bodyHeight*legSquare)
	if x, y := square.At(20.0/legPixels, 25.0/legPixels); a.legs.at[1][0].x != x || a.legs.at[1][0].y != y {
		t.Errorf("the near hip is not the right one: %+v, want %.2f, %.2f", a.legs.at[1][0], x, y)
	}
	if a.low != nil {
		t.Error("the part of the frame is kept after the look")
	}
}

// A first guess's soft dot stands where the network is to find the point: a
// network that answers with its dots' middles leaves them where they are.
func TestLegsFirstGuess(t *testing.T) {
	net := &toldLegs{points: make([]float32, 36)}
	l, err := openLegs(toldNetworks{net})
	if err != nil {
		t.Fatal(err)
	}
	for _, mirrored := range []bool{false, true} {
		c := legCrop(mirrored)
		if err := l.look(c); err != nil {
			t.Fatal(err)
		}
		square := squareAround(c.guesses(), c.Region.Side*bodyHeight*legSquare)
		for side, leg := range c.guesses() {
			plane := 3 // of the near leg
			if (side == 1) == mirrored {
				plane = 4
			}
			for i, k := range legPointOf {
				if k < 0 {
					continue
				}
				u, v := square.Inverse(leg[i].x, leg[i].y)
				if mirrored {
					u = 1 - u
				}
				col, row := int(u*legPixels), int(v*legPixels)
				if h := net.shown[plane*legPixels*legPixels+row*legPixels+col]; h < 0.98 {
					t.Errorf("mirrored %v, side %d, point %d: %.2f where its dot should be", mirrored, side, i, h)
				}
			}
		}
	}
}

// Points that the network is not sure of stay the whole-body network's, and
// so does all of a body that is not seen from the side.
func TestLegsThatCount(t *testing.T) {
	c := legCrop(false)
	c.legs = &legLook{}
	c.legs.at[0][1].x, c.legs.at[0][2].x, c.legs.at[0][2].b = 7, 8, legDoubt+1
	f := c.frame(0)
	knee, ankle := f.Spot(form.Knee, form.Left), f.Spot(form.Ankle, form.Left)
	if !c.placeLegs(&f) || f.Spot(form.Knee, form.Left).X != 7 || f.Spot(form.Ankle, form.Left).X != ankle.X || knee.X == 7 {
		t.Errorf("knee %+v, ankle %+v", f.Spot(form.Knee, form.Left), f.Spot(form.Ankle, form.Left))
	}
	blind := legCrop(false)
	if !legsCount([]*Crop{c, c, blind}) || legsCount([]*Crop{c, blind}) {
		t.Error("a look at two frames of three counts, at one of two it does not")
	}
	wide := legCrop(false)
	wide.legs = c.legs
	wide.seen.points[11].x += 0.1
	wide.seen.points[12].x -= 0.1
	if legsCount([]*Crop{wide, wide}) {
		t.Error("shoulders as wide as from the front, and the legs count")
	}
}

// Where the legs are the leg network's, a frame without its look has none.
func TestLegsDoNotMix(t *testing.T) {
	seen, blind := legCrop(false), legCrop(false)
	seen.legs = &legLook{}
	for side := range seen.legs.at {
		for i := range seen.legs.at[side] {
			seen.legs.at[side][i].x, seen.legs.at[side][i].y = 400+float64(10*i), 300
		}
	}
	for _, c := range []struct {
		crops []*Crop
		looks int
		legs  bool // in the frame without a look
	}{
		{[]*Crop{seen, blind, seen}, 2, false}, {[]*Crop{seen, blind, blind}, 0, true},
	} {
		r := &Result{crops: c.crops, Net: make([]string, 3), Depth: make([][form.NumJoints][3]float64, 3)}
		r.raw = form.Track{Width: 960, Height: 540, Frames: []form.Frame{{Time: 0}, {Time: 0.02}, {Time: 0.04}}}
		r.assemble()
		f := &r.Track.Frames[1]
		for _, p := range []form.Point{form.Hip, form.Knee, form.Ankle, form.Heel, form.Toe} {
			if f.Spot(p, form.Left).Seen() != c.legs || f.Spot(p, form.Right).Seen() != c.legs {
				t.Errorf("with %d looks: %s %+v", c.looks, p, f.Spot(p, form.Left))
			}
		}
		if r.LegFrames != c.looks || !f.Spots[0].Seen() || r.NoPersonFrames != 0 {
			t.Errorf("%d frames are the leg network's, %d without a person", r.LegFrames, r.NoPersonFrames)
		}
	}
}
