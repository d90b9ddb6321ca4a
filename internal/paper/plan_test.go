package paper

import (
	"bytes"
	"fmt"
	"html"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"plumbstride/internal/card/cardtest"
	"plumbstride/internal/chart"
	"plumbstride/internal/paper/fonts"
	"plumbstride/internal/plan"
	"plumbstride/internal/plan/drills"
	"plumbstride/internal/quantity"
	"plumbstride/internal/testkit"
	"plumbstride/internal/words"
)

// inventedPlan is a plan of an invented runner for an area.
func inventedPlan(t testing.TB, area string, weeks, runs int, answers ...plan.Reason) (plan.Plan, PlanOptions) {
	t.Helper()
	catalogue, err := plan.Load(drills.Files())
	if err != nil {
		t.Fatal(err)
	}
	start, err := plan.ParseDate("2026-03-02")
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Make(plan.Ask{
		Runner: "Zoë Lindqvåg (invented) <b>", Area: area, Why: "The steps are slow for this speed and height: 150 steps/min against a band of 163 to 187.",
		UsualWeekMin: float64(50 * runs), RunsPerWeek: runs, Weeks: weeks, Start: start,
		Cadence: &plan.Cadence{StepsPerMin: 150, SD: 0.8, SpeedMS: 2.8, Low: 163, High: 187},
		Health:  plan.Health{Asked: true, Yes: answers}, Note: "Agreed with the runner's physiotherapist on Monday.",
	}, catalogue)
	if err != nil {
		t.Fatal(err)
	}
	return p, PlanOptions{Drills: p.Uses(catalogue), Program: "plumbstride test", Units: quantity.Metric, Made: time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)}
}

// Nothing leaves a sheet, no two texts lie on one another, and no sheet is
// empty, whatever the plan and the language.
func TestPlanSheets(t *testing.T) {
	set, err := fonts.Load()
	if err != nil {
		t.Fatal(err)
	}
	for _, area := range plan.Areas() {
		for _, l := range words.Languages() {
			book := bookIn(t, l)
			for _, page := range []Page{A4, Letter} {
				p, o := inventedPlan(t, area, 8, 4, plan.Pregnancy, plan.CalfTrouble)
				o.Page, o.Words = page, book
				for i, sheet := range planFlow(set, p, o).pages {
					flowHolds(t, fmt.Sprint(area, " ", l, " ", page, " sheet ", i+1), sheet)
				}
			}
		}
	}
}

func bookIn(t testing.TB, l words.Language) words.Book {
	t.Helper()
	b, err := words.In(l)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func flowHolds(t *testing.T, name string, d chart.Drawing) {
	t.Helper()
	inner := chart.Box{X1: 20, Y1: 20, X2: d.Width - 20, Y2: d.Height - 20}
	var labels []chart.Label
	for _, item := range d.Items {
		if b := item.Box(); math.IsNaN(b.X1+b.X2+b.Y1+b.Y2) || !b.Within(inner, 0) {
			t.Errorf("%s: %+v lies outside", name, item)
		}
		if l, ok := item.(chart.Label); ok && l.Text != "" {
			for _, other := range labels {
				if l.Box().Overlaps(other.Box(), 0.9) {
					t.Errorf("%s: %q and %q lie on one another", name, l.Text, other.Text)
				}
			}
			labels = append(labels, l)
		}
	}
	if len(labels) < 4 {
		t.Errorf("%s: only %d labels", name, len(labels))
	}
}

// A second reader, poppler's pdftotext, finds what a plan owes.
func TestPlanOnPaper(t *testing.T) {
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		testkit.Lacks(t, "pdftotext isn’t installed (Debian package poppler-utils)")
	}
	p, o := inventedPlan(t, "cadence", 6, 3, plan.Minor)
	var first, second bytes.Buffer
	if err := PlanPDF(&first, p, o); err != nil {
		t.Fatal(err)
	}
	if err := PlanPDF(&second, p, o); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(first.Bytes(), second.Bytes()) {
		t.Error("the same plan gave two different PDFs")
	}
	cmd := exec.Command(tool, "-layout", "-", "-")
	cmd.Stdin = &first
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Join(strings.Fields(string(out)), " ")
	for _, want := range []string{
		"Zoë Lindqvåg (invented)", "6 weeks for one thing: cadence", "Read first", "Agreed with the runner's physiotherapist",
		"Week 1, from Mon 2 Mar", "Film again on 13 April 2026", "Pain, from 0 (none) to 10", "6–10 Stop, and see a doctor",
		"What quicker steps do", "−4.8 %", "common practice, no source", "Not a medical device",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the sheets don’t say %q", want)
		}
	}
}

// The page says all that the plan holds, needs nothing else, and lets no
// markup through.
func TestPlanPage(t *testing.T) {
	for _, area := range plan.Areas() {
		p, o := inventedPlan(t, area, 5, 4, plan.CalfTrouble)
		var out bytes.Buffer
		if err := PlanHTML(&out, p, o); err != nil {
			t.Fatal(err)
		}
		text := out.String()
		rest := strings.ReplaceAll(text, `xmlns="http://www.w3.org/2000/svg"`, "")
		for _, bad := range []string{"http:", "https:", "<script", "<link", "@import", " style=", "ZgotmplZ", "%!", "<b>:"} {
			if strings.Contains(rest, bad) {
				t.Errorf("%s: the page holds %q", area, bad)
			}
		}
		plain := html.UnescapeString(text)
		for _, r := range p.Rules {
			if !strings.Contains(plain, r.Text) || !strings.Contains(plain, r.Source) {
				t.Errorf("%s: the page lacks the rule %q", area, r.Text)
			}
		}
		for _, d := range o.Drills {
			if !strings.Contains(plain, d.Purpose) || !strings.Contains(text, `id="drill-`+d.ID+`"`) {
				t.Errorf("%s: the page lacks the drill %s", area, d.ID)
			}
		}
		if n := strings.Count(text, `class="practice"`); n != practices(p) {
			t.Errorf("%s: %d practices on the page, %d in the plan", area, n, practices(p))
		}
	}
}

func practices(p plan.Plan) (n int) {
	for _, w := range p.Weeks {
		for _, s := range w.Sessions {
			if s.Practice {
				n++
			}
		}
	}
	return n
}

// In a browser the page is never wider than its window, and prints.
func TestPlanInABrowser(t *testing.T) {
	ctx := browser(t)
	for _, l := range words.Languages() {
		p, o := inventedPlan(t, "cadence", 8, 7, plan.CalfTrouble)
		o.Words = bookIn(t, l)
		var out bytes.Buffer
		if err := PlanHTML(&out, p, o); err != nil {
			t.Fatal(err)
		}
		keep(t, "plan-"+string(l)+".html", out.Bytes())
		file := filepath.Join(t.TempDir(), "plan.html")
		if err := os.WriteFile(file, out.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		if narrow, wide := widthIn(t, ctx, file, 360), widthIn(t, ctx, file, 1200); narrow > 360 || wide > 1200 {
			t.Errorf("%s: the page is %d pixels wide in 360, %d in 1200", l, narrow, wide)
		}
		paper, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize(), chromedp.PDFPrintBackground()))
		if err != nil {
			t.Fatal(err)
		}
		if sheets := len(regexp.MustCompile(`/Type\s*/Page\b[^s]`).FindAll(paper, -1)); sheets < 3 || sheets > 16 {
			t.Errorf("%s: printed on %d sheets", l, sheets)
		}
	}
}

// A card in another language keeps to its sheet, whatever is on it, and its
// page says so in its language.
func TestCardsInEveryLanguage(t *testing.T) {
	set, err := fonts.Load()
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range words.Languages() {
		b := bookIn(t, l)
		for name, c := range cards() {
			for _, page := range []Page{A4, Letter} {
				o := Options{Page: page, Units: quantity.Metric, Words: b}
				onSheet(t, fmt.Sprint(l, " ", name, " ", page), compose(set, c.In(b), o).s)
			}
			var out bytes.Buffer
			if err := HTML(&out, c, Options{Words: b}); err != nil {
				t.Fatal(err)
			}
			if !strings.Contains(out.String(), `<html lang="`+string(l)+`">`) || strings.Contains(out.String(), "%!") {
				t.Errorf("%s %s: the page’s language, or a message, is wrong", l, name)
			}
		}
	}
	var out bytes.Buffer
	c := cardtest.Invented()
	if err := HTML(&out, c, Options{Words: bookIn(t, words.German)}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Laufkarte", "Arbeite an einer Sache: Landung", "14. März 2026, 17:42 Uhr", ">12,4<", "Nicht gemessen, und warum", "Schritte/min", "von der Seite",
		"Wie viele Schritte in der Minute, beide Füße gezählt."} {
		if !strings.Contains(html.UnescapeString(out.String()), want) {
			t.Errorf("the German page doesn’t say %q", want)
		}
	}
	if c.Measures[0].Title != cardtest.Invented().Measures[0].Title {
		t.Error("the card itself was changed")
	}
}

func BenchmarkPlanPDF(b *testing.B) {
	p, o := inventedPlan(b, "cadence", 8, 4)
	for b.Loop() {
		if err := PlanPDF(io.Discard, p, o); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPlanHTML(b *testing.B) {
	p, o := inventedPlan(b, "cadence", 8, 4)
	for b.Loop() {
		if err := PlanHTML(io.Discard, p, o); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkHandout(b *testing.B) {
	topics := topicsOf(b)
	for b.Loop() {
		if err := Handout(io.Discard, topics, handoutOptions()); err != nil {
			b.Fatal(err)
		}
	}
}
