package beside

import (
	"image"
	"image/color"
	"math"
	"slices"

	"golang.org/x/image/draw"
	"golang.org/x/image/math/f64"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/geom"
)

// Still is a picture of a run: the frame it shows, by the clip's own time,
// and where a place of the track lies in it.
type Still struct {
	Side  form.Side
	TimeS float64
	Place card.Place
	Image image.Image
}

// Run is what the pictures of one check are made from. Without stills the
// lines stand alone.
type Run struct {
	Card   card.Card
	Track  form.Track
	Stills []Still
}

// Moment is both runs at one phase of the near foot's stride: before, after,
// and one over the other.
type Moment struct {
	Phase string // as in package card: "initial contact"
	Image *image.RGBA
}

// Phases are the moments that are shown.
func Phases() []string { return []string{card.InitialContact, card.MidStance, card.ToeOff} }

// The panels, in pixels and metres: all are drawn at one scale, the runner's
// near hip over the middle and the near foot on the ground line.
const (
	pxPerM      = 270.0
	panelWide   = 440
	panelTall   = 560
	gap         = 12
	groundDrop  = 34.0 // of the ground over the lower edge
	leastMPerPx = 1e-5
)

var (
	paper  = color.RGBA{0xfc, 0xfa, 0xf5, 0xff}
	dark   = color.RGBA{0x1f, 0x1d, 0x1a, 0xff}
	light  = color.RGBA{0xff, 0xff, 0xff, 0xff}
	accent = color.RGBA{0x1f, 0x4d, 0x8f, 0xff}
)

// Moments draws both runs at each phase that both have. There are none where
// the runner turned different sides to the camera, or a scale or a track is
// lacking.
func Moments(before, after Run) []Moment {
	if before.Card.Clip.Facing != after.Card.Clip.Facing || before.Card.Kind == card.Standing {
		return nil
	}
	var out []Moment
	for _, phase := range Phases() {
		b, ok1 := before.shot(phase)
		a, ok2 := after.shot(phase)
		if ok1 && ok2 {
			out = append(out, Moment{phase, moment(b, a)})
		}
	}
	return out
}

// shot is one run at one phase: the frame's points and its picture, and the
// way from the track's pixels to the panel's.
type shot struct {
	frame form.Frame
	near  form.Side
	still *Still
	to    card.Place
}

func (r Run) shot(phase string) (shot, bool) {
	near, err := form.ParseSide(r.Card.Clip.Facing)
	if err != nil || near != form.Left && near != form.Right || len(r.Track.Frames) == 0 {
		return shot{}, false
	}
	s := shot{near: near}
	for _, p := range card.Phases(r.Card.Events, near, r.middle(near), r.Card.Clip.SlowedBy) {
		if p.Name != phase {
			continue
		}
		at := p.TimeS
		if i := r.stillAt(near, at); i >= 0 {
			at = r.Stills[i].TimeS
			if s.still = &r.Stills[i]; s.still.Image == nil {
				s.still = nil
			}
		}
		s.frame = r.frameAt(at)
		to, ok := panelPlace(s.frame, near, r.Card.Clip)
		s.to = to
		return s, ok
	}
	return shot{}, false
}

// middle is the time of the stride that is shown: that of the stills, or one
// from the middle of the track.
func (r Run) middle(near form.Side) float64 {
	first := math.Inf(1) // the stills run from before contact to after toe-off
	for _, s := range r.Stills {
		if s.Side == near {
			first = math.Min(first, s.TimeS)
		}
	}
	if !math.IsInf(first, 1) {
		return first
	}
	if n := len(r.Card.Events); n > 0 {
		return r.Card.Events[n/2].Time
	}
	return 0
}

// stillAt is the place of the near side's still nearest to a time, −1 where
// none lies within a twentieth of a second of real time.
func (r Run) stillAt(near form.Side, at float64) int {
	const within = 0.05
	best := within * math.Max(r.Card.Clip.SlowedBy, 1)
	found := -1
	for i := range r.Stills {
		if d := math.Abs(r.Stills[i].TimeS - at); r.Stills[i].Side == near && d <= best {
			best, found = d, i
		}
	}
	return found
}

// Wanted are the places of the stills that Moments would show: the others
// need no image.
func (r Run) Wanted() []int {
	near, err := form.ParseSide(r.Card.Clip.Facing)
	if err != nil {
		return nil
	}
	var out []int
	for _, p := range card.Phases(r.Card.Events, near, r.middle(near), r.Card.Clip.SlowedBy) {
		if i := r.stillAt(near, p.TimeS); i >= 0 && slices.Contains(Phases(), p.Name) {
			out = append(out, i)
		}
	}
	return out
}

func (r Run) frameAt(at float64) form.Frame {
	best := r.Track.Frames[0]
	for _, f := range r.Track.Frames {
		if math.Abs(f.Time-at) < math.Abs(best.Time-at) {
			best = f
		}
	}
	return best
}

// panelPlace takes the track's pixels into the panel's: turned level, at the
// common scale, the near hip over the middle and the near foot's lowest point
// on the ground.
func panelPlace(f form.Frame, near form.Side, c card.Clip) (card.Place, bool) {
	hip, heel, toe := f.Spot(form.Hip, near), f.Spot(form.Heel, near), f.Spot(form.Toe, near)
	mPerPx := float64(c.MPerPx)
	if !hip.Seen() || !heel.Seen() && !toe.Seen() || !(mPerPx > leastMPerPx) {
		return card.Place{}, false
	}
	roll := 0.0
	if c.RollDeg.Known() {
		roll = geom.Radians(float64(c.RollDeg))
	}
	sin, cos := math.Sincos(roll)
	k := mPerPx * pxPerM
	turn := card.Place{XX: k * cos, XY: k * sin, YX: -k * sin, YY: k * cos}
	ground := math.Inf(-1)
	for _, s := range []form.Spot{heel, toe} {
		if s.Seen() {
			_, y := turn.At(s.X, s.Y)
			ground = math.Max(ground, y)
		}
	}
	x, _ := turn.At(hip.X, hip.Y)
	return turn.Then(card.Moved(panelWide/2-x, panelTall-groundDrop-ground)), true
}

// moment draws the three panels.
func moment(before, after shot) *image.RGBA {
	out := image.NewRGBA(image.Rect(0, 0, 3*panelWide+2*gap, panelTall))
	draw.Draw(out, out.Bounds(), image.NewUniform(paper), image.Point{}, draw.Src)
	left, right := before.panel(), after.panel()
	both := blend(left, right)
	for i, p := range []*image.RGBA{left, right, both} {
		pen := pen{p}
		pen.plumb()
		if i != 1 {
			before.lines(pen, true)
		}
		if i != 0 {
			after.lines(pen, false)
		}
		at := image.Pt(i*(panelWide+gap), 0)
		draw.Draw(out, p.Bounds().Add(at), p, image.Point{}, draw.Src)
	}
	return out
}

// panel is the shot's picture, brought to the panel's scale.
func (s shot) panel() *image.RGBA {
	out := image.NewRGBA(image.Rect(0, 0, panelWide, panelTall))
	draw.Draw(out, out.Bounds(), image.NewUniform(paper), image.Point{}, draw.Src)
	if s.still == nil {
		return out
	}
	back, ok := s.still.Place.Back()
	if !ok {
		return out
	}
	p := back.Then(s.to)
	draw.BiLinear.Transform(out, f64.Aff3{p.XX, p.XY, p.X, p.YX, p.YY, p.Y}, s.still.Image, s.still.Image.Bounds(), draw.Over, nil)
	return out
}

// blend is the mean of two panels.
func blend(a, b *image.RGBA) *image.RGBA {
	out := image.NewRGBA(a.Bounds())
	for i := range out.Pix {
		out.Pix[i] = uint8((int(a.Pix[i]) + int(b.Pix[i]) + 1) / 2)
	}
	return out
}

// lines draws the near side: ear, shoulder, hip, knee, ankle, and the foot;
// those of before are dashed and dark, those of after whole and in the
// accent.
func (s shot) lines(p pen, dashed bool) {
	ink := accent
	if dashed {
		ink = dark
	}
	chain := [][2]form.Point{{form.Ear, form.Shoulder}, {form.Shoulder, form.Hip}, {form.Hip, form.Knee}, {form.Knee, form.Ankle}, {form.Ankle, form.Heel}, {form.Heel, form.Toe}}
	for _, c := range chain {
		a, b := s.frame.Spot(c[0], s.near), s.frame.Spot(c[1], s.near)
		if !a.Seen() || !b.Seen() {
			continue
		}
		x1, y1 := s.to.At(a.X, a.Y)
		x2, y2 := s.to.At(b.X, b.Y)
		p.line(x1, y1, x2, y2, 6.5, light, nil)
		var dash []float64
		if dashed {
			dash = []float64{11, 7}
		}
		p.line(x1, y1, x2, y2, 3.2, ink, dash)
	}
}
