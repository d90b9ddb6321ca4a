package paper

import (
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"plumbstride/internal/card"
	"plumbstride/internal/chart"
	"plumbstride/internal/words"
)

// block is one column of the small print. Whole blocks are never cut. Where
// the page spells out what the last item says shortly, page is that.
type block struct {
	title string
	items []item
	whole bool
	page  []item
}

// printed is the small print laid out: its drawing, the width of each
// column, and how many items of each block were set.
type printed struct {
	chart.Drawing
	columns []float64
	shown   []int
}

// blocks are the columns of the small print that have anything to say.
func (p *composer) blocks() []block {
	notes := append([]item(nil), p.t.notes...)
	if len(p.t.sources) > 0 {
		notes = append(notes, cited(p.t.sources, p.o.Words))
	}
	var out []block
	for _, b := range []block{
		{title: p.o.Words.Say("Not measured, and why"), items: p.t.unmeasured},
		{title: p.o.Words.Say("Notes"), items: notes, page: spelledOut(p.t.sources, p.o.Words)},
		{title: p.o.Words.Say("Take care"), items: p.t.cautions, whole: true},
	} {
		if len(b.items) > 0 {
			out = append(out, b)
		}
	}
	return out
}

// lowerList joins titles in running text.
func lowerList(titles []string, between string, b words.Book) string {
	lower := make([]string, len(titles))
	for i, title := range titles {
		if b.Language() == words.German { // nouns stay as they are
			lower[i] = title
			continue
		}
		first, size := utf8.DecodeRuneInString(title)
		lower[i] = string(unicode.ToLower(first)) + title[size:]
	}
	return strings.Join(lower, between)
}

// smallPrint sets the blocks in columns, no higher than limit: what doesn't
// fit is counted in a last line. The columns share the width so that the
// highest is as low as can be; where that is over the limit, whole blocks
// get the width that they need first.
func (p *composer) smallPrint(size, limit float64) printed {
	blocks := p.blocks()
	if len(blocks) == 0 {
		return printed{}
	}
	out := printed{Drawing: chart.Drawing{Width: p.wide}, columns: p.bestWidths(blocks, size, limit)}
	x := 0.0
	for i, b := range blocks {
		column, shown := p.column(b, out.columns[i], size, limit)
		out.Place(column, x, 0, 1)
		out.Height = math.Max(out.Height, column.Height)
		out.shown = append(out.shown, shown)
		x += out.columns[i] + gutter
	}
	return out
}

// bestWidths tries all ways to share twelve parts among the columns, none
// with fewer than three. Blocks that may be cut count no higher than limit.
func (p *composer) bestWidths(blocks []block, size, limit float64) []float64 {
	const parts, least = 12, 3
	n := len(blocks)
	unit := (p.wide - gutter*float64(n-1)) / parts
	height := func(i, share int) float64 {
		column, _ := p.column(blocks[i], unit*float64(share), size, math.Inf(1))
		return column.Height
	}
	heights := make([][parts + 1]float64, n)
	for i := range blocks {
		for share := least; share <= parts; share++ {
			heights[i][share] = height(i, share)
		}
	}
	best, bestUncut := math.Inf(1), math.Inf(1)
	shares := make([]int, n)
	var try func(i, left int, most, uncut float64, taken []int)
	try = func(i, left int, most, uncut float64, taken []int) {
		if i == n {
			if most < best || most == best && uncut < bestUncut {
				best, bestUncut = most, uncut
				copy(shares, taken)
			}
			return
		}
		from, to := least, left-least*(n-1-i)
		if i == n-1 {
			from = left
		}
		for share := from; share <= to; share++ {
			high := heights[i][share]
			cut := high
			if !blocks[i].whole {
				cut = math.Min(high, limit)
			}
			try(i+1, left-share, math.Max(most, cut), math.Max(uncut, high), append(taken, share))
		}
	}
	try(0, parts, 0, 0, make([]int, 0, n))
	widths := make([]float64, n)
	for i, share := range shares {
		widths[i] = unit * float64(share)
	}
	return widths
}

// column sets one block: its title, then its items, heads in the medium cut.
// It gives the number of items set.
func (p *composer) column(b block, width, size, limit float64) (chart.Drawing, int) {
	leading, after := 1.3*size, 0.32*size
	d := chart.Drawing{Width: width}
	d.Add(chart.Set(p.m, 0, 1.05*size, b.title, chart.SerifItalic, 1.34*size, chart.Start, chart.Text))
	y := 1.05*size + 0.75*size
	for i, it := range b.items {
		lines := p.runs(it, width, size)
		need := y + leading*float64(len(lines)) + after
		more := len(b.items) - i - 1
		if room := limit - leading; !b.whole && (need > limit || more > 0 && need > room) {
			text := chart.Shorten(p.m, chart.Sans, size, width, countText(more+1, p.o.Words))
			d.Add(chart.Set(p.m, 0, y+size, text, chart.Sans, size, chart.Start, chart.Text))
			d.Height = y + leading
			return d, i
		}
		for _, line := range lines {
			y += leading
			for _, l := range line {
				l.Y += y - 0.3*size
				d.Add(l)
			}
		}
		y += after
	}
	d.Height = y
	return d, len(b.items)
}

// countText says on paper how much stands only on the page.
func countText(n int, b words.Book) string {
	if n == 1 {
		return b.Say("… and 1 more point: see the card’s page.")
	}
	return b.Say("… and %d more points: see the card’s page.", n)
}

// runs breaks an item into lines of one or two labels: its head in the
// medium cut runs on into its text.
func (p *composer) runs(it item, width, size float64) [][]chart.Label {
	var lines [][]chart.Label
	var x float64
	var line []chart.Label
	flow := func(text string, font chart.Font, ink chart.Ink) {
		for text != "" {
			room := width - x
			first := chart.Wrap(p.m, font, size, room, text)
			fits := first[0]
			if x > 0 && !strings.HasPrefix(text, fits) || x > 0 && p.cut(text, fits) {
				lines, line, x = append(lines, line), nil, 0
				continue
			}
			l := chart.Set(p.m, x, 0, fits, font, size, chart.Start, ink)
			line = append(line, l)
			x += l.Width + p.m.Width(font, size, " ")
			text = strings.TrimLeft(strings.TrimPrefix(text, fits), " ")
			if text != "" {
				lines, line, x = append(lines, line), nil, 0
			}
		}
	}
	flow(card.Clean(it.Head, math.MaxInt), chart.SansMedium, chart.Text)
	flow(card.Clean(it.Text, math.MaxInt), chart.Sans, chart.Text)
	return append(lines, line)
}

// cut tells whether a line would end inside a word.
func (p *composer) cut(text, line string) bool {
	rest := strings.TrimPrefix(text, line)
	return rest != "" && rest[0] != ' '
}
