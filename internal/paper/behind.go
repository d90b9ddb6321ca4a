package paper

import (
	"html/template"

	"plumbstride/internal/card"
	"plumbstride/internal/chart"
	"plumbstride/internal/paper/fonts"
)

// behindPart is the page's part about a second clip, from behind.
type behindPart struct {
	Says              string
	Stills            []stillFigure
	Wide, Narrow, Key template.HTML
	Blocks            []printBlock

	lines  []measureLine
	footer []string
}

func newBehindPart(set *fonts.Set, c card.Card, o Options) (*behindPart, error) {
	sheet := compose(set, c, o)
	p := &behindPart{Says: sheet.t.priority, lines: sheet.t.measures, footer: sheet.t.footer}
	if len(c.Measures) > 0 {
		wide := chart.Plumb(c, set, chart.PlumbOptions{Width: sheet.wide, Row: sheet.used.row, Text: sheet.used.text, Units: o.Units, Words: o.Words})
		narrow := chart.Plumb(c, set, chart.PlumbOptions{Width: narrowWidth, Row: 20, Text: 12.6, Narrow: true, Units: o.Units, Words: o.Words})
		p.Wide, p.Narrow = template.HTML(wide.SVG("behind-wide")), template.HTML(narrow.SVG("behind-narrow"))
	}
	var err error
	if p.Stills, err = figures(withImage(c.Pictures, 2), o.Words); err != nil {
		return nil, err
	}
	if len(p.Stills) > 0 {
		p.Key = template.HTML(chart.KeyOf(withImage(c.Pictures, 1)[0], set, 104, 8.4, o.Words).SVG("behind-key"))
	}
	for i, b := range sheet.blocks() {
		p.Blocks = append(p.Blocks, newPrintBlock(b, sheet.set.print.shown[i], o.Words))
	}
	return p, nil
}
