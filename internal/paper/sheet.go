package paper

import (
	"image"
	"math"
	"strings"

	"plumbstride/internal/card"
	"plumbstride/internal/chart"
)

// The sheet's grid, in points.
const (
	marginX      = 42.0
	marginTop    = 38.0
	marginBottom = 28.0
	gutter       = 18.0
)

// sheet is one finished page in points: everything drawn, and the stills,
// which lie under the drawing.
type sheet struct {
	width, height float64
	drawing       chart.Drawing
	stills        []still
}

// still is a picture of the clip and where it stands on the sheet.
type still struct {
	box chart.Box
	img image.Image
}

// density is how tightly a sheet is set: the row height and type of the
// chart, the height of the pictures, the type of the small print, and the
// gaps between the three.
type density struct{ row, text, picture, small, gap float64 }

// densities are tried from roomy to tight; the first that takes everything
// is used. On the last one the small print is cut instead.
//
// The type of the chart is never under 7.1, so that all its labels but the
// axis are at least 6.5 high, and the pictures stay about 4.5 cm.
var densities = []density{
	{17.0, 7.6, 180, 8.0, 15}, {15.2, 7.6, 176, 7.7, 15}, {13.6, 7.6, 170, 7.4, 15}, {12.8, 7.5, 158, 7.2, 15},
	{12.2, 7.5, 146, 7.0, 15}, {11.6, 7.4, 136, 6.8, 15}, {11.0, 7.3, 130, 6.6, 15}, {10.4, 7.2, 128, 6.4, 14},
	{9.8, 7.1, 127, 6.2, 13}, {9.3, 7.1, 126, 6.0, 11}, {8.8, 7.1, 118, 5.9, 10},
}

const maxPicture = 190.0

// composer lays a sheet out.
type composer struct {
	m    chart.Measurer
	c    card.Card
	o    Options
	t    content
	s    sheet
	left float64 // of the text
	wide float64 // of the text
	line float64 // x of the plumb line

	first float64 // size of the priority's words

	used density // that the body was set in
	set  parts   // the body as it was set
}

// compose lays a card, which is in its language already, out on one sheet,
// the composer's s.
func compose(m chart.Measurer, c card.Card, o Options) *composer {
	p := &composer{m: m, c: c, o: o, t: newContent(c, o)}
	p.s.width, p.s.height = 595.28, 841.89
	if o.Page == Letter {
		p.s.width, p.s.height = 612, 792
	}
	p.left, p.wide = marginX, p.s.width-2*marginX
	p.line = p.left + chart.PlumbAt*p.wide
	p.s.drawing = chart.Drawing{Width: p.s.width, Height: p.s.height, Title: o.Words.Say("Form card")}
	top := p.priority(p.header(marginTop))
	bottom := p.footer()
	p.used, p.set = densities[0], parts{pictures: maxPicture, scale: 1}
	p.body(top, bottom)
	return p
}

func (p *composer) add(items ...chart.Item) { p.s.drawing.Add(items...) }

func (p *composer) text(x, y float64, text string, font chart.Font, size float64, anchor chart.Anchor, ink chart.Ink) chart.Label {
	l := chart.Set(p.m, x, y, text, font, size, anchor, ink)
	p.add(l)
	return l
}

// paragraph sets lines from a base line on and gives the one after the last.
func (p *composer) paragraph(x, y float64, lines []string, font chart.Font, size, leading float64, ink chart.Ink) float64 {
	for _, line := range lines {
		p.text(x, y, line, font, size, chart.Start, ink)
		y += leading
	}
	return y
}

// header sets who and when, and gives the y under it.
func (p *composer) header(y float64) float64 {
	base := y + 12
	when := p.text(p.left+p.wide, base, p.t.when, chart.Sans, 8, chart.End, chart.Quiet)
	room := p.wide - when.Width - gutter
	p.text(p.left, base, chart.Shorten(p.m, chart.Serif, 15, room, p.t.name), chart.Serif, 15, chart.Start, chart.Text)
	base += 13
	p.text(p.left+p.wide, base, p.o.Words.Say("Form card"), chart.Sans, 8, chart.End, chart.Quiet)
	facts := chart.Shorten(p.m, chart.Sans, 8, room, strings.Join(p.t.facts, "  ·  "))
	p.text(p.left, base, facts, chart.Sans, 8, chart.Start, chart.Quiet)
	base += 9
	p.add(chart.Segment{X1: p.left, Y1: base, X2: p.left + p.wide, Y2: base, Stroke: chart.Stroke{Ink: chart.Rule, Width: 0.5}})
	return base
}

// priority sets the one thing to work on, the largest words on the sheet.
func (p *composer) priority(y float64) float64 {
	y += 17
	p.text(p.left, y, p.t.lead, chart.SansMedium, 8.6, chart.Start, chart.Accent)
	size := 18.5
	lines := chart.Wrap(p.m, chart.Serif, size, p.wide, p.t.priority)
	for len(lines) > 3 && size > 11.5 {
		size -= 0.5
		lines = chart.Wrap(p.m, chart.Serif, size, p.wide, p.t.priority)
	}
	if lines = chart.Balance(p.m, chart.Serif, size, p.wide, p.t.priority); len(lines) > 5 {
		lines = chart.Clamp(p.m, chart.Serif, size, p.wide, 5, p.t.priority)
	}
	p.first = size
	leading := 1.24 * size
	return p.paragraph(p.left, y+1.25*size+2, lines, chart.Serif, size, leading, chart.Text) - leading + 0.3*size
}

// footer sets clip facts and networks at the bottom and gives the y above.
func (p *composer) footer() float64 {
	const size, leading = 6.2, 8.0
	y := p.s.height - marginBottom - leading*float64(len(p.t.footer)-1)
	top := y - 11
	p.add(chart.Segment{X1: p.left, Y1: top, X2: p.left + p.wide, Y2: top, Stroke: chart.Stroke{Ink: chart.Rule, Width: 0.5}})
	for _, line := range p.t.footer {
		line = chart.Shorten(p.m, chart.Sans, size, p.wide, line)
		p.text(p.left, y, line, chart.Sans, size, chart.Start, chart.Quiet)
		y += leading
	}
	return top
}

// parts are what the middle of the sheet is made of.
type parts struct {
	pictures float64 // their height, 0 for none
	chart    chart.Drawing
	print    printed
	scale    float64 // of the chart: 1 unless even the tightest is too high
	stroke   float64 // width of the plumb line
}

// body sets pictures, chart and small print between two heights: as roomy
// as they fit.
func (p *composer) body(top, bottom float64) {
	if len(p.c.Measures) == 0 {
		p.withoutChart(top+1.6*densities[0].gap, bottom)
		return
	}
	for i, d := range densities {
		room := bottom - top - 3*d.gap
		part := parts{chart: p.chart(d), scale: 1, stroke: 0.12 * d.text}
		part.pictures = p.pictureHeight(d.picture)
		last := i == len(densities)-1
		if part.chart.Height+part.pictures > room && !last {
			continue
		}
		part.print = p.smallPrint(d.small, math.Inf(1))
		spare := room - part.chart.Height - part.pictures - part.print.Height
		if spare < 0 && !last {
			continue
		}
		if spare < 0 {
			part = p.squeezed(part, d, room)
			spare = 0
		}
		if part.pictures > 0 {
			grown := p.pictureHeight(part.pictures + math.Min(spare, maxPicture-part.pictures))
			spare -= grown - part.pictures
			part.pictures = grown
		}
		p.used, p.set = d, part
		p.place(top, bottom, d.gap+math.Min(spare/4, 9), part)
		return
	}
}

// squeezed cuts the small print to the room that is left. Cautions are never
// cut: the pictures give way to them first, then the chart.
func (p *composer) squeezed(part parts, d density, room float64) parts {
	left := func() float64 { return room - part.chart.Height - part.pictures }
	part.print = p.smallPrint(d.small, left())
	if over := part.print.Height - left(); over > 0 && part.pictures > 0 {
		part.pictures = p.pictureHeight(math.Max(leastOfCaption, part.pictures-over))
		part.print = p.smallPrint(d.small, left())
	}
	part.scale = math.Min(1, (room-part.pictures-part.print.Height)/part.chart.Height)
	return part
}

// withoutChart sets a card that has nothing measured: the small print comes
// straight under the words, in a size to be read.
func (p *composer) withoutChart(y, bottom float64) {
	if len(p.stills()) > 0 {
		height := p.pictureHeight(maxPicture)
		p.pictures(y, height)
		y += height + gutter
	}
	for size := 9.0; size >= 6; size -= 0.5 {
		print := p.smallPrint(size, math.Inf(1))
		if print.Height > bottom-y && size > 6 {
			continue
		}
		if print.Height > bottom-y {
			print = p.smallPrint(size, bottom-y)
		}
		p.s.drawing.Place(print.Drawing, p.left, y, 1)
		p.set.print = print
		return
	}
}

// place puts the three parts at their heights; the plumb line runs from the
// priority down to the chart's bob.
func (p *composer) place(top, bottom, gap float64, part parts) {
	y := top + gap
	chartTop := y
	if part.pictures > 0 {
		p.pictures(y, part.pictures)
		chartTop = y + part.pictures + gap
		p.hook(y-0.45*gap, chartTop, part.stroke*part.scale)
	}
	p.s.drawing.Place(part.chart, p.left+(1-part.scale)*chart.PlumbAt*p.wide, chartTop, part.scale)
	p.s.drawing.Place(part.print.Drawing, p.left, bottom-0.6*gap-part.print.Height, 1)
}

// hook is the short beam and the part of the plumb line over the chart.
func (p *composer) hook(from, to, width float64) {
	stroke := chart.Stroke{Ink: chart.Accent, Width: width}
	p.add(chart.Segment{X1: p.line - 7, Y1: from, X2: p.line + 7, Y2: from, Stroke: stroke},
		chart.Segment{X1: p.line, Y1: from, X2: p.line, Y2: to, Stroke: stroke})
}

func (p *composer) chart(d density) chart.Drawing {
	return chart.Plumb(p.c, p.m, chart.PlumbOptions{Width: p.wide, Row: d.row, Text: d.text, Units: p.o.Units, Words: p.o.Words})
}

// stills are the first two pictures that have an image.
func (p *composer) stills() []card.Picture { return withImage(p.c.Pictures, 2) }

func withImage(pictures []card.Picture, most int) []card.Picture {
	var out []card.Picture
	for _, picture := range pictures {
		if picture.Image != nil && !picture.Image.Bounds().Empty() && len(out) < most {
			out = append(out, picture)
		}
	}
	return out
}

// The pictures' distance from the plumb line, and the width that the caption
// on the left keeps.
const (
	pictureOff     = 11.0
	captionWidth   = 74.0
	leastOfCaption = 92.0 // height of a caption with the key under it
	lonelyStance   = 150.0
)

// pictureHeight is the height that the pictures take when they may take
// most: less where they are so wide that their width decides; 0 for none.
func (p *composer) pictureHeight(most float64) float64 {
	height := 0.0
	for _, picture := range p.stills() {
		size := picture.Image.Bounds().Size()
		height = math.Max(height, math.Min(most, p.pictureRoom()*float64(size.Y)/float64(size.X)))
	}
	if _, ok := p.stance(most); ok && height == 0 {
		return math.Min(most, lonelyStance)
	}
	if height > 0 {
		height = math.Min(most, math.Max(height, leastOfCaption))
	}
	return height
}

func (p *composer) pictureRoom() float64 { return p.line - p.left - pictureOff - captionWidth }

// pictures sets up to two stills beside the plumb line, each with its
// caption on its outer side, and the key to their lines under the caption
// that leaves room for it.
func (p *composer) pictures(y, height float64) {
	const off = pictureOff
	room := p.pictureRoom()
	key := p.key()
	keyX := math.NaN()
	var right float64
	for i, picture := range p.stills() {
		size := picture.Image.Bounds().Size()
		k := math.Min(room/float64(size.X), height/float64(size.Y))
		w, h := k*float64(size.X), k*float64(size.Y)
		x := p.line - off - w
		if i == 1 {
			x = p.line + off
		}
		p.s.stills = append(p.s.stills, still{chart.Box{X1: x, Y1: y, X2: x + w, Y2: y + h}, picture.Image})
		p.s.drawing.Place(chart.Overlay(picture, size.X, size.Y), x, y, k)
		at, width := p.left, x-p.left-9
		if i == 1 {
			at, width = x+w+9, p.left+p.wide-x-w-9
		}
		right = math.Max(p.line+off, x+w+9)
		if end := p.caption(picture, at, y, width); math.IsNaN(keyX) && end <= y+height-key.Height {
			keyX = at
		}
	}
	if len(p.stills()) < 2 {
		if stance, ok := p.stance(height); ok {
			p.s.drawing.Place(stance, p.line+off, y, 1)
		} else if math.IsNaN(keyX) && len(p.stills()) == 1 {
			keyX = right
		}
	}
	if !math.IsNaN(keyX) {
		p.s.drawing.Place(key, keyX, y+height-key.Height, 1)
	}
}

// key explains the lines on the pictures that there are.
func (p *composer) key() chart.Drawing {
	var first card.Picture
	if stills := p.stills(); len(stills) > 0 {
		first = stills[0]
	}
	return chart.KeyOf(first, p.m, captionWidth-4, 6.6, p.o.Words)
}

// stance is the drawing of a standing check, in the place of a second still.
func (p *composer) stance(height float64) (chart.Drawing, bool) {
	if p.c.Kind != card.Standing {
		return chart.Drawing{}, false
	}
	return chart.Stance(p.c, p.m, chart.StanceOptions{
		Width: p.left + p.wide - p.line - pictureOff, Height: height, Text: 7.1, Units: p.o.Units, Words: p.o.Words,
	})
}

// caption says which moment a picture shows, and gives the y under it.
func (p *composer) caption(picture card.Picture, x, y, width float64) float64 {
	title := card.Capital(card.Clean(picture.Title, 60))
	if title == "" {
		title = card.Capital(card.Clean(picture.Moment, 60))
	}
	lines := chart.Clamp(p.m, chart.SerifItalic, 11, width, 2, title)
	y = p.paragraph(x, y+8, lines, chart.SerifItalic, 11, 12.5, chart.Text)
	lines = chart.Clamp(p.m, chart.Sans, 7, width, 2, bound(chart.MomentWords(picture, p.o.Words)))
	return p.paragraph(x, y, lines, chart.Sans, 7, 9, chart.Quiet) - 5
}
