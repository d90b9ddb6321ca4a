package paper

import (
	"io"

	"plumbstride/internal/card"
	"plumbstride/internal/chart"
	"plumbstride/internal/clinic"
	"plumbstride/internal/paper/fonts"
	"plumbstride/internal/words"
)

// clinicWidth is the width of the clinic's drawing on paper, in points.
const clinicWidth = 420.0

// ClinicDrawing hangs each area's mean change beside the line of no change, as
// wide as is asked for; ok is false where none is told.
func ClinicDrawing(m chart.Measurer, r clinic.Report, width float64, b words.Book) (d chart.Drawing, ok bool) {
	var rows []chart.Mean
	for _, a := range r.Areas {
		if a.Pooled != nil {
			rows = append(rows, chart.Mean{Title: card.Capital(b.Of(a.Area)), Value: a.Pooled.Value, Low: a.Pooled.Low, High: a.Pooled.High, N: a.Pooled.N})
		}
	}
	if len(rows) == 0 {
		return d, false
	}
	return chart.Means(m, b.Say("Mean change of those who came back"), rows, width, b), true
}

// ClinicPDF writes what became of all courses, without a name; shop stands
// over it.
func ClinicPDF(w io.Writer, r clinic.Report, t clinic.Told, o Options, shop string) error {
	set, err := fonts.Load()
	if err != nil {
		return err
	}
	b := o.Words
	f := newFlow(set, o.normal().Page)
	line := b.Date(r.Made)
	if shop != "" {
		line = card.Clean(shop, nameLimit) + " · " + line
	}
	f.top(b.Say("Does the clinic work?"), 17, line)
	f.gap(4)
	for _, text := range t.Lead {
		f.paragraph(text, chart.Sans, 10, chart.Text)
	}
	if d, ok := ClinicDrawing(set, r, clinicWidth, b); ok {
		f.gap(8)
		f.drawing(d)
	}
	list := func(title string, lines []string) {
		if len(lines) == 0 {
			return
		}
		f.heading(title, 40)
		for _, text := range lines {
			f.bullet(text, 9.5)
		}
	}
	for _, a := range t.Areas {
		list(a.Name, a.Lines)
	}
	list(b.Say("Drills that went with change"), t.Drills)
	list(b.Say("Lengths of plan"), t.Lengths)
	list(b.Say("How to read it"), t.Read)
	f.feet(b.Say("No names stand on this sheet.") + " " + r.Program + ", " + b.Date(r.Made))
	return f.write(w, set, documentOf{title: b.Say("Does the clinic work?"), subject: shop, program: r.Program, language: string(b.Language()), made: r.Made})
}
