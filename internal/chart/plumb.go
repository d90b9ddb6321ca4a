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

// PlumbAt is where the plumb line stands in a wide chart, as a part of its
// width: pages let the same line run on above and below the chart.
const PlumbAt = 0.475

// PlumbOptions says how to lay the plumb-line chart out. Row is the height
// of a single row and Text the size of its type, in the unit of Width.
// Narrow puts title, values and plot under one another, for a phone.
type PlumbOptions struct {
	Width, Row, Text float64
	Narrow           bool
	Units            quantity.Units
	// Words are those of the card's language: the card is already in it.
	Words words.Book
}

// Plumb draws a card's measures as bobs beside one plumb line. The line is
// the middle of each measure's reference band; a bob's distance from it is
// the measure's, in standard deviations between runners; its whisker is the
// 95 % interval, and the shade around the line is the band. Bobs hang from
// the beam of their area. Two half bobs are the two sides. Measures without
// a band are listed without a bob.
func Plumb(c card.Card, m Measurer, o PlumbOptions) Drawing {
	gs := groups(c, o.Units, o.Words)
	p := &plumb{setter: setter{m, o.Text}, o: o, span: span(gs), row: o.Row}
	p.d.Title, p.d.Desc = o.Words.Say("Plumb-line chart of all measures"), describe(gs, o.Words)
	p.columns(p.widestUnit(gs))
	p.head()
	for _, g := range gs {
		p.group(g)
	}
	p.foot(anyStandIn(gs))
	return p.finish()
}

// plumb is a chart while it is laid out, from the top down. Items are
// gathered in layers, so that shades lie behind lines and lines behind text.
type plumb struct {
	setter
	o    PlumbOptions
	d    Drawing
	span float64
	row  float64
	y    float64

	line, left, right float64 // the plumb line and the edges of the plot
	stub              float64 // where the titles start, behind the areas
	titles            float64 // the width of the titles
	values            [2]float64
	unit, unitWidth   float64
	bandWidth         float64

	shades, lines, marks, texts []Item
}

// The plot's half width, as a part of the chart's: narrower where a unit
// needs the room ("% leg length").
const usualHalf, leastHalf = 0.15, 0.11

// unitScale is the size of a unit beside that of the text.
const unitScale = 0.92

// widestUnit is the room that the units need.
func (p *plumb) widestUnit(gs []group) float64 {
	widest := 0.0
	for _, g := range gs {
		for _, r := range g.rows {
			widest = math.Max(widest, p.m.Width(Sans, unitScale*p.size, r.unit))
		}
	}
	return widest
}

// columns divides the width, with so much room for the units.
func (p *plumb) columns(units float64) {
	w, t := p.o.Width, p.o.Text
	if p.o.Narrow {
		p.line, p.left, p.right = w/2, 2*t, w-2*t
		p.titles = w/2 - 0.8*t
		p.values = [2]float64{0, w/2 + 0.8*t}
		return
	}
	p.line = PlumbAt * w
	p.stub = 7.9 * t
	p.bandWidth = 4.5 * t
	half := math.Min(usualHalf*w, w-p.bandWidth-0.5*t-units-15.8*t-p.line)
	half = math.Max(half, leastHalf*w)
	p.left, p.right = p.line-half, p.line+half
	p.titles = p.left - p.stub - 0.9*t
	p.values = [2]float64{p.right + 0.9*t, p.right + 8.3*t}
	p.unit = p.right + 15.8*t
	p.unitWidth = w - p.bandWidth - 0.5*t - p.unit
}

// x gives the place of a distance from the line, in standard deviations.
func (p *plumb) x(sd float64) float64 { return p.line + sd/p.span*(p.right-p.line) }

// centred gives the base line of text whose capitals are centred on y.
func (p *plumb) centred(y, scale float64) float64 { return y + 0.35*p.size*scale }

// head names the columns and the two directions.
func (p *plumb) head() {
	const scale = 0.86
	base := p.centred(p.row/2, scale)
	p.texts = append(p.texts,
		p.label(p.left, base, p.o.Words.Say("← lower"), Sans, scale, Start, Quiet, 0),
		p.label(p.right, base, p.o.Words.Say("higher →"), Sans, scale, End, Quiet, 0))
	if !p.o.Narrow {
		for i, side := range []form.Side{form.Left, form.Right} {
			word := p.label(p.decimal(i), base, card.SideIn(side, p.o.Words), Sans, scale, Start, Quiet, 0)
			p.texts = append(p.texts, word)
			p.marks = append(p.marks, bob(word.X-[]float64{0.4, 0.75}[i]*p.size, p.row/2, 0.95*p.size, side, Quiet, false))
		}
		p.texts = append(p.texts, p.label(p.o.Width, base, p.o.Words.Say("band"), Sans, scale, End, Quiet, 0))
	}
	p.y = p.row
}

func (p *plumb) bobHeight() float64 { return min(0.68*p.row, 1.15*p.size) }

// group draws an area: its beam with its name and state, and its rows. In a
// wide chart the name stands beside the first row, in a narrow one above.
func (p *plumb) group(g group) {
	ink, quiet := Text, Quiet
	if g.first {
		ink, quiet = Accent, Accent
	}
	if p.o.Narrow {
		p.narrowGroup(g, ink, quiet)
		return
	}
	beam := p.beam(p.y)
	p.y = beam + 0.5*p.row
	top := p.y
	for i, r := range g.rows {
		p.wideRow(r, beam, ink)
		if i > 0 {
			continue
		}
		base := p.centred((top+p.y)/2, 1)
		p.texts = append(p.texts, p.label(0, base, g.title, SerifItalic, 1.36, Start, ink, p.stub-0.5*p.size))
		if g.state != "" {
			state := p.label(0, base+1.25*p.size, g.state, Sans, 0.86, Start, quiet, p.stub-0.5*p.size)
			p.texts = append(p.texts, state)
			defer func() { p.y = math.Max(p.y, state.Y+0.55*p.size) }()
		}
	}
	p.y += 0.35 * p.row
}

func (p *plumb) narrowGroup(g group, ink, quiet Ink) {
	beam := p.beam(p.y + 2.6*p.size)
	base := beam - 0.7*p.size
	p.texts = append(p.texts, p.label(0, base, g.title, SerifItalic, 1.5, Start, ink, p.o.Width/2))
	if g.state != "" {
		p.texts = append(p.texts, p.label(p.o.Width, base, g.state, Sans, 0.88, End, quiet, 0.45*p.o.Width))
	}
	p.y = beam + 0.5*p.size
	for _, r := range g.rows {
		p.narrowRow(r, ink)
	}
}

// beam draws the line that an area's bobs hang from.
func (p *plumb) beam(y float64) float64 {
	p.lines = append(p.lines, Segment{0, y, p.o.Width, y, Stroke{Ink: Rule, Width: 0.06 * p.size}})
	return y
}

// wideRow sets title, plot, values, unit and band side by side.
func (p *plumb) wideRow(r row, beam float64, ink Ink) {
	height := p.row
	if r.paired() {
		height *= 1.3
	}
	middle := p.y + height/2
	base := p.centred(middle, 1)
	p.texts = append(p.texts, p.label(p.stub, base, p.starred(r), Sans, 1, Start, Text, p.titles))
	for _, m := range r.marks {
		switch m.side {
		case form.Both:
			p.number(m, (p.decimal(0)+p.decimal(1))/2, base)
		default:
			p.number(m, p.decimal(sideIndex(m.side)), base)
		}
	}
	p.texts = append(p.texts, p.label(p.unit, base, r.unit, Sans, unitScale, Start, Quiet, p.unitWidth))
	if r.band != "" {
		p.texts = append(p.texts, p.label(p.o.Width, base, r.band, Sans, 0.92, End, Quiet, p.bandWidth))
	}
	p.plot(r, middle, height, beam, ink)
	p.y += height
}

// narrowRow sets title and unit on one line, the values on the next, and the
// plot under them. Its bobs hang from the top of the plot, so that no thread
// runs through words.
func (p *plumb) narrowRow(r row, ink Ink) {
	base := p.y + 1.1*p.size
	right := strings.TrimSpace(r.unit)
	if r.band != "" {
		right = strings.TrimPrefix(right+" · "+p.o.Words.Say("band %s", r.band), " · ")
	}
	p.texts = append(p.texts,
		p.label(0, base, p.starred(r), SansMedium, 1, Start, Text, p.titles),
		p.label(p.o.Width, base, right, Sans, 0.88, End, Quiet, p.titles))
	base += 1.5 * p.size
	for _, m := range r.marks {
		text := m.shown.Value
		if m.shown.PlusMinus != "" {
			text += " ± " + m.shown.PlusMinus
		}
		x := p.values[0]
		if m.side != form.Both {
			x = p.values[sideIndex(m.side)]
			text = card.SideIn(m.side, p.o.Words) + " " + text
		}
		p.texts = append(p.texts, p.label(x, base, text, Sans, 1, Start, Text, p.titles))
	}
	p.y = base + 0.5*p.size
	if finite(r.bandLow) || finite(r.bandHigh) {
		height := 1.1 * p.row
		if r.paired() {
			height = 1.5 * p.row
		}
		p.plot(r, p.y+height/2, height, p.y, ink)
		p.y += height
	}
	p.y += 0.7 * p.size
}

func (p *plumb) starred(r row) string {
	if r.standIn {
		return r.title + " *"
	}
	return r.title
}

func sideIndex(s form.Side) int {
	if s == form.Right {
		return 1
	}
	return 0
}

// decimal is where the decimal points of a value column stand.
func (p *plumb) decimal(column int) float64 { return p.values[column] + 1.95*p.size }

// number sets "8.3 ± 2.1" with both decimal points in line with those above.
func (p *plumb) number(m mark, column, base float64) {
	// A number of five digits, which no runner has, gives up its place under the
	// others' points before it runs into the plot.
	decimal := column + math.Max(0, p.m.Width(Sans, p.size, wholePart(m.shown.Value))-2.8*p.size)
	room := 5 * p.size
	if m.shown.PlusMinus != "" {
		half := p.pointed(m.shown.PlusMinus, column+3.75*p.size, 2.3*p.size, base, Quiet)
		sign := p.label(half.X-0.22*p.size, base, "±", Sans, 1, End, Quiet, 0)
		p.texts = append(p.texts, half, sign)
		whole := wholePart(m.shown.Value)
		room = sign.Box().X1 - 0.1*p.size - (decimal - p.m.Width(Sans, p.size, whole))
	}
	p.texts = append(p.texts, p.pointed(m.shown.Value, decimal, room, base, Text))
}

// pointed sets a number, no wider than width, with its decimal point, or its
// end, at x.
func (p *plumb) pointed(text string, x, width, base float64, ink Ink) Label {
	whole := wholePart(text)
	return p.label(x-p.m.Width(Sans, p.size, whole), base, text, Sans, 1, Start, ink, width)
}

// plot draws the band, the whiskers and the bobs of a row. In a row of two
// sides the left one takes the upper lane and the right one the lower.
func (p *plumb) plot(r row, middle, height, beam float64, ink Ink) {
	if math.IsNaN(r.bandLow) {
		return
	}
	low, high := max(p.x(r.bandLow), p.left), min(p.x(r.bandHigh), p.right)
	if low < high {
		p.shades = append(p.shades, rect(low, middle-height/2, high, middle+height/2, Shade))
	}
	for _, m := range r.marks {
		y := middle
		switch m.side {
		case form.Left:
			y -= 0.27 * p.row
		case form.Right:
			y += 0.27 * p.row
		}
		p.hang(m, y, beam, ink)
	}
}

// hang draws one bob on its thread, with its whisker and its letter.
func (p *plumb) hang(m mark, y, beam float64, ink Ink) {
	if math.IsNaN(m.at) {
		return
	}
	x := min(max(p.x(m.at), p.left), p.right)
	beyond := x != p.x(m.at)
	h := p.bobHeight()
	if m.side != form.Both {
		h *= 0.96
	}
	stroke := Stroke{Ink: ink, Width: 0.1 * p.size}
	across := y - 0.12*h // the shoulder: where the bob is widest
	p.lines = append(p.lines, Segment{x, beam, x, y - h/2, Stroke{Ink: Thread, Width: 0.05 * p.size}})
	low, high := p.x(m.low), p.x(m.high)
	p.marks = append(p.marks, whisker(low, high, p.left, p.right, across, 0.12*p.row, stroke)...)
	p.marks = append(p.marks, bob(x, y, h, m.side, ink, beyond))
	if m.side == form.Both {
		return
	}
	letter, anchor, at := p.o.Words.Say("L"), End, x-0.5*h
	if m.side == form.Right {
		letter, anchor, at = p.o.Words.Say("R"), Start, x+0.5*h
	}
	if finite(low) && finite(high) {
		at = math.Min(at, low-0.25*p.size)
		if m.side == form.Right {
			at = math.Max(x+0.5*h, high+0.25*p.size)
		}
	}
	at = min(max(at, p.left-0.2*p.size), p.right+0.2*p.size)
	p.texts = append(p.texts, p.label(at, across+0.25*p.size, letter, Sans, 0.7, anchor, ink, 0))
}

// foot draws the axis, what it means, and the big bob that ends the line.
func (p *plumb) foot(standIn bool) {
	const scale = 0.8
	axis := p.beam(p.y) + 0.6*p.row
	hair := Stroke{Ink: Quiet, Width: 0.06 * p.size}
	p.lines = append(p.lines, Segment{p.left, axis, p.right, axis, hair})
	base, most := axis+1.25*p.size, int(p.span)
	end := p.label(p.right+0.5*p.size, base, p.o.Words.Say("%s SD", fmt.Sprintf("+%d", most)), Sans, scale, End, Quiet, 0)
	for k := -most; k <= most; k++ {
		x := p.x(float64(k))
		p.lines = append(p.lines, Segment{x, axis, x, axis + 0.3*p.size, hair})
		text := p.label(x, base, strings.Replace(fmt.Sprintf("%+d", k), "-", "−", 1), Sans, scale, Middle, Quiet, 0)
		if k != 0 && k != most && x+text.Width/2+0.2*p.size < end.X-end.Width {
			p.texts = append(p.texts, text)
		}
	}
	p.texts = append(p.texts, end)
	big := min(1.7*p.row, 2.7*p.size)
	p.plumbLine(axis + 0.55*p.row)
	p.marks = append(p.marks, bob(p.line, axis+0.5*p.row+big/2, big, form.Both, Accent, false))
	bottom := axis + 0.5*p.row + big
	p.y = math.Max(bottom, p.captions(axis, bottom, standIn))
}

// wholePart is a number up to its decimal mark.
func wholePart(text string) string {
	if i := strings.IndexAny(text, ".,"); i >= 0 {
		return text[:i]
	}
	return text
}

// plumbLine draws the plumb line itself from the top of the chart to its bob.
func (p *plumb) plumbLine(to float64) {
	p.lines = append([]Item{Segment{p.line, 0, p.line, to, Stroke{Ink: Accent, Width: 0.12 * p.size}}}, p.lines...)
}

// captions says what distance, shade, whisker and half bobs mean, to both
// sides of the axis (wide) or under it (narrow), and gives its lower end.
func (p *plumb) captions(axis, bottom float64, standIn bool) float64 {
	distance := p.o.Words.Say("Distance from the line: how far a value lies from the middle of its reference band, in standard deviations (SD) between runners.")
	marks := p.o.Words.Say("Shaded: the band. Whisker and ±: the 95 %% interval. Half bobs: left (L) and right (R) side. Hollow: beyond the axis.")
	if standIn {
		marks += " " + p.o.Words.Say("*: no published spread between runners; half the band’s width stands for 1 SD.")
	}
	if p.o.Narrow {
		y := p.caption(0, bottom+0.6*p.size, p.o.Width, distance)
		return p.caption(0, y+0.4*p.size, p.o.Width, marks)
	}
	top := axis - 0.35*p.size
	left := p.caption(0, top, p.left-1.4*p.size, distance)
	right := p.caption(p.values[0]+0.3*p.size, top, p.o.Width-p.values[0]-0.3*p.size, marks)
	return math.Max(left, right)
}

func (p *plumb) caption(x, top, width float64, text string) float64 {
	const scale, leading = 0.8, 1.28
	y := top
	for _, line := range Wrap(p.m, Sans, p.size*scale, width, text) {
		y += scale * leading * p.size
		p.texts = append(p.texts, p.label(x, y, line, Sans, scale, Start, Quiet, 0))
	}
	return y + 0.25*p.size
}

// finish puts the layers together.
func (p *plumb) finish() Drawing {
	p.d.Width, p.d.Height = p.o.Width, p.y
	for _, layer := range [][]Item{p.shades, p.lines, p.marks, p.texts} {
		p.d.add(layer...)
	}
	return p.d
}
