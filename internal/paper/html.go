package paper

import (
	"bytes"
	_ "embed" // the page and its style
	"encoding/base64"
	"fmt"
	"html/template"
	"image"
	"io"
	"strings"

	"plumbstride/internal/card"
	"plumbstride/internal/chart"
	"plumbstride/internal/paper/fonts"
	"plumbstride/internal/plan"
	"plumbstride/internal/words"
)

//go:embed card.html
var pageText string

// frameText is what stands around every page: its text defines "title" and
// "body".
//
//go:embed frame.html
var frameText string

//go:embed card.css
var styleText string

// narrowWidth is the width in units of the chart for phones: at 360 pixels
// with the page's margins, a unit is about a pixel.
const narrowWidth = 328

// page is what the template shows.
type page struct {
	content
	Language                   words.Language
	book                       words.Book
	Name, When, Lead, Priority string
	Facts, Footer              []string
	Style                      template.CSS
	Policy                     string
	Wide, Narrow, Key          template.HTML
	Stance, StanceNarrow       template.HTML
	Behind                     *behindPart
	WhatIf, WhatIfNarrow       template.HTML
	WhatIfNotes                []string
	WhatIfSources              []item
	Stills                     []stillFigure
	Blocks                     []printBlock
	Areas                      []areaLine
	Measures                   []measureLine
	Cautions                   []item
}

// stillFigure is a picture with its lines, its caption and its words for
// those who don't see it.
type stillFigure struct {
	Source        template.URL
	Width, Height int
	Lines         template.HTML
	Alt           string
	Title, When   string
}

// printBlock is one column of the small print.
type printBlock struct {
	Title string
	Lines []printLine
	Care  bool
}

// printLine is an item on the screen, on paper, or on both.
type printLine struct {
	item
	On string // "screen", "paper" or "" for both
}

// newPrintBlock takes a block of which the first n items stand on paper. The
// screen shows them all, the last one in full where the block spells it out.
func newPrintBlock(b block, n int, book words.Book) printBlock {
	out := printBlock{Title: b.title, Care: b.whole}
	for i, it := range b.items {
		switch short := len(b.page) > 0 && i == len(b.items)-1; {
		case short && i < n:
			out.Lines = append(out.Lines, printLine{it, "paper"})
		case short:
		case i >= n:
			out.Lines = append(out.Lines, printLine{it, "screen"})
		default:
			out.Lines = append(out.Lines, printLine{it, ""})
		}
	}
	for _, it := range b.page {
		out.Lines = append(out.Lines, printLine{it, "screen"})
	}
	if n < len(b.items) {
		out.Lines = append(out.Lines, printLine{item{Text: countText(len(b.items)-n, book)}, "paper"})
	}
	return out
}

// HTML writes the card as one page that needs nothing else: fonts and
// pictures are in it, there are no scripts, and its policy forbids every
// request. It reads at 360 pixels, by day and by night, and prints on one
// sheet of the chosen size.
func HTML(w io.Writer, c card.Card, o Options) error {
	o = o.normal()
	set, err := fonts.Load()
	if err != nil {
		return err
	}
	p, err := newPage(set, c, o)
	if err != nil {
		return err
	}
	return writePage(w, pageText, p)
}

// writePage fills the frame with a page's text and writes it whole.
func writePage(w io.Writer, text string, data any) error {
	t, err := template.New("page").Parse(frameText + text)
	if err != nil {
		return fmt.Errorf("paper: read the page's template: %w", err)
	}
	var out bytes.Buffer
	if err := t.Execute(&out, data); err != nil {
		return fmt.Errorf("paper: fill the page: %w", err)
	}
	if _, err := out.WriteTo(w); err != nil {
		return fmt.Errorf("paper: write the page: %w", err)
	}
	return nil
}

// Say is the template's door to the words.
func (p page) Say(message string, args ...any) string { return p.book.Say(message, args...) }

func newPage(set *fonts.Set, whole card.Card, o Options) (page, error) {
	c, behind, two := card.SplitBehind(whole.In(o.Words))
	sheet := compose(set, c, o) // for its density: the printed page is that of the PDF
	t := sheet.t
	p := page{
		Language: o.Words.Language(), book: o.Words,
		Name: t.name, When: t.when, Lead: t.lead, Priority: t.priority, Facts: t.facts, Footer: t.footer,
		Areas: t.areas, Measures: t.measures,
	}
	if len(c.Measures) > 0 {
		d := sheet.used
		wide := chart.Plumb(c, set, chart.PlumbOptions{Width: sheet.wide, Row: d.row, Text: d.text, Units: o.Units, Words: o.Words})
		narrow := chart.Plumb(c, set, chart.PlumbOptions{Width: narrowWidth, Row: 20, Text: 12.6, Narrow: true, Units: o.Units, Words: o.Words})
		p.Wide, p.Narrow = template.HTML(wide.SVG("plumb-wide")), template.HTML(narrow.SVG("plumb-narrow"))
	}
	if changes := plan.WhatIfFor(c); len(changes) > 0 {
		p.WhatIf = template.HTML(chart.WhatIf(set, changes, chart.WhatIfOptions{Width: 700, Text: 12, Words: o.Words}).SVG("what-if"))
		p.WhatIfNarrow = template.HTML(chart.WhatIf(set, changes, chart.WhatIfOptions{Width: narrowWidth, Text: 12, Narrow: true, Words: o.Words}).SVG("what-if-narrow"))
		p.WhatIfNotes, p.WhatIfSources = o.Words.Each(plan.WhatIfNotes()), whatIfSources(changes, o.Words)
	}
	var err error
	if p.Stills, err = figures(withImage(c.Pictures, 2), o.Words); err != nil {
		return p, err
	}
	if len(p.Stills) > 0 {
		p.Key = template.HTML(chart.KeyOf(withImage(c.Pictures, 1)[0], set, 104, 8.4, o.Words).SVG("key"))
	}
	if c.Kind == card.Standing && len(p.Stills) < 2 {
		if stance, ok := chart.Stance(c, set, chart.StanceOptions{Width: 290, Height: 200, Text: 7.6, Units: o.Units, Words: o.Words}); ok {
			narrow, _ := chart.Stance(c, set, chart.StanceOptions{Width: narrowWidth, Height: 250, Text: 11.4, Units: o.Units, Words: o.Words})
			p.Stance, p.StanceNarrow = template.HTML(stance.SVG("stance")), template.HTML(narrow.SVG("stance-narrow"))
		}
	}
	for i, b := range sheet.blocks() {
		p.Blocks = append(p.Blocks, newPrintBlock(b, sheet.set.print.shown[i], o.Words))
	}
	if two {
		if p.Behind, err = newBehindPart(set, behind, o); err != nil {
			return p, err
		}
		p.Measures, p.Footer = append(p.Measures, p.Behind.lines...), append(p.Footer, p.Behind.footer...)
	}
	p.Style = template.CSS(style(o, sheet))
	p.Policy = policyFor(string(p.Style))
	return p, nil
}

// stillHeight is the height in pixels to which larger pictures are brought
// down in a page.
const stillHeight = 900

// inPage is a picture as an address that holds it, and its own size in pixels.
func inPage(img image.Image) (template.URL, image.Point, error) {
	data, err := jpegOf(img, shown(img, stillHeight))
	if err != nil {
		return "", image.Point{}, err
	}
	return template.URL("data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(data)), img.Bounds().Size(), nil
}

func figures(pictures []card.Picture, b words.Book) ([]stillFigure, error) {
	var out []stillFigure
	for _, picture := range pictures {
		source, size, err := inPage(picture.Image)
		if err != nil {
			return nil, err
		}
		title := card.Capital(card.Clean(picture.Title, 60))
		if title == "" {
			title = card.Capital(card.Clean(picture.Moment, 60))
		}
		out = append(out, stillFigure{
			Source: source, Width: size.X, Height: size.Y,
			Lines: template.HTML(chart.Overlay(picture, size.X, size.Y).Decoration()),
			Alt:   chart.PictureWords(picture, b), Title: title, When: chart.MomentWords(picture, b),
		})
	}
	return out, nil
}

// stillInPrint makes the pictures of a printed page a little lower than those
// of the PDF: browsers break lines otherwise, and the sheet must hold all.
const stillInPrint = 0.9

// firstInPrint does the same for the words of the priority.
const firstInPrint = 0.96

// lineAt is where the plumb line stands, as a part of the page's width.
func lineAt() string { return fmt.Sprintf("%.2f%%", 100*chart.PlumbAt) }

// columns writes widths as grid columns.
func columns(widths []float64) string {
	if len(widths) == 0 {
		return "1fr"
	}
	words := make([]string, len(widths))
	for i, w := range widths {
		words[i] = fmt.Sprintf("%.0ffr", w)
	}
	return strings.Join(words, " ")
}

// fontFaces puts the four cuts into a style sheet.
func fontFaces() string {
	var b strings.Builder
	for _, f := range []struct {
		font   chart.Font
		family string
		rest   string
	}{
		{chart.Serif, "Plumb Serif", "font-style:normal;font-weight:400"},
		{chart.SerifItalic, "Plumb Serif", "font-style:italic;font-weight:400"},
		{chart.Sans, "Plumb Sans", "font-style:normal;font-weight:400"},
		{chart.SansMedium, "Plumb Sans", "font-style:normal;font-weight:500"},
	} {
		fmt.Fprintf(&b, "@font-face{font-family:\"%s\";%s;font-display:block;src:url(data:font/ttf;base64,%s)}\n",
			f.family, f.rest, base64.StdEncoding.EncodeToString(fonts.TrueType(f.font)))
	}
	return b.String()
}

// style puts the sheet's sizes, the colours and the fonts before the rules.
func style(o Options, sheet *composer) string {
	sizes := fmt.Sprintf("--line-at:%s;--first:%.1fpt;--still:%.0fpt;--small:%.2fpt;--chart:%.3f;--columns:%s",
		lineAt(), firstInPrint*sheet.first, stillInPrint*sheet.set.pictures, sheet.used.small,
		sheet.set.scale, columns(sheet.set.print.columns))
	return styleOf(sizes, o.Page, "11mm 14.8mm 9mm", styleText)
}

// styleOf puts the fonts, the colours by day and by night, with sizes beside
// them, the sheet's margins and the rules into one style sheet.
func styleOf(sizes string, page Page, margin, rules string) string {
	var b strings.Builder
	b.WriteString(fontFaces())
	fmt.Fprintf(&b, ":root{color-scheme:light dark;%s%s}\n", chart.LightPalette().Properties(), sizes)
	fmt.Fprintf(&b, "@media screen and (prefers-color-scheme:dark){:root{%s}}\n", chart.DarkPalette().Properties())
	fmt.Fprintf(&b, "@page{size:%s;margin:%s}\n", page, margin)
	b.WriteString(chart.Style())
	b.WriteString(rules)
	return b.String()
}
