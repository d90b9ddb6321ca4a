package chart

import (
	"math"
	"slices"
	"strings"

	"plumbstride/internal/stick"
)

// figureHeight is the height of a standing figure in the drawing's units.
const figureHeight = 100.0

// Figures draws lay figures side by side on one ground, each with its
// caption below: the near limbs dark, the far ones light, what helps the eye
// in the accent. title and desc say the same in words.
func Figures(m Measurer, title, desc string, figures []stick.Figure) Drawing {
	const margin, gap, size = 6.0, 16.0, 8.0
	d := Drawing{Title: title, Desc: desc}
	top, bottom := 0.0, 0.0
	for _, f := range figures {
		top, bottom = math.Max(top, f.Top), math.Min(bottom, f.Bottom)
	}
	ground := margin + figureHeight*top
	x, lines := margin, 0
	for _, f := range figures {
		width := figureHeight * (f.Right - f.Left)
		caption := Balance(m, Sans, size, math.Max(width, 72), f.Caption)
		column := width
		for _, text := range caption {
			column = math.Max(column, m.Width(Sans, size, text))
		}
		d.figure(f, x+(column-width)/2-figureHeight*f.Left, ground)
		for i, text := range caption {
			base := ground - figureHeight*bottom + 5 + size*(0.9+1.25*float64(i))
			d.Add(Set(m, x+column/2, base, text, Sans, size, Middle, Quiet))
		}
		lines = max(lines, len(caption))
		x += column + gap
	}
	d.Width = x - gap + margin
	d.Height = ground - figureHeight*bottom + 5 + size*1.25*float64(lines) + margin
	return d
}

// figure draws one figure with its hip at x and its ground at y.
func (d *Drawing) figure(f stick.Figure, x, y float64) {
	at := func(p stick.Point) (float64, float64) { return x + figureHeight*p.X, y - figureHeight*p.Y }
	front := slices.IndexFunc(f.Lines, func(l stick.Line) bool { return l.Part == stick.NearLimb })
	for i, l := range f.Lines {
		if i == front {
			cx, cy := at(f.Head)
			nx, ny := at(f.Nose)
			d.Add(Segment{cx, cy, nx, ny, Stroke{Ink: Text, Width: 2.6, Round: true}},
				Circle{X: cx, Y: cy, R: figureHeight * f.HeadR, Fill: Text})
			for _, n := range f.Lines[i:] { // the near limbs stand off from what is behind them
				if n.Part == stick.NearLimb && !n.Filled {
					d.polyline(n, at, Page, 1.6)
				}
			}
		}
		if l.Part == stick.Guide {
			d.polyline(l, at, Page, 1.2)
		}
		d.polyline(l, at, inkOf(l.Part), 0)
	}
}

func inkOf(part stick.Part) Ink {
	switch part {
	case stick.Ground:
		return Rule
	case stick.Thing, stick.FarLimb:
		return Thread
	case stick.Guide:
		return Accent
	default:
		return Text
	}
}

// polyline adds a line of a figure, wider by extra.
func (d *Drawing) polyline(l stick.Line, at func(stick.Point) (float64, float64), ink Ink, extra float64) {
	stroke := Stroke{Ink: ink, Width: figureHeight*l.Width + extra, Round: true}
	if len(l.Points) == 2 {
		x1, y1 := at(l.Points[0])
		x2, y2 := at(l.Points[1])
		d.Add(Segment{x1, y1, x2, y2, stroke})
		return
	}
	p := Path{Stroke: stroke}
	for i, q := range l.Points {
		do := byte('L')
		if i == 0 {
			do = 'M'
		}
		x, y := at(q)
		p.Ops = append(p.Ops, Op{Do: do, X: x, Y: y})
	}
	if l.Filled {
		p.Ops = append(p.Ops, Op{Do: 'Z'})
		p.Fill = ink
		if l.Part == stick.Thing {
			p.Fill = Shade
		}
	}
	d.Add(p)
}

// Alone writes the drawing as a file of its own: an SVG with its colours, on
// a ground of the page's colour.
func (d Drawing) Alone(id string) string {
	ground := Drawing{Width: d.Width, Height: d.Height, Title: d.Title, Desc: d.Desc}
	ground.Add(rect(0, 0, d.Width, d.Height, Page))
	ground.Add(d.Items...)
	style := "<style>.drawing{" + LightPalette().Properties() + "}\n" + Style() + "</style>\n"
	return strings.Replace(ground.SVG(id), "</desc>\n", "</desc>\n"+style, 1)
}
