package chart

import (
	"math"
	"strings"

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
	if len(p.Bobs) > 0 || p.Plumb != [2]float64{} {
		o.hangings(p)
		return o.d
	}
	o.plumbLine(p)
	return o.d
}

// hangings draws the plumb line through the ankle of somebody standing, and
// each point's distance from it as a level line that ends in a bob, with the
// 95 % interval as a paler bar.
func (o *overlay) hangings(p card.Picture) {
	x, y := p.Plumb[0], p.Plumb[1]
	if !finite(x) || !finite(y) || !finite(p.Tilt) {
		return
	}
	sin, cos := math.Sincos(p.Tilt)
	reach := o.d.Width + o.d.Height
	o.stroke(card.Line{X1: x + sin*reach, Y1: y - cos*reach, X2: x - sin*reach, Y2: y + cos*reach}, 1.5, Casing, Line, nil)
	for _, b := range p.Bobs {
		if !finite(b.X) || !finite(b.Y) || !finite(b.Reach) {
			continue
		}
		along := (b.X-x)*cos + (b.Y-y)*sin // level distance from the line
		o.stroke(card.Line{X1: b.X - along*cos, Y1: b.Y - along*sin, X2: b.X, Y2: b.Y}, 1, Casing, Line, nil)
		o.stroke(card.Line{X1: b.X - b.Reach*cos, Y1: b.Y - b.Reach*sin, X2: b.X + b.Reach*cos, Y2: b.Y + b.Reach*sin}, 1.6, Mark, Casing, nil)
		h := 9 * o.unit
		shape := bob(b.X, b.Y+0.12*h, h, form.Both, Mark, false)
		shape.Stroke = Stroke{Ink: Casing, Width: 0.9 * o.unit}
		if shape.Box().Within(Box{X2: o.d.Width, Y2: o.d.Height}, 0) {
			o.d.add(shape)
		}
	}
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
	switch {
	case p.View == form.ViewBack:
		return text + ", " + MomentWords(p, b) + ". " + b.Say("Drawn on it: the vertical through the line of running, the lines of shoulders and hips, and the standing leg.")
	case len(p.Bobs) > 0:
		return text + ", " + MomentWords(p, b) + ". " + b.Say("Drawn on it: a plumb line through the ankle, and how far ear, shoulder, hip and knee stand from it, with their 95 %% intervals.")
	case p.Plumb != [2]float64{}:
		return text + ", " + MomentWords(p, b) + ". " + b.Say("Drawn on it: a plumb line between the ankles, the lines of shoulders, hips and legs, and the feet.")
	}
	return text + ", " + MomentWords(p, b) + ". " + b.Say("Drawn on it: the vertical through the centre of mass, the body’s line, the foot and the ground.")
}

// MomentWords says which foot a picture shows, unless its title does, and
// when.
func MomentWords(p card.Picture, b words.Book) string {
	if p.Moment == card.OnePicture {
		return b.Say(card.OnePicture)
	}
	when := b.Say("%.2f s into the clip", p.TimeS)
	said := when
	switch p.Side {
	case form.Left:
		said = b.Say("left foot, %s", when)
	case form.Right:
		said = b.Say("right foot, %s", when)
	}
	if foot := strings.ToLower(strings.TrimSuffix(said, when)); strings.HasPrefix(strings.ToLower(p.Title), foot) {
		return when
	}
	return said
}

// Key explains the strokes of Overlay in one column: a sample and a word
// each, width wide, in type of the given size.
func Key(m Measurer, width, size float64, b words.Book) Drawing {
	return key(m, width, size, b, []sample{
		{b.Say("plumb line through the centre of mass"), 1.5, Accent, nil},
		{b.Say("body line"), 1.5, Text, []float64{3, 2}},
		{b.Say("foot"), 3, Text, nil},
		{b.Say("ground"), 0.7, Text, nil},
	}, b.Say("A solid line in the accent colour is the plumb line, a dashed one the body line, a thick one the foot, a thin one the ground."))
}

// KeyOf is the key to the lines on one picture: Key, or that of somebody
// standing.
func KeyOf(p card.Picture, m Measurer, width, size float64, b words.Book) Drawing {
	switch {
	case p.View == form.ViewBack:
		return key(m, width, size, b, []sample{
			{b.Say("vertical through the line of running"), 1.5, Accent, nil},
			{b.Say("shoulders, hips, standing leg"), 1.5, Text, []float64{3, 2}},
		}, b.Say("A line in the accent colour is the vertical through the line of running, dashed ones shoulders, hips and the standing leg."))
	case len(p.Bobs) > 0:
		return key(m, width, size, b, []sample{
			{b.Say("plumb line through the ankle"), 1.5, Accent, nil},
			{b.Say("distance from it, and its 95 %% interval"), 0.9, Text, nil},
			{b.Say("foot"), 3, Text, nil},
		}, b.Say("A line in the accent colour is the plumb line through the ankle, thin level lines the distances from it, a thick one the foot."))
	case p.Plumb != [2]float64{}:
		return key(m, width, size, b, []sample{
			{b.Say("plumb line between the ankles"), 1.5, Accent, nil},
			{b.Say("shoulders, hips, legs"), 1.5, Text, []float64{3, 2}},
			{b.Say("feet"), 3, Text, nil},
		}, b.Say("A line in the accent colour is the plumb line between the ankles, dashed ones shoulders, hips and legs, thick ones the feet."))
	default:
		return Key(m, width, size, b)
	}
}

// sample is one stroke of a key and its word.
type sample struct {
	word  string
	width float64
	inner Ink
	dash  []float64
}

func key(m Measurer, width, size float64, b words.Book, samples []sample, desc string) Drawing {
	s := setter{m, size}
	d := Drawing{Width: width, Title: b.Say("Key to the lines on the pictures"), Desc: desc}
	y := 0.0
	for _, k := range samples {
		long := 2.6 * size
		middle := y + 0.65*size
		d.add(Segment{0, middle, long, middle, Stroke{Ink: k.inner, Width: k.width * size / 8, Dash: k.dash}})
		for _, line := range Wrap(m, Sans, size, width-long-0.7*size, k.word) {
			y += size
			d.add(s.label(long+0.7*size, y, line, Sans, 1, Start, Quiet, 0))
			y += 0.3 * size
		}
		y += 0.15 * size
	}
	d.Height = y
	return d
}
