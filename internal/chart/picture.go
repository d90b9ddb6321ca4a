package chart

import (
	"math"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/words"
)

// Overlay draws the lines of a still in the picture's own pixels, width by
// height: the ground, the body's line (dashed), the foot (thick), and the
// plumb line through the whole-body centre of mass. Every stroke has an edge
// of the other lightness, so that it reads on any photograph. Lines outside
// the picture are cut at its edges.
func Overlay(p card.Picture, width, height int) Drawing {
	w, h := float64(width), float64(height)
	o := &overlay{d: Drawing{Width: w, Height: h, Title: p.Title}, unit: math.Max(h, w) / 320}
	if p.GroundY > 0 && p.GroundY < h {
		slope := math.Tan(p.Tilt)
		x := p.CentreOfMass[0]
		o.stroke(card.Line{X1: 0, Y1: p.GroundY - slope*x, X2: w, Y2: p.GroundY + slope*(w-x)}, 0.9, Casing, Mark, nil)
	}
	for _, l := range p.Body {
		o.stroke(l, 1.7, Mark, Casing, []float64{5, 3.5})
	}
	for _, l := range p.Foot {
		o.stroke(l, 3, Casing, Mark, nil)
	}
	o.plumbLine(p)
	return o.d
}

type overlay struct {
	d    Drawing
	unit float64
}

// stroke draws an inner line on a wider edge, cut to the picture.
func (o *overlay) stroke(l card.Line, width float64, edge, inner Ink, dash []float64) {
	l, ok := clip(l, o.d.Width, o.d.Height)
	if !ok {
		return
	}
	scaled := make([]float64, len(dash))
	for i := range dash {
		scaled[i] = dash[i] * o.unit
	}
	if len(dash) == 0 {
		scaled = nil
	}
	o.d.add(
		Segment{l.X1, l.Y1, l.X2, l.Y2, Stroke{Ink: edge, Width: (width + 1.5) * o.unit}},
		Segment{l.X1, l.Y1, l.X2, l.Y2, Stroke{Ink: inner, Width: width * o.unit, Dash: scaled}})
}

// plumbLine draws true vertical through the centre of mass, which is marked
// by the engineer's quartered circle.
func (o *overlay) plumbLine(p card.Picture) {
	x, y := p.CentreOfMass[0], p.CentreOfMass[1]
	if !finite(x) || !finite(y) || !finite(p.Tilt) || x == 0 && y == 0 {
		return
	}
	sin, cos := math.Sincos(p.Tilt)
	reach := o.d.Width + o.d.Height
	o.stroke(card.Line{X1: x + sin*reach, Y1: y - cos*reach, X2: x - sin*reach, Y2: y + cos*reach}, 1.5, Casing, Line, nil)
	r := 4.6 * o.unit
	if x < r || y < r || x > o.d.Width-r || y > o.d.Height-r {
		return
	}
	o.d.add(
		Circle{X: x, Y: y, R: r, Fill: Casing, Stroke: Stroke{Ink: Line, Width: 1.2 * o.unit}},
		quarter(x, y, r, -1), quarter(x, y, r, 1))
}

// quarter is the upper right (dir 1) or the lower left (dir −1) quarter of a
// disc; 0.5523 is the usual handle of a Bézier curve for a quarter circle.
func quarter(x, y, r, dir float64) Path {
	const handle = 0.5523
	return Path{Fill: Line, Ops: []Op{
		{Do: 'M', X: x, Y: y}, {Do: 'L', X: x, Y: y - dir*r},
		{Do: 'C', X1: x + dir*handle*r, Y1: y - dir*r, X2: x + dir*r, Y2: y - dir*handle*r, X: x + dir*r, Y: y},
		{Do: 'Z'},
	}}
}

// clip cuts a line to the picture (Liang and Barsky 1984).
func clip(l card.Line, w, h float64) (card.Line, bool) {
	if !finite(l.X1) || !finite(l.Y1) || !finite(l.X2) || !finite(l.Y2) {
		return l, false
	}
	dx, dy := l.X2-l.X1, l.Y2-l.Y1
	from, to := 0.0, 1.0
	for _, edge := range [4][2]float64{{-dx, l.X1}, {dx, w - l.X1}, {-dy, l.Y1}, {dy, h - l.Y1}} {
		p, q := edge[0], edge[1]
		switch {
		case p == 0 && q < 0:
			return l, false
		case p < 0:
			from = math.Max(from, q/p)
		case p > 0:
			to = math.Min(to, q/p)
		}
	}
	if from >= to {
		return l, false
	}
	return card.Line{X1: l.X1 + from*dx, Y1: l.Y1 + from*dy, X2: l.X1 + to*dx, Y2: l.Y1 + to*dy}, true
}

// PictureWords is the alternative text of a still.
func PictureWords(p card.Picture, b words.Book) string {
	text := card.Clean(p.Title, 60)
	if text == "" {
		text = card.Capital(card.Clean(p.Moment, 60))
	}
	return text + ", " + MomentWords(p, b) + ". " + b.Say("Drawn on it: the vertical through the centre of mass, the body’s line, the foot and the ground.")
}

// MomentWords says which foot a picture shows, and when.
func MomentWords(p card.Picture, b words.Book) string {
	when := b.Say("%.2f s into the clip", p.TimeS)
	switch p.Side {
	case form.Left:
		return b.Say("left foot, %s", when)
	case form.Right:
		return b.Say("right foot, %s", when)
	default:
		return when
	}
}

// Key explains the strokes of Overlay in one column: a sample and a word
// each, width wide, in type of the given size.
func Key(m Measurer, width, size float64, b words.Book) Drawing {
	s := setter{m, size}
	d := Drawing{Width: width, Title: b.Say("Key to the lines on the pictures")}
	y := 0.0
	for _, k := range []struct {
		word        string
		width       float64
		edge, inner Ink
		dash        []float64
	}{
		{"plumb line through the centre of mass", 1.5, None, Accent, nil},
		{"body line", 1.5, None, Text, []float64{3, 2}},
		{"foot", 3, None, Text, nil},
		{"ground", 0.7, None, Text, nil},
	} {
		sample := 2.6 * size
		middle := y + 0.65*size
		d.add(Segment{0, middle, sample, middle, Stroke{Ink: k.inner, Width: k.width * size / 8, Dash: k.dash}})
		for _, line := range Wrap(m, Sans, size, width-sample-0.7*size, b.Of(k.word)) {
			y += size
			d.add(s.label(sample+0.7*size, y, line, Sans, 1, Start, Quiet, 0))
			y += 0.3 * size
		}
		y += 0.15 * size
	}
	d.Height = y
	d.Desc = b.Say("A solid line in the accent colour is the plumb line, a dashed one the body line, a thick one the foot, a thin one the ground.")
	return d
}
