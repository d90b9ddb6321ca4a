package paper

import (
	"fmt"
	"io"
	"time"

	"plumbstride/internal/card"
	"plumbstride/internal/chart"
	"plumbstride/internal/paper/fonts"
	"plumbstride/internal/words"
)

// AreaCount is how many runners of a class have an area as their priority.
type AreaCount struct {
	Area    string
	Runners int
}

// ClassSummary is a class without a single name: what its runners have in
// common.
type ClassSummary struct {
	Title, Day, Place string
	Areas             []AreaCount
	// Nothing is how many have nothing to change, Undecided how many of all
	// no coach has looked at yet, and Unmeasured how many have no card.
	Nothing, Undecided, Unmeasured int
	Program                        string
	Made                           time.Time
	Page                           Page
	Words                          words.Book
}

// ClassPDF writes the summary of a class as one sheet.
func ClassPDF(w io.Writer, s ClassSummary) error {
	set, err := fonts.Load()
	if err != nil {
		return err
	}
	b := s.Words
	f := newFlow(set, Options{Page: s.Page}.normal().Page)
	line := s.Day
	if s.Place != "" {
		line += " · " + card.Clean(s.Place, nameLimit)
	}
	f.top(card.Clean(s.Title, nameLimit), 15, line)
	f.heading(b.Say("What the class has in common"), 200)
	measured, most := s.Nothing, max(1, s.Nothing)
	for _, a := range s.Areas {
		measured, most = measured+a.Runners, max(most, a.Runners)
	}
	f.paragraph(b.Say("The one thing to work on first, of all runners with a card (%d):", measured), chart.Sans, 10, chart.Text)
	f.gap(8)
	for _, a := range s.Areas {
		f.tally(card.Capital(b.Of(a.Area)), a.Runners, most, chart.Accent)
	}
	f.tally(b.Say("Nothing to change"), s.Nothing, most, chart.Thread)
	f.gap(6)
	if s.Undecided > 0 {
		f.bullet(b.Say("%d of these no coach has confirmed yet: they stand as the program proposes them.", s.Undecided), 10)
	}
	if s.Unmeasured > 0 {
		f.bullet(b.Say("There without a card: %d.", s.Unmeasured), 10)
	}
	f.heading(b.Say("When you demonstrate"), 60)
	for _, text := range []string{
		b.Say("Change one thing at a time, and slowly. Whoever feels pain stops."),
		b.Say("Quicker steps, landing further back and work on the forefoot load the calf and the Achilles tendon more: a little, then more over weeks."),
		b.Say("Whoever has pain, a fresh injury or a question about health sees a doctor or a physiotherapist first. This is no medical device."),
	} {
		f.bullet(text, 10)
	}
	f.feet(b.Say("No names stand on this sheet.") + " " + s.Program + ", " + b.Date(s.Made))
	return f.write(w, set, documentOf{title: b.Say("Class summary"), subject: s.Day, program: s.Program, language: string(b.Language()), made: s.Made})
}

// tally sets one bar with its number.
func (f *flow) tally(name string, n, most int, ink chart.Ink) {
	const size, head = 10.0, 110.0
	f.keep(2 * size)
	f.gap(1.8 * size)
	f.add(chart.Set(f.m, f.left, f.y, name, chart.Sans, size, chart.Start, chart.Text))
	end := f.left + head + (f.wide-head-30)*float64(n)/float64(most)
	if n > 0 {
		f.add(chart.Segment{X1: f.left + head, Y1: f.y - 0.3*size, X2: end, Y2: f.y - 0.3*size, Stroke: chart.Stroke{Ink: ink, Width: 0.7 * size}})
	}
	f.add(chart.Set(f.m, end+6, f.y, fmt.Sprint(n), chart.SansMedium, size, chart.Start, chart.Text))
}
