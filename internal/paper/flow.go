package paper

import (
	"fmt"
	"image"
	"io"
	"math"
	"strings"

	"plumbstride/internal/chart"
	"plumbstride/internal/paper/fonts"
)

// flow sets text and drawings one under another over as many sheets as they
// take, in points.
type flow struct {
	m             chart.Measurer
	width, height float64
	left, wide    float64 // of the text
	pages         []chart.Drawing
	stills        map[int][]still // of each sheet, under its drawing
	y             float64
}

// flowBottom is the height kept free at a sheet's foot for its line.
const flowBottom = 46.0

func newFlow(m chart.Measurer, page Page) *flow {
	f := &flow{m: m, width: 595.28, height: 841.89, left: 56}
	if page == Letter {
		f.width, f.height = 612, 792
	}
	f.wide = f.width - 2*f.left
	f.turn()
	return f
}

// turn begins a new sheet.
func (f *flow) turn() {
	f.pages = append(f.pages, chart.Drawing{Width: f.width, Height: f.height})
	f.y = 50
}

func (f *flow) add(items ...chart.Item) { f.pages[len(f.pages)-1].Add(items...) }

// keep turns the sheet where less than a height is left.
func (f *flow) keep(height float64) {
	if f.y+height > f.height-flowBottom && f.y > 50 {
		f.turn()
	}
}

func (f *flow) gap(height float64) { f.y += height }

// rule draws a hairline over the width.
func (f *flow) rule() {
	f.add(chart.Segment{X1: f.left, Y1: f.y, X2: f.left + f.wide, Y2: f.y, Stroke: chart.Stroke{Ink: chart.Rule, Width: 0.5}})
}

// heading sets a title that stays with what follows on it.
func (f *flow) heading(text string, follows float64) {
	const size = 14.0
	if f.y > 50 {
		f.gap(15)
	}
	f.keep(size*1.4 + follows)
	f.gap(size)
	f.add(chart.Set(f.m, f.left, f.y, text, chart.SerifItalic, size, chart.Start, chart.Text))
	f.gap(0.55 * size)
}

// lines sets lines of one font.
func (f *flow) lines(x float64, lines []string, font chart.Font, size, leading float64, ink chart.Ink) {
	for _, line := range lines {
		f.keep(leading)
		f.gap(leading)
		f.add(chart.Set(f.m, x, f.y-0.27*leading, line, font, size, chart.Start, ink))
	}
}

// paragraph wraps a text to the width and sets it.
func (f *flow) paragraph(text string, font chart.Font, size float64, ink chart.Ink) {
	f.lines(f.left, chart.Wrap(f.m, font, size, f.wide, text), font, size, 1.36*size, ink)
}

// entry sets a text behind a head that hangs to the left of it.
func (f *flow) entry(head, text string, indent, size float64) {
	leading := 1.36 * size
	lines := chart.Wrap(f.m, chart.Sans, size, f.wide-indent, text)
	heads := chart.Wrap(f.m, chart.SansMedium, size, indent-6, head)
	f.keep(leading * math.Min(3, float64(len(lines))))
	for i := range max(len(lines), len(heads)) {
		f.keep(leading)
		f.gap(leading)
		if i < len(heads) {
			f.add(chart.Set(f.m, f.left, f.y-0.27*leading, heads[i], chart.SansMedium, size, chart.Start, chart.Text))
		}
		if i < len(lines) {
			f.add(chart.Set(f.m, f.left+indent, f.y-0.27*leading, lines[i], chart.Sans, size, chart.Start, chart.Text))
		}
	}
	f.gap(0.25 * size)
}

// bullet sets a text behind a short dash.
func (f *flow) bullet(text string, size float64) { f.entry("–", text, 1.3*size, size) }

// sourced sets a text with its source behind it, smaller and quiet.
func (f *flow) sourced(text, source string, size float64) {
	indent := 1.3 * size
	lines := chart.Wrap(f.m, chart.Sans, 0.84*size, f.wide-indent, source)
	f.keep(1.36*size*float64(len(chart.Wrap(f.m, chart.Sans, size, f.wide-indent, text))) + 1.12*size*float64(len(lines)))
	f.bullet(text, size)
	f.gap(-0.25 * size)
	f.lines(f.left+indent, lines, chart.Sans, 0.84*size, 1.12*size, chart.Quiet)
	f.gap(0.3 * size)
}

// drawing sets a drawing at the left edge, turning the sheet before it where
// it doesn't fit. Where it is wider than the text it is made smaller.
func (f *flow) drawing(d chart.Drawing) {
	scale := math.Min(1, f.wide/d.Width)
	f.keep(scale * d.Height)
	f.place(d, f.left, scale)
	f.gap(scale * d.Height)
}

// top sets the title of a sheet over a smaller line, with a rule under both.
func (f *flow) top(title string, size float64, line string) {
	f.gap(12)
	f.add(chart.Set(f.m, f.left, f.y, chart.Shorten(f.m, chart.Serif, size, f.wide, title), chart.Serif, size, chart.Start, chart.Text))
	f.gap(13)
	f.add(chart.Set(f.m, f.left, f.y, chart.Shorten(f.m, chart.Sans, 9, f.wide, line), chart.Sans, 9, chart.Start, chart.Quiet))
	f.gap(9)
	f.rule()
}

// picture sets a picture at the left edge, as wide as the text or as high as
// high, whichever is less, turning the sheet before it where it doesn't fit.
func (f *flow) picture(img image.Image, high float64) {
	size := img.Bounds().Size()
	k := math.Min(f.wide/float64(size.X), high/float64(size.Y))
	w, h := k*float64(size.X), k*float64(size.Y)
	f.keep(h)
	if f.stills == nil {
		f.stills = map[int][]still{}
	}
	page := len(f.pages) - 1
	f.stills[page] = append(f.stills[page], still{chart.Box{X1: f.left, Y1: f.y, X2: f.left + w, Y2: f.y + h}, img})
	f.gap(h)
}

// place puts a drawing at the current height.
func (f *flow) place(d chart.Drawing, x, scale float64) {
	f.pages[len(f.pages)-1].Place(d, x, f.y, scale)
}

// feet writes a line at the foot of every sheet, with its number.
func (f *flow) feet(text string) {
	for i := range f.pages {
		number := fmt.Sprintf("%d / %d", i+1, len(f.pages))
		y := f.height - 26
		n := chart.Set(f.m, f.left+f.wide, y, number, chart.Sans, 7.2, chart.End, chart.Quiet)
		room, size := f.wide-n.Width-20, 7.2
		for f.m.Width(chart.Sans, size, text) > room && size > 5.8 {
			size -= 0.1
		}
		f.pages[i].Add(n, chart.Set(f.m, f.left, y, chart.Shorten(f.m, chart.Sans, size, room, text), chart.Sans, size, chart.Start, chart.Quiet))
	}
}

// write puts the sheets into a PDF.
func (f *flow) write(w io.Writer, set *fonts.Set, about documentOf) error {
	p := newPainter(set, f.width, f.height, about)
	widths, n := map[int]bool{}, 0
	for i, page := range f.pages {
		p.pdf.AddPage()
		for _, st := range f.stills[i] {
			p.still(n, st, widths)
			n++
		}
		page.Paint(p)
	}
	if err := p.pdf.Output(w); err != nil {
		return fmt.Errorf("paper: write the PDF: %w", err)
	}
	return nil
}

// bracketed is a source as it stands behind a text.
func bracketed(source string) string { return "[" + strings.TrimSuffix(source, ".") + "]" }
