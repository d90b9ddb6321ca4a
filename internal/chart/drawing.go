package chart

import "math"

// Ink is the part that a stroke or a fill plays, not its colour: back ends
// choose colours for paper, for a light page and for a dark one.
type Ink uint8

// The inks. Mark and Casing are for lines over photographs and are the same
// on every page.
const (
	None   Ink = iota
	Text       // what is read first
	Quiet      // captions and units, still of full reading contrast
	Rule       // hairlines that carry the grid
	Thread     // what the bobs hang by
	Shade      // the width of a band
	Accent     // the plumb line and the one priority
	Page       // the colour of the page itself
	Mark       // dark lines over a photograph
	Casing     // their light edge
	Line       // the plumb line over a photograph
	numInks
)

var inkWords = [numInks]string{
	"none", "text", "quiet", "rule", "thread", "shade", "accent", "page", "mark", "casing", "line",
}

// String gives the ink's word in class names.
func (i Ink) String() string { return inkWords[i] }

// Font is one of the four cuts that a card is set in.
type Font uint8

// The fonts: a text serif for what is said, a sans for what is measured.
const (
	Serif Font = iota
	SerifItalic
	Sans
	SansMedium
)

// Measurer gives the width of a line of text, in the unit of size.
type Measurer interface {
	Width(font Font, size float64, text string) float64
}

// Anchor is the part of a text that stands at its X.
type Anchor uint8

// The anchors.
const (
	Start Anchor = iota
	Middle
	End
)

// Stroke is how a line is drawn: its ink, its width, and its dashes (nil:
// solid). Round ends the line in half circles.
type Stroke struct {
	Ink   Ink
	Width float64
	Dash  []float64
	Round bool
}

// Segment is one straight line between two points.
type Segment struct {
	X1, Y1, X2, Y2 float64
	Stroke         Stroke
}

// Op is one step of a path: 'M' and 'L' use X, Y; 'C' uses all six numbers
// (two control points, then the end); 'Z' closes.
type Op struct {
	Do                   byte
	X1, Y1, X2, Y2, X, Y float64
}

// Path is an outline, filled, stroked or both.
type Path struct {
	Ops    []Op
	Fill   Ink
	Stroke Stroke
}

// Circle is filled, stroked or both.
type Circle struct {
	X, Y, R float64
	Fill    Ink
	Stroke  Stroke
}

// Label is one line of text: X by its anchor, Y the base line, Width as
// measured when it was laid out.
type Label struct {
	X, Y   float64
	Text   string
	Font   Font
	Size   float64
	Anchor Anchor
	Ink    Ink
	Width  float64
}

// Painter is a back end of a drawing.
type Painter interface {
	Segment(Segment)
	Path(Path)
	Circle(Circle)
	Label(Label)
}

// Item is anything a drawing holds.
type Item interface {
	// Box is the space that the item takes.
	Box() Box
	paint(Painter)
	moved(x, y, scale float64) Item
}

// Box is a rectangle, X1 ≤ X2 and Y1 ≤ Y2.
type Box struct{ X1, Y1, X2, Y2 float64 }

// Within tells whether the box lies inside another, slack allowed.
func (b Box) Within(o Box, slack float64) bool {
	return b.X1 >= o.X1-slack && b.Y1 >= o.Y1-slack && b.X2 <= o.X2+slack && b.Y2 <= o.Y2+slack
}

// Overlaps tells whether two boxes share more than slack in both directions.
func (b Box) Overlaps(o Box, slack float64) bool {
	return math.Min(b.X2, o.X2)-math.Max(b.X1, o.X1) > slack && math.Min(b.Y2, o.Y2)-math.Max(b.Y1, o.Y1) > slack
}

// Drawing is a finished picture: its size, what it shows in words for those
// who don't see it, and its items from back to front.
type Drawing struct {
	Width, Height float64
	Title, Desc   string
	Items         []Item
}

// Paint gives every item to the painter, back to front.
func (d Drawing) Paint(p Painter) {
	for _, item := range d.Items {
		item.paint(p)
	}
}

func (d *Drawing) add(items ...Item) { d.Items = append(d.Items, items...) }

func (s Segment) paint(p Painter) { p.Segment(s) }
func (c Path) paint(p Painter)    { p.Path(c) }
func (c Circle) paint(p Painter)  { p.Circle(c) }
func (l Label) paint(p Painter)   { p.Label(l) }

// Box of a segment, its width left out.
func (s Segment) Box() Box {
	return Box{math.Min(s.X1, s.X2), math.Min(s.Y1, s.Y2), math.Max(s.X1, s.X2), math.Max(s.Y1, s.Y2)}
}

// Box of a path: that of its points and control points.
func (c Path) Box() Box {
	b := Box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	grow := func(x, y float64) {
		b = Box{math.Min(b.X1, x), math.Min(b.Y1, y), math.Max(b.X2, x), math.Max(b.Y2, y)}
	}
	for _, op := range c.Ops {
		switch op.Do {
		case 'C':
			grow(op.X1, op.Y1)
			grow(op.X2, op.Y2)
			grow(op.X, op.Y)
		case 'M', 'L':
			grow(op.X, op.Y)
		}
	}
	return b
}

// Box of a circle, its stroke left out.
func (c Circle) Box() Box { return Box{c.X - c.R, c.Y - c.R, c.X + c.R, c.Y + c.R} }

// Box of a label: its measured width, and from the ascenders of its font to
// the descenders.
func (l Label) Box() Box {
	x := l.X
	switch l.Anchor {
	case Middle:
		x -= l.Width / 2
	case End:
		x -= l.Width
	}
	return Box{x, l.Y - 0.74*l.Size, x + l.Width, l.Y + 0.22*l.Size}
}

// rect is a filled rectangle.
func rect(x1, y1, x2, y2 float64, fill Ink) Path {
	return Path{Fill: fill, Ops: []Op{
		{Do: 'M', X: x1, Y: y1}, {Do: 'L', X: x2, Y: y1}, {Do: 'L', X: x2, Y: y2}, {Do: 'L', X: x1, Y: y2}, {Do: 'Z'},
	}}
}

// Add puts items in front of what is already drawn.
func (d *Drawing) Add(items ...Item) { d.add(items...) }

// Place puts another drawing into this one, its upper left corner at x, y
// and everything in it scaled.
func (d *Drawing) Place(o Drawing, x, y, scale float64) {
	for _, item := range o.Items {
		d.add(item.moved(x, y, scale))
	}
}

func (s Stroke) scaled(scale float64) Stroke {
	s.Width *= scale
	if len(s.Dash) > 0 {
		dash := make([]float64, len(s.Dash))
		for i := range s.Dash {
			dash[i] = s.Dash[i] * scale
		}
		s.Dash = dash
	}
	return s
}

func (s Segment) moved(x, y, k float64) Item {
	return Segment{x + k*s.X1, y + k*s.Y1, x + k*s.X2, y + k*s.Y2, s.Stroke.scaled(k)}
}

func (c Path) moved(x, y, k float64) Item {
	ops := make([]Op, len(c.Ops))
	for i, op := range c.Ops {
		ops[i] = Op{op.Do, x + k*op.X1, y + k*op.Y1, x + k*op.X2, y + k*op.Y2, x + k*op.X, y + k*op.Y}
	}
	return Path{ops, c.Fill, c.Stroke.scaled(k)}
}

func (c Circle) moved(x, y, k float64) Item {
	return Circle{x + k*c.X, y + k*c.Y, k * c.R, c.Fill, c.Stroke.scaled(k)}
}

func (l Label) moved(x, y, k float64) Item {
	l.X, l.Y, l.Size, l.Width = x+k*l.X, y+k*l.Y, k*l.Size, k*l.Width
	return l
}
