package paper

import (
	_ "embed" // the page and its style
	"html/template"
	"io"
	"strings"

	"plumbstride/internal/beside"
	"plumbstride/internal/card"
	"plumbstride/internal/chart"
	"plumbstride/internal/paper/fonts"
	"plumbstride/internal/recheck"
	"plumbstride/internal/words"
)

//go:embed compare.html
var compareText string

//go:embed compare.css
var compareStyleText string

// comparePage is what a comparison says, in the reader's language, and what
// its template shows.
type comparePage struct {
	Name, When, Lead, Says, Next string
	Pictures                     []stillFigure
	PictureNote                  string
	Wide, Narrow                 template.HTML
	Left                         []item
	Rows                         []recheck.Shown
	Notes, Cautions              []string
	Foot                         string
	Language                     words.Language
	Style                        template.CSS
	Policy                       string
	book                         words.Book
}

// Say is the template's door to the words.
func (p comparePage) Say(message string, args ...any) string { return p.book.Say(message, args...) }

// newComparePage puts a comparison into words; it is made of c.In(o.Words).
func newComparePage(set *fonts.Set, c recheck.Comparison, moments []beside.Moment, o Options) (comparePage, error) {
	b := o.Words
	c = c.In(b)
	p := comparePage{
		Name: card.Clean(c.Runner.Name, nameLimit), When: days(c, b),
		Lead: c.Lead(b), Says: bound(card.Clean(c.Planned.Says, textLimit)), Next: bound(card.Clean(c.NextWords(b), 2*textLimit)),
		Notes: c.Notes, Cautions: c.Cautions, Language: b.Language(), book: b,
		Foot:        b.Say("Not a medical device: this comparison gives no diagnosis and takes no clinician's place. Made by %s on %s.", card.Clean(c.Program, 40), b.Date(c.Made)),
		PictureNote: momentNote(b),
	}
	if p.Name == "" {
		p.Name = b.Say("Runner without a name")
	}
	for _, g := range c.Left(b) {
		p.Left = append(p.Left, item{strings.Join(g.What, "; ") + ":", card.Clean(g.Reason, textLimit)})
	}
	for _, one := range c.Changes {
		p.Rows = append(p.Rows, one.Show(o.Units, b))
	}
	if len(c.Changes) > 0 {
		p.Wide = template.HTML(chart.Twice(c, set, chart.PlumbOptions{Width: 720, Row: 17, Text: 11.5, Units: o.Units, Words: b}).SVG("twice-wide"))
		p.Narrow = template.HTML(chart.Twice(c, set, chart.PlumbOptions{Width: narrowWidth, Row: 18, Text: 12.4, Narrow: true, Units: o.Units, Words: b}).SVG("twice-narrow"))
	}
	for _, m := range moments {
		source, size, err := inPage(m.Image)
		if err != nil {
			return p, err
		}
		title := momentTitle(m, b)
		p.Pictures = append(p.Pictures, stillFigure{
			Source: source, Width: size.X, Height: size.Y,
			Alt: title + ". " + p.PictureNote, Title: title,
		})
	}
	style := styleOf("", o.Page, "14mm 16mm 13mm", planStyleText+compareStyleText)
	p.Style, p.Policy = template.CSS(style), policyFor(style)
	return p, nil
}

// days gives the days of both checks, or the one that they share.
func days(c recheck.Comparison, b words.Book) string {
	from, to := b.Date(c.Before.Made), b.Date(c.After.Made)
	if from == to {
		return from
	}
	return b.Say("%s to %s", from, to)
}

func momentTitle(m beside.Moment, b words.Book) string { return card.Capital(b.Of(m.Phase)) }

func momentNote(b words.Book) string {
	return b.Say("Left: before. Middle: after. Right: one over the other at the plumb line through the hip, on the same ground; dashed lines are those of before.")
}

// CompareHTML writes a comparison as one page that needs nothing else, as
// HTML does for a card.
func CompareHTML(w io.Writer, c recheck.Comparison, moments []beside.Moment, o Options) error {
	set, err := fonts.Load()
	if err != nil {
		return err
	}
	p, err := newComparePage(set, c, moments, o.normal())
	if err != nil {
		return err
	}
	return writePage(w, compareText, p)
}

// ComparePart gives what stands on CompareHTML's page, to be put into an
// element of class "form-compare" of another page.
func ComparePart(set *fonts.Set, c recheck.Comparison, moments []beside.Moment, o Options) (template.HTML, error) {
	p, err := newComparePage(set, c, moments, o.normal())
	if err != nil {
		return "", err
	}
	return partOf(compareText, p)
}

// CompareStyle is the style sheet of a ComparePart; the plan's ends with what
// is for paper alone, so that it comes last.
func CompareStyle() string { return within(".form-compare", compareStyleText+planStyleText) }

// ComparePDF writes a comparison as sheets of A4 or Letter.
func ComparePDF(w io.Writer, c recheck.Comparison, moments []beside.Moment, o Options) error {
	o = o.normal()
	set, err := fonts.Load()
	if err != nil {
		return err
	}
	p, err := newComparePage(set, c, nil, o)
	if err != nil {
		return err
	}
	b := o.Words
	f := newFlow(set, o.Page)
	f.lines(f.left, []string{p.Name}, chart.Serif, 15, 20, chart.Text)
	f.lines(f.left, []string{p.When}, chart.Sans, 8, 12, chart.Quiet)
	f.gap(4)
	f.rule()
	f.gap(12)
	f.lines(f.left, []string{p.Lead}, chart.SansMedium, 9, 12, chart.Accent)
	f.gap(2)
	f.paragraph(p.Says, chart.Serif, 15, chart.Text)
	if p.Next != "" {
		f.gap(4)
		f.paragraph(p.Next, chart.Serif, 10.5, chart.Text)
	}
	f.gap(12)
	f.moments(moments, b)
	f.gap(12)
	if len(c.Changes) > 0 {
		f.drawing(chart.Twice(c.In(b), set, chart.PlumbOptions{Width: f.wide, Row: 11, Text: 7.6, Units: o.Units, Words: b}))
	}
	f.small(b.Say("Not compared"), p.Left)
	f.small(b.Say("Notes"), itemsOf(p.Notes))
	f.small(b.Say("Take care"), itemsOf(p.Cautions))
	f.feet(p.Foot)
	return f.write(w, set, documentOf{
		title: b.Say("Before and after") + ": " + p.Name, subject: b.Say("What changed between two checks"),
		program: c.Program, language: string(b.Language()), made: c.Made,
	})
}

// Heights in points of the comparison's pictures: at most and at least, and
// what a title and a gap take beside each.
const (
	momentMost, momentLeast = 164.0, 116.0
	momentBeside            = 20.0
)

// moments sets both runs at each moment, all of them on the sheet that is
// begun where they fit there without getting too small.
func (f *flow) moments(all []beside.Moment, b words.Book) {
	if len(all) == 0 {
		return
	}
	const headAndNote = 62
	high := (f.height-flowBottom-f.y-headAndNote)/float64(len(all)) - momentBeside
	if high < momentLeast {
		high = momentMost
	}
	high = min(high, momentMost)
	f.heading(b.Say("Both runs at the same moment, at the same scale"), high+momentBeside)
	for _, m := range all {
		f.keep(high + momentBeside)
		f.lines(f.left, []string{momentTitle(m, b)}, chart.SansMedium, 8.6, 12, chart.Text)
		f.picture(m.Image, high)
		f.gap(8)
	}
	f.paragraph(momentNote(b), chart.Sans, 7.6, chart.Quiet)
}

func itemsOf(texts []string) []item {
	var out []item
	for _, text := range texts {
		out = append(out, item{Text: text})
	}
	return out
}

// small sets a list under a heading.
func (f *flow) small(title string, items []item) {
	if len(items) == 0 {
		return
	}
	f.heading(title, 30)
	for _, it := range items {
		f.bullet(strings.TrimSpace(it.Head+" "+it.Text), 8.2)
	}
}
