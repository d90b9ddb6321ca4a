package paper

import (
	"fmt"
	"io"
	"math"
	"time"

	"github.com/skip2/go-qrcode"

	"plumbstride/internal/card"
	"plumbstride/internal/chart"
	"plumbstride/internal/handout"
	"plumbstride/internal/paper/fonts"
	"plumbstride/internal/plan"
	"plumbstride/internal/quantity"
	"plumbstride/internal/settings"
	"plumbstride/internal/stick"
	"plumbstride/internal/words"
)

// HandoutOptions say what stands on a handout besides its topics.
type HandoutOptions struct {
	Page    Page
	Units   quantity.Units
	Words   words.Book
	Shop    settings.Shop
	Links   []settings.Link
	Program string
	Made    time.Time
}

// Handout writes topics as one sheet to be printed on both sides, across, and
// folded in the middle: to A5, or to half a Letter. The same topics and
// options give the same bytes.
func Handout(w io.Writer, topics []handout.Topic, o HandoutOptions) error {
	o.Page = Options{Page: o.Page}.normal().Page
	set, err := fonts.Load()
	if err != nil {
		return err
	}
	pages, err := handoutPages(set, topics, o)
	if err != nil {
		return err
	}
	p := newPainter(set, pages[0].Width, pages[0].Height, documentOf{
		title: o.Words.Say("Running form, one thing at a time"), subject: card.Clean(o.Shop.Name, nameLimit),
		program: o.Program, language: string(o.Words.Language()), made: o.Made,
	})
	if o.Shop.Colour != "" {
		rgb, err := settings.ParseColour(o.Shop.Colour)
		if err != nil {
			return err
		}
		p.colour[chart.Accent] = chart.Colour{R: rgb[0], G: rgb[1], B: rgb[2]}
	}
	for _, page := range pages {
		p.pdf.AddPage()
		page.Paint(p)
	}
	if err := p.pdf.Output(w); err != nil {
		return fmt.Errorf("paper: write the handout: %w", err)
	}
	return nil
}

// handoutPages lays out the two sides: outside are back and front, inside
// are the topics.
func handoutPages(m chart.Measurer, topics []handout.Topic, o HandoutOptions) ([]chart.Drawing, error) {
	width, height := 841.89, 595.28
	if o.Page == Letter {
		width, height = 792, 612
	}
	outside := chart.Drawing{Width: width, Height: height}
	inside := chart.Drawing{Width: width, Height: height}
	codes, err := tempoCodes(o.Links)
	if err != nil {
		return nil, err
	}
	half := width / 2
	fitted(m, &outside, 0, half, func(p *panel) { p.back(o, codes) })
	fitted(m, &outside, half, half, func(p *panel) { p.front(o) })
	left := (len(topics) + 1) / 2
	fitted(m, &inside, 0, half, func(p *panel) { p.topics(topics[:left], o.Words) })
	fitted(m, &inside, half, half, func(p *panel) { p.topics(topics[left:], o.Words) })
	for _, d := range []*chart.Drawing{&outside, &inside} {
		for _, y := range []float64{8, height - 14} { // where to fold
			d.Add(chart.Segment{X1: half, Y1: y, X2: half, Y2: y + 6, Stroke: chart.Stroke{Ink: chart.Thread, Width: 0.5}})
		}
	}
	return []chart.Drawing{outside, inside}, nil
}

// panel is one quarter of the sheet's two sides, set from its top; size is
// that of its text.
type panel struct {
	m                     chart.Measurer
	d                     chart.Drawing
	x, wide, y, top, foot float64
	size                  float64
}

// panelMargin is free around each panel's text.
const panelMargin = 34.0

// The sizes of a handout's text: as large as all of it fits, but no larger
// than reads calmly.
const maxHandoutText, minHandoutText = 10.0, 6.6

// leastNotes is the room from which the foot of a panel is ruled for notes.
const leastNotes = 130.0

// fitted sets a panel in the largest type in which it fits.
func fitted(m chart.Measurer, into *chart.Drawing, x, width float64, set func(*panel)) {
	for size := maxHandoutText; ; size -= 0.1 {
		p := &panel{m: m, x: x + panelMargin, wide: width - 2*panelMargin, y: panelMargin, top: panelMargin, foot: into.Height - panelMargin, size: size}
		set(p)
		if p.y <= p.foot || size <= minHandoutText {
			into.Place(p.d, 0, 0, 1)
			return
		}
	}
}

func (p *panel) add(items ...chart.Item) { p.d.Add(items...) }

// lines sets wrapped text at an offset from the left edge.
func (p *panel) lines(text string, off, width float64, font chart.Font, size float64, ink chart.Ink) {
	for _, line := range chart.Wrap(p.m, font, size, width, text) {
		p.y += 1.34 * size
		p.add(chart.Set(p.m, p.x+off, p.y-0.34*size, line, font, size, chart.Start, ink))
	}
}

func (p *panel) heading(text string) {
	size := 1.55 * p.size
	p.lines(text, 0, p.wide, chart.SerifItalic, size, chart.Accent)
	p.y += 0.25 * p.size
}

// run sets a head in the medium cut with text running on behind it.
func (p *panel) run(it item, off, width float64) {
	c := &composer{m: p.m}
	for _, line := range c.runs(it, width, p.size) {
		p.y += 1.34 * p.size
		for _, l := range line {
			l.X, l.Y = l.X+p.x+off, l.Y+p.y-0.34*p.size
			p.add(l)
		}
	}
	p.y += 0.3 * p.size
}

func (p *panel) rule() {
	p.add(chart.Segment{X1: p.x, Y1: p.y, X2: p.x + p.wide, Y2: p.y, Stroke: chart.Stroke{Ink: chart.Rule, Width: 0.5}})
}

// topics sets areas under one another, each with its drawing at the left.
// What room is left is shared out between them.
func (p *panel) topics(list []handout.Topic, b words.Book) {
	const column, gap = 92.0, 14.0
	type block struct {
		d    chart.Drawing
		high float64
	}
	var blocks []block
	total := 0.0
	for _, t := range list {
		q := &panel{m: p.m, x: p.x, wide: p.wide, size: p.size}
		q.topic(t, b, column, gap)
		blocks = append(blocks, block{q.d, q.y})
		total += q.y
	}
	space := 1.6 * p.size
	if n := len(blocks); n > 1 {
		space = math.Max(space, math.Min(44, (p.foot-p.top-total)/float64(n-1)))
	}
	for i, k := range blocks {
		if i > 0 {
			p.y += 0.55 * space
			p.rule()
			p.y += 0.45 * space
		}
		p.d.Place(k.d, 0, p.y, 1)
		p.y += k.high
	}
	p.notes(b)
}

// notes rules what is left of a panel, to be written on.
func (p *panel) notes(b words.Book) {
	if p.y+leastNotes > p.foot {
		return
	}
	if p.y > p.top {
		p.y += 30
	}
	p.lines(b.Say("Notes"), 0, p.wide, chart.SerifItalic, 1.7*p.size, chart.Accent)
	for p.y += 26; p.y < p.foot; p.y += 26 {
		p.add(chart.Segment{X1: p.x, Y1: p.y, X2: p.x + p.wide, Y2: p.y, Stroke: chart.Stroke{Ink: chart.Thread, Width: 0.5}})
	}
	p.y = p.foot
}

func (p *panel) topic(t handout.Topic, b words.Book, column, gap float64) {
	figure := chart.Figures(p.m, b.Of(t.Area), b.Of(t.Alt), []stick.Figure{bare(t.Figure)})
	scale := math.Min(column/figure.Width, 132/figure.Height)
	p.d.Place(figure, p.x+(column-scale*figure.Width)/2, 2, scale)
	off, width := column+gap, p.wide-column-gap
	p.lines(card.Capital(b.Of(t.Area)), off, width, chart.SerifItalic, 1.7*p.size, chart.Accent)
	p.y += 0.15 * p.size
	p.lines(b.Of(t.What), off, width, chart.Serif, 1.12*p.size, chart.Text)
	p.y += 0.4 * p.size
	p.run(item{b.Say("At home:"), b.Of(t.Try)}, off, width)
	p.run(item{b.Say("It can tell"), b.Of(t.Tells)}, off, width)
	p.run(item{b.Say("It can’t tell"), b.Of(t.Not)}, off, width)
	p.y = math.Max(p.y, scale*figure.Height)
}

// bare is a pose without its caption.
func bare(pose stick.Pose) stick.Figure {
	pose.Caption = ""
	return stick.Solve(pose)
}

// front sets the title, the drawing and the lines to write on.
func (p *panel) front(o HandoutOptions) {
	b := o.Words
	if name := card.Clean(o.Shop.Name, nameLimit); name != "" {
		p.lines(name, 0, p.wide, chart.Serif, 17, chart.Accent)
		if line := card.Clean(o.Shop.Line, 100); line != "" {
			p.y += 2
			p.lines(line, 0, p.wide, chart.Sans, 8.5, chart.Quiet)
		}
	}
	var figures []stick.Figure
	for _, pose := range handout.Stride() {
		pose.Caption = b.Of(pose.Caption)
		figures = append(figures, stick.Solve(pose))
	}
	d := chart.Figures(p.m, b.Say("Four moments of a running stride"), "", figures)
	scale := p.wide / d.Width
	p.y = math.Max(p.y+30, 150)
	p.d.Place(d, p.x, p.y, scale)
	p.y += scale*d.Height + 26
	for _, line := range chart.Balance(p.m, chart.Serif, 25, p.wide, b.Say("Running form, one thing at a time")) {
		p.lines(line, 0, p.wide, chart.Serif, 25, chart.Text)
	}
	p.y += 6
	p.lines(b.Say("What to look at, what you can try at home, and how to film yourself when you want to know."), 0, p.wide, chart.Serif, 12.5, chart.Quiet)
	p.y = math.Max(p.y+30, p.foot-118)
	for _, label := range []string{b.Say("Runner"), b.Say("Date"), b.Say("My one thing"), b.Say("My cadence, and at what speed")} {
		p.y += 24
		l := chart.Set(p.m, p.x, p.y, label, chart.Sans, 8.5, chart.Start, chart.Quiet)
		p.add(l, chart.Segment{X1: p.x + l.Width + 8, Y1: p.y + 1.5, X2: p.x + p.wide, Y2: p.y + 1.5, Stroke: chart.Stroke{Ink: chart.Thread, Width: 0.6}})
	}
	p.y += 6
}

// back sets how to film, the tempo links, the pain rule and the cautions.
func (p *panel) back(o HandoutOptions, codes []code) {
	b := o.Words
	p.heading(b.Say("Film yourself again"))
	for i, text := range handout.Filming(o.Units) {
		p.numbered(i+1, b.Of(text))
	}
	p.y += 0.8 * p.size
	if len(codes) > 0 {
		p.heading(b.Say("A beat to run to"))
		p.y += 4
		p.codes(codes)
	}
	p.heading(b.Say("Take care"))
	scale := chart.PainScale(p.m, plan.PainRule(), chart.PlanOptions{Width: p.wide, Text: 0.95 * p.size, Words: b})
	p.d.Place(scale, p.x, p.y, 1)
	p.y += scale.Height + 1
	key := b.Say("Pain from 0 to 10. 0: go on. 1 to 3: stop practising, go home easily. 4 and 5: stop and walk. 6 to 10: stop, and see someone before you run again.")
	p.lines(key, 0, p.wide, chart.Sans, 0.92*p.size, chart.Quiet)
	p.y += 0.4 * p.size
	for _, text := range handout.Cautions() {
		p.numbered(0, b.Of(text))
	}
	p.y += 0.4 * p.size
	p.lines(b.Say("Made with %s, %s", card.Clean(o.Program, 40), b.Date(o.Made)), 0, p.wide, chart.Sans, math.Min(6.6, p.size), chart.Quiet)
}

// numbered sets a paragraph behind its number, or a dash for 0.
func (p *panel) numbered(n int, text string) {
	mark := "–"
	if n > 0 {
		mark = fmt.Sprint(n)
	}
	p.add(chart.Set(p.m, p.x, p.y+p.size, mark, chart.SansMedium, p.size, chart.Start, chart.Accent))
	p.lines(text, 1.6*p.size, p.wide-1.6*p.size, chart.Sans, p.size, chart.Text)
	p.y += 0.25 * p.size
}

// code is a QR code as rows of dark and light, with its label.
type code struct {
	label string
	dark  [][]bool
}

// tempoCodes makes the QR codes of links (ISO/IEC 18004, medium correction).
func tempoCodes(links []settings.Link) ([]code, error) {
	var out []code
	for _, l := range links {
		q, err := qrcode.New(l.Link, qrcode.Medium)
		if err != nil {
			return nil, fmt.Errorf("paper: the QR code of %s: %w", l.Label, err)
		}
		q.DisableBorder = true // the paper around it is white
		out = append(out, code{card.Clean(l.Label, 40), q.Bitmap()})
	}
	return out, nil
}

// codes sets QR codes in a row, labels to their right.
func (p *panel) codes(list []code) {
	const high = 56.0
	columns := min(2, len(list))
	width := (p.wide - 10*float64(columns-1)) / float64(columns)
	for i, c := range list {
		x := p.x + (width+10)*float64(i%columns)
		if i > 0 && i%columns == 0 {
			p.y += high + 8
		}
		p.d.Place(c.drawing(high), x, p.y, 1)
		lines := chart.Clamp(p.m, chart.SansMedium, 8.4, width-high-8, 3, c.label)
		for n, line := range lines {
			p.add(chart.Set(p.m, x+high+8, p.y+12+11*float64(n), line, chart.SansMedium, 8.4, chart.Start, chart.Text))
		}
	}
	p.y += high + 8
}

// drawing is the code as dark runs on a light ground, its quiet zone of four
// squares left to the paper's white.
func (c code) drawing(side float64) chart.Drawing {
	d := chart.Drawing{Width: side, Height: side}
	k := side / float64(len(c.dark))
	path := chart.Path{Fill: chart.Text}
	for y, row := range c.dark {
		for x := 0; x < len(row); x++ {
			from := x
			for x < len(row) && row[x] {
				x++
			}
			if x > from {
				x1, x2, y1, y2 := k*float64(from), k*float64(x), k*float64(y), k*float64(y+1)
				path.Ops = append(path.Ops, chart.Op{Do: 'M', X: x1, Y: y1}, chart.Op{Do: 'L', X: x2, Y: y1},
					chart.Op{Do: 'L', X: x2, Y: y2}, chart.Op{Do: 'L', X: x1, Y: y2}, chart.Op{Do: 'Z'})
			}
		}
	}
	d.Add(path)
	return d
}
