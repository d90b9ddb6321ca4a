// Package graph takes rows of numbers with their error bars and gives a plain
// graph as an SVG file: the studies in docs/studies. It stands by itself, so
// that the tests of any package can draw with it.
package graph

import (
	"fmt"
	"html"
	"math"
	"strings"
)

// Ink is the part that a line plays; the colours are those of the cards.
type Ink uint8

// The inks.
const (
	Accent Ink = iota
	Text
	Quiet
	rule
	shade
	page
)

var inkColour = [...]string{"#1f4d8f", "#1f1d1a", "#5f5a52", "#c9c2b5", "#eae4d6", "#fcfaf5"}

// Graph is a plain graph for the studies: points with error bars, joined or
// not, over an axis with units. Its sizes are those of a printed page's
// column.
type Graph struct {
	Title, Desc string
	X, Y        Axis
	// Ticks names places on the X axis; without it numbers are set.
	Ticks  []Tick
	Series []Series
	// Shade marks a band of Y, low to high, within which the points should
	// lie; 0, 0 for none.
	Shade [2]float64
}

// Axis is one axis: what it shows, with its unit, and from where to where;
// Log spaces it by powers.
type Axis struct {
	Label    string
	Low, Top float64
	Log      bool
}

// Tick is a named place on an axis.
type Tick struct {
	At    float64
	Label string
}

// Series is one row of points; Err is half the length of each error bar, nil
// for none. Joined draws a line through them.
type Series struct {
	Name      string
	X, Y, Err []float64
	Joined    bool
	Ink       Ink
	Dash      string // as SVG writes it
	Open      bool   // points as rings
}

// The graph's sizes, in points.
const (
	graphWidth, graphHeight = 640.0, 360.0
	graphLeft, graphRight   = 64.0, 16.0
	graphTop, graphBottom   = 44.0, 52.0
	graphText               = 12.0
)

// SVG lays the graph out as a file that stands by itself; id is unique on the
// page that shows it.
func (g Graph) SVG(id string) string {
	p := &pen{}
	fmt.Fprintf(p, `<svg xmlns="http://www.w3.org/2000/svg" id="%[1]s" viewBox="0 0 %[2]g %[3]g" role="img" aria-labelledby="%[1]s-title %[1]s-desc" font-family="'Segoe UI','DejaVu Sans',sans-serif" font-size="%[4]g">`+"\n",
		id, graphWidth, graphHeight, graphText)
	fmt.Fprintf(p, "<title id=\"%[1]s-title\">%[2]s</title>\n<desc id=\"%[1]s-desc\">%[3]s</desc>\n", id, html.EscapeString(g.Title), html.EscapeString(g.Desc))
	p.rect(0, 0, graphWidth, graphHeight, page)
	p.text(graphLeft, 20, g.Title, "start", Text, 600)
	if g.Shade[1] > g.Shade[0] {
		p.rect(graphLeft, g.y(g.Shade[1]), graphWidth-graphRight, g.y(g.Shade[0]), shade)
	}
	g.axes(p)
	for _, s := range g.Series {
		g.draw(p, s)
	}
	g.legend(p)
	p.WriteString("</svg>\n")
	return p.String()
}

// pen writes SVG elements.
type pen struct{ strings.Builder }

func (p *pen) rect(x1, y1, x2, y2 float64, fill Ink) {
	fmt.Fprintf(p, `<rect x="%.2f" y="%.2f" width="%.2f" height="%.2f" fill="%s"/>`+"\n", x1, y1, x2-x1, y2-y1, inkColour[fill])
}

func (p *pen) line(x1, y1, x2, y2, width float64, ink Ink, dash string) {
	if dash != "" {
		dash = ` stroke-dasharray="` + dash + `"`
	}
	fmt.Fprintf(p, `<line x1="%.2f" y1="%.2f" x2="%.2f" y2="%.2f" stroke="%s" stroke-width="%g"%s/>`+"\n", x1, y1, x2, y2, inkColour[ink], width, dash)
}

func (p *pen) text(x, y float64, text, anchor string, ink Ink, weight int) {
	fmt.Fprintf(p, `<text x="%.2f" y="%.2f" text-anchor="%s" fill="%s" font-weight="%d">%s</text>`+"\n", x, y, anchor, inkColour[ink], weight, html.EscapeString(text))
}

func (a Axis) share(v float64) float64 {
	if a.Log {
		return (math.Log(v) - math.Log(a.Low)) / (math.Log(a.Top) - math.Log(a.Low))
	}
	return (v - a.Low) / (a.Top - a.Low)
}

func (g Graph) x(v float64) float64 {
	return graphLeft + g.X.share(v)*(graphWidth-graphLeft-graphRight)
}

func (g Graph) y(v float64) float64 {
	top, bottom := graphTop, graphHeight-graphBottom
	return math.Max(top, math.Min(bottom, bottom-g.Y.share(v)*(bottom-top)))
}

// axes draws both axes with their ticks and labels.
func (g Graph) axes(p *pen) {
	bottom := graphHeight - graphBottom
	for _, v := range steps(g.Y) {
		y := g.y(v)
		p.line(graphLeft, y, graphWidth-graphRight, y, 0.5, rule, "")
		p.text(graphLeft-8, y+4, short(v), "end", Quiet, 400)
	}
	ticks := g.Ticks
	if ticks == nil {
		for _, v := range steps(g.X) {
			ticks = append(ticks, Tick{v, short(v)})
		}
	}
	for _, t := range ticks {
		x := g.x(t.At)
		p.line(x, bottom, x, bottom+4, 0.75, Quiet, "")
		p.text(x, bottom+18, t.Label, "middle", Quiet, 400)
	}
	p.line(graphLeft, bottom, graphWidth-graphRight, bottom, 0.75, Quiet, "")
	p.text((graphLeft+graphWidth-graphRight)/2, graphHeight-12, g.X.Label, "middle", Text, 400)
	p.text(8, graphTop-8, g.Y.Label, "start", Text, 400)
}

// draw puts one series on the graph.
func (g Graph) draw(p *pen, s Series) {
	for i := range s.X {
		x, y := g.x(s.X[i]), g.y(s.Y[i])
		if s.Joined && i > 0 {
			p.line(g.x(s.X[i-1]), g.y(s.Y[i-1]), x, y, 1.5, s.Ink, s.Dash)
		}
		if s.Err != nil {
			p.line(x, g.y(s.Y[i]-s.Err[i]), x, g.y(s.Y[i]+s.Err[i]), 1, s.Ink, "")
		}
	}
	for i := range s.X {
		fill := s.Ink
		if s.Open {
			fill = page
		}
		fmt.Fprintf(p, `<circle cx="%.2f" cy="%.2f" r="3" fill="%s" stroke="%s" stroke-width="1.5"/>`+"\n", g.x(s.X[i]), g.y(s.Y[i]), inkColour[fill], inkColour[s.Ink])
	}
}

// legend names the series at the upper right, where there is more than one.
func (g Graph) legend(p *pen) {
	if len(g.Series) < 2 {
		return
	}
	x := graphWidth - graphRight - 150
	for i, s := range g.Series {
		y := graphTop + 10 + 16*float64(i)
		p.line(x, y-4, x+18, y-4, 1.5, s.Ink, s.Dash)
		p.text(x+24, y, s.Name, "start", Text, 400)
	}
}

// steps are round numbers along an axis, at most nine.
func steps(a Axis) []float64 {
	if a.Log {
		var out []float64
		for p := math.Pow(10, math.Floor(math.Log10(a.Low))); p <= a.Top; p *= 10 {
			for _, m := range []float64{1, 2, 5} {
				if v := p * m; v >= a.Low && v <= a.Top {
					out = append(out, v)
				}
			}
		}
		return out
	}
	raw := (a.Top - a.Low) / 7
	unit := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5, 10} {
		if raw <= m*unit {
			unit *= m
			break
		}
	}
	var out []float64
	for k := math.Ceil(a.Low/unit - 1e-9); k*unit <= a.Top+1e-9*unit; k++ {
		out = append(out, k*unit)
	}
	return out
}

// short writes a tick's number.
func short(v float64) string {
	if v == 0 {
		v = 0 // never −0
	}
	return strings.Replace(fmt.Sprintf("%.4g", v), "-", "−", 1)
}
