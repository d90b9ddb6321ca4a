package paper

import (
	"crypto/sha256"
	_ "embed" // the page and its style
	"encoding/base64"
	"html/template"
	"io"

	"plumbstride/internal/chart"
	"plumbstride/internal/paper/fonts"
	"plumbstride/internal/plan"
	"plumbstride/internal/words"
)

//go:embed plan.html
var planText string

//go:embed plan.css
var planStyleText string

// planPage is what the plan's template shows.
type planPage struct {
	planContent
	Language         words.Language
	Style            template.CSS
	Policy           string
	Glance, Small    template.HTML
	Scale            template.HTML
	WhatIf, Narrower template.HTML
	Pictures         []template.HTML // one a drill
	book             words.Book
}

// Say is the template's door to the words.
func (p planPage) Say(message string, args ...any) string { return p.book.Say(message, args...) }

// Entries are what is said of a drill besides how it goes.
func (p planPage) Entries(d planDrill) []item { return d.entries(p.book) }

// PlanHTML writes a plan as one page that needs nothing else, as HTML does
// for a card.
func PlanHTML(w io.Writer, p plan.Plan, o PlanOptions) error {
	o.Page = Options{Page: o.Page}.normal().Page
	set, err := fonts.Load()
	if err != nil {
		return err
	}
	return writePage(w, planText, newPlanPage(set, p, o))
}

func newPlanPage(set *fonts.Set, p plan.Plan, o PlanOptions) planPage {
	page := planPage{planContent: newPlanContent(set, p, o), Language: o.Words.Language(), book: o.Words}
	svg := func(d chart.Drawing, id string) template.HTML { return template.HTML(d.SVG(id)) }
	page.Glance = svg(chart.Weeks(set, p, chart.PlanOptions{Width: 700, Text: 12.5, Words: o.Words}), "glance")
	page.Small = svg(chart.Weeks(set, p, chart.PlanOptions{Width: narrowWidth, Text: 10.6, Words: o.Words}), "glance-narrow")
	page.Scale = svg(chart.PainScale(set, p.Pain, chart.PlanOptions{Width: 480, Text: 14, Words: o.Words}), "pain")
	if len(p.WhatIf) > 0 {
		page.WhatIf = svg(chart.WhatIf(set, p.WhatIf, chart.WhatIfOptions{Width: 700, Text: 13, Words: o.Words}), "what-if")
		page.Narrower = svg(chart.WhatIf(set, p.WhatIf, chart.WhatIfOptions{Width: narrowWidth, Text: 12, Narrow: true, Words: o.Words}), "what-if-narrow")
	}
	for _, d := range page.Drills {
		page.Pictures = append(page.Pictures, svg(d.figure, "drill-"+d.id))
	}
	style := styleOf("", o.Page, "16mm 18mm 15mm", planStyleText)
	page.Style, page.Policy = template.CSS(style), policyFor(style)
	return page
}

// policyFor forbids every request, and every style but the page's own.
func policyFor(style string) string {
	sum := sha256.Sum256([]byte(style))
	return "default-src 'none'; img-src data:; font-src data:; style-src 'sha256-" +
		base64.StdEncoding.EncodeToString(sum[:]) + "'; base-uri 'none'; form-action 'none'"
}
