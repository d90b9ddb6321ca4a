package chart

import (
	"fmt"
	"math"
	"strings"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/quantity"
	"plumbstride/internal/words"
)

// stancePoints are the points that hang beside the ankle's plumb line, from
// the top down, with their usual heights over the ground as shares of body
// height (Drillis & Contini 1966 in Winter; the ear from memory): the drawing
// needs an order, not a measurement.
func stancePoints(b words.Book) []stancePoint {
	return []stancePoint{
		{"plumb_ear", b.Say("ear"), 0.93}, {"plumb_shoulder", b.Say("shoulder"), 0.818},
		{"plumb_hip", b.Say("hip"), 0.53}, {"plumb_knee", b.Say("knee"), 0.285},
	}
}

type stancePoint struct {
	name, word string
	height     float64
}

// ankleHeight is the ankle's over the ground.
const ankleHeight = 0.039

// StanceOptions says how to lay Stance out: Text is the size of its type, in
// the unit of Width and Height.
type StanceOptions struct {
	Width, Height, Text float64
	Units               quantity.Units
	Words               words.Book
}

// Stance draws a standing check from the side: a plumb line through the
// ankle, and ear, shoulder, hip and knee as bobs at their distances from it,
// widened sideways so that a centimetre can be seen; the whisker is the 95 %
// interval and the shade the band. ok is false for a card without those distances.
func Stance(c card.Card, m Measurer, o StanceOptions) (d Drawing, ok bool) {
	s := &stance{setter: setter{m, o.Text}, say: o.Words, d: Drawing{Width: o.Width, Height: o.Height, Title: o.Words.Say("Plumb line of the ankle, standing")}}
	for _, pt := range stancePoints(o.Words) {
		for _, row := range c.Measures {
			if row.Name == pt.name && row.Unit == "cm" && finite(row.Value) && finite(row.Low) && finite(row.High) {
				s.rows = append(s.rows, hung{o.Words.Of(pt.word), pt.height, row, card.Show(row, o.Units)})
				break
			}
		}
	}
	if len(s.rows) == 0 {
		return Drawing{}, false
	}
	s.dir = 1
	if c.Clip.Facing == form.Left.String() {
		s.dir = -1
	}
	s.frame()
	s.backbone()
	for _, r := range s.rows {
		s.hang(r)
	}
	s.foot(o.Units)
	s.describe()
	return s.d, true
}

// hung is one point: its word, height, measure and text.
type hung struct {
	word   string
	height float64
	m      card.Measure
	shown  card.Shown
}

// stance is the drawing while it is made.
type stance struct {
	setter
	say        words.Book
	d          Drawing
	rows       []hung
	dir        float64 // +1: ahead is to the right
	line       float64 // x of the plumb line
	half       float64 // width of the plot to each side of it
	span       float64 // cm that half shows
	top, foot0 float64 // y of body heights 0.93 and 0
	begin      float64 // x where the words start
}

// frame finds the scales: half the plot shows the farthest whisker, at
// least 10 cm.
func (s *stance) frame() {
	s.begin = s.d.Width - 11.2*s.size
	s.line = (s.begin - s.size) / 2
	s.half = s.line - 0.9*s.size
	far := 10.0
	for _, r := range s.rows {
		far = math.Max(far, math.Max(math.Abs(r.m.Low), math.Abs(r.m.High)))
	}
	s.span = math.Min(5*math.Ceil(far/5), 60)
	s.top, s.foot0 = 3.6*s.size, s.d.Height-4.2*s.size
	behind, ahead := s.say.Say("← behind"), s.say.Say("ahead →")
	if s.dir < 0 {
		behind, ahead = s.say.Say("← ahead"), s.say.Say("behind →")
	}
	s.d.add(s.label(s.line-s.half, 1.1*s.size, behind, Sans, 0.9, Start, Quiet, 0),
		s.label(s.line+s.half, 1.1*s.size, ahead, Sans, 0.9, End, Quiet, 0))
}

// x gives the place of a distance ahead, cm, kept within the plot.
func (s *stance) x(cm float64) float64 {
	return s.line + s.dir*math.Max(-1, math.Min(1, cm/s.span))*s.half
}

func (s *stance) y(share float64) float64 { return s.foot0 - share/0.93*(s.foot0-s.top) }

// backbone draws the bands, the line through the points, and the plumb line.
func (s *stance) backbone() {
	for _, r := range s.rows {
		if b := r.m.Band; b != nil && b.Low.Known() && b.High.Known() {
			y := s.y(r.height)
			a, z := s.x(float64(b.Low)), s.x(float64(b.High))
			s.d.add(rect(math.Min(a, z), y-1.1*s.size, math.Max(a, z), y+1.1*s.size, Shade))
		}
	}
	ground := s.y(0)
	s.d.add(Segment{s.line - s.half, ground, s.line + s.half, ground, Stroke{Ink: Rule, Width: 0.07 * s.size}})
	stroke := Stroke{Ink: Quiet, Width: 0.08 * s.size, Dash: []float64{0.4 * s.size, 0.3 * s.size}}
	px, py := s.line, s.y(ankleHeight)
	for i := len(s.rows) - 1; i >= 0; i-- {
		x, y := s.x(s.rows[i].m.Value), s.y(s.rows[i].height)
		s.d.add(Segment{px, py, x, y, stroke})
		px, py = x, y
	}
	line := Stroke{Ink: Accent, Width: 0.13 * s.size}
	from := 1.9 * s.size
	s.d.add(Segment{s.line - 0.9*s.size, from, s.line + 0.9*s.size, from, line},
		Segment{s.line, from, s.line, ground, line},
		bob(s.line, ground+0.9*s.size, 1.8*s.size, form.Both, Accent, false))
	s.d.add(Circle{X: s.line, Y: s.y(ankleHeight), R: 0.4 * s.size, Fill: Page, Stroke: line},
		s.label(s.begin, s.y(ankleHeight)+0.35*s.size, s.say.Say("ankle"), Sans, 1, Start, Quiet, 0))
}

// hang draws one point with its whisker and its words.
func (s *stance) hang(r hung) {
	y, x := s.y(r.height), s.x(r.m.Value)
	beyond := math.Abs(r.m.Value) > s.span
	s.d.add(Segment{s.line, y, x, y, Stroke{Ink: Accent, Width: 0.06 * s.size}})
	a, z := s.line+s.dir*r.m.Low/s.span*s.half, s.line+s.dir*r.m.High/s.span*s.half
	s.d.add(whisker(math.Min(a, z), math.Max(a, z), s.line-s.half, s.line+s.half, y, 0.35*s.size, Stroke{Ink: Text, Width: 0.11 * s.size})...)
	h := 1.5 * s.size
	s.d.add(bob(x, y+0.12*h, h, form.Both, Text, beyond))
	word := s.label(s.begin, y+0.35*s.size, r.word, Sans, 1, Start, Text, 0)
	value := s.label(s.d.Width, y+0.35*s.size, s.say.Figures(r.shown.Text()), Sans, 1, End, Text, s.d.Width-s.begin-word.Width-0.4*s.size)
	s.d.add(word, value)
}

// foot draws the axis below the ground and says how much wider it is.
func (s *stance) foot(units quantity.Units) {
	base := s.d.Height - 0.3*s.size
	step, unit := 5.0, "cm"
	perUnit, _ := units.Convert(1, "cm")
	if units == quantity.US {
		step, unit = 2/perUnit, "in"
	}
	axis := base - 1.3*s.size
	hair := Stroke{Ink: Quiet, Width: 0.06 * s.size}
	if step*s.half/s.span < 1.6*s.size {
		step *= 2
	}
	for _, sign := range []float64{-1, 1} {
		last := 0.0
		s.d.add(Segment{s.line, axis, s.x(sign * s.span), axis, hair})
		for v := step; v <= s.span+1e-9; v += step {
			x := s.x(sign * v)
			s.d.add(Segment{x, axis - 0.3*s.size, x, axis, hair})
			last = v
		}
		if last == 0 {
			continue
		}
		text := strings.Replace(fmt.Sprintf("%+.0f", sign*last*perUnit), "-", "−", 1)
		if sign > 0 {
			text += " " + unit
		}
		s.d.add(s.label(s.x(sign*last), base-0.15*s.size, text, Sans, 0.8, s.anchorAt(sign), Quiet, 0))
	}
	s.d.add(s.label(s.begin, base-0.15*s.size, s.say.Say("widened sideways"), Sans, 0.8, Start, Quiet, s.d.Width-s.begin))
}

// anchorAt keeps an axis number inside the plot.
func (s *stance) anchorAt(sign float64) Anchor {
	if sign*s.dir < 0 {
		return Start
	}
	return End
}

func (s *stance) describe() {
	texts := make([]string, 0, len(s.rows))
	for _, r := range s.rows {
		texts = append(texts, r.word+" "+s.say.Figures(r.shown.Text()))
	}
	s.d.Desc = s.say.Say("Distances ahead of a plumb line through the ankle, behind it negative: %s.", strings.Join(texts, ", "))
}
