package paper

import (
	"bytes"
	"fmt"
	"html/template"
	"strings"

	"plumbstride/internal/card"
	"plumbstride/internal/paper/fonts"
	"plumbstride/internal/plan"
)

// CardPart gives what stands on HTML's page, to be put into an element of
// class "form-card" of another page. That page has chart.Style, CardStyle,
// and the colours of chart's palettes.
func CardPart(set *fonts.Set, c card.Card, o Options) (template.HTML, error) {
	p, err := newPage(set, c, o.normal())
	if err != nil {
		return "", err
	}
	return partOf(pageText, p)
}

// PlanPart gives what stands on PlanHTML's page, to be put into an element of
// class "form-plan" of another page.
func PlanPart(set *fonts.Set, p plan.Plan, o PlanOptions) (template.HTML, error) {
	o.Page = Options{Page: o.Page}.normal().Page
	return partOf(planText, newPlanPage(set, p, o))
}

// partOf fills a page's body.
func partOf(text string, data any) (template.HTML, error) {
	t, err := template.New("page").Parse(text)
	if err != nil {
		return "", fmt.Errorf("paper: read a page's template: %w", err)
	}
	var b bytes.Buffer
	if err := t.ExecuteTemplate(&b, "body", data); err != nil {
		return "", fmt.Errorf("paper: fill a part of a page: %w", err)
	}
	return template.HTML(b.String()), nil
}

// CardStyle is the style sheet of a CardPart.
func CardStyle() string { return within(".form-card", styleText) }

// PlanStyle is the style sheet of a PlanPart.
func PlanStyle() string { return within(".form-plan", planStyleText) }

// within holds the rules of a style sheet of this folder to what lies in an
// element: one rule stands on a line, those of a page as a whole are left
// out, and so are those of a printed page, which another page doesn't have.
func within(element, style string) string {
	screen, _, _ := strings.Cut(style, "@media print{")
	var b strings.Builder
	for line := range strings.Lines(screen) {
		selectors, rest, ok := strings.Cut(line, "{")
		if !ok || strings.HasPrefix(line, "@media") {
			b.WriteString(line)
			continue
		}
		kept := []string{}
		for selector := range strings.SplitSeq(selectors, ",") {
			switch selector = strings.TrimSpace(selector); selector {
			case "html", "body", "main", "html body":
			default:
				kept = append(kept, element+" "+selector)
			}
		}
		if len(kept) > 0 {
			b.WriteString(strings.Join(kept, ",") + "{" + rest)
		}
	}
	return b.String() + element + "{--line-at:" + lineAt() + "}\n"
}
