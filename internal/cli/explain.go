package cli

import (
	"fmt"
	"io"
	"strings"

	"plumbstride/internal/card"
	"plumbstride/internal/explain"
	"plumbstride/internal/form"
	"plumbstride/internal/judge"
	"plumbstride/internal/quantity"
	"plumbstride/internal/words"
)

// explainVerb tells what a measure is, or lists the measures.
type explainVerb struct {
	Name   []string   `arg:"" optional:"" name:"name" help:"A measure, by its name or title; the list of all where left out."`
	Height heightFlag `placeholder:"172cm" help:"The runner's height, for bands that go with it."`
	Speed  speedFlag  `placeholder:"10km/h" help:"The speed, for bands that go with it."`
}

// Help stands below the verb's first line in its help.
func (explainVerb) Help() string {
	return "For each measure: what it is, how it is computed, how sure it typically is, its band and the band's source, what it needs, and what it can't tell. docs/measures.md has all of them.\n\n" + exitCodes
}

// explainWidth is where the explanation is wrapped, unless the terminal is
// narrower.
const explainWidth = 80

// Run prints one sheet or the list.
func (v *explainVerb) Run(e *errand) error {
	ctx := judge.Context{SpeedMS: 10 / 3.6, HeightM: 1.72} // as in docs/measures.md
	if v.Height > 0 {
		ctx.HeightM = float64(v.Height)
	}
	if v.Speed > 0 {
		ctx.SpeedMS = float64(v.Speed)
	}
	sheets := explain.All(ctx)
	t := newTable(columnsOf(e.Out))
	t.width = min(t.width, explainWidth)
	if name := strings.Join(v.Name, " "); name != "" {
		s, ok := explain.Find(sheets, name, e.book)
		if !ok {
			return unknownMeasure(sheets, name)
		}
		t.sheet(s, e.book)
		t.b.WriteString("\n")
		t.wrapped("", e.book.Say("Bands are those of a runner of %s at %s (--height, --speed).", quantity.Metric.Height(ctx.HeightM), e.book.Figures(quantity.Metric.Speed(ctx.SpeedMS))))
	} else {
		t.measureList(sheets, e.book)
	}
	_, _ = io.WriteString(e.Out, t.b.String())
	return nil
}

func unknownMeasure(sheets []explain.Sheet, name string) error {
	near := explain.Nearest(sheets, name)
	if len(near) == 0 {
		return form.UsageError("no measure is called %q; plumbstride explain lists them", name)
	}
	return form.UsageError("no measure is called %q; nearest: %s. plumbstride explain lists them all", name, strings.Join(near, ", "))
}

// sheet writes one measure's explanation: a row's lines under the row's head,
// each head above or beside its text.
func (t *tableWriter) sheet(s explain.Sheet, b words.Book) {
	title := b.Of(s.Title())
	if area := s.Rows[0].Area; area != "" {
		title += " (" + b.Of(area) + ")"
	}
	fmt.Fprintf(&t.b, "%s\n%s\n\n", title, s.Name)
	for _, l := range s.Lines(b) {
		if l.Row {
			t.wrapped("", printable(card.Capital(l.Head)))
			t.wrapped("  ", printable(l.Text))
			continue
		}
		t.hanging(fmt.Sprintf("  %-13s ", l.Head), printable(l.Text))
	}
}

// measureList writes every measure's name and what it is, by kind of check.
func (t *tableWriter) measureList(sheets []explain.Sheet, b words.Book) {
	for _, kind := range []string{explain.FromSide, explain.FromBehind, explain.Standing, explain.ByRecording} {
		fmt.Fprintf(&t.b, "%s\n", card.Capital(b.Of(kind)))
		for _, s := range sheets {
			for _, r := range s.Rows {
				if r.Kind == kind {
					t.hanging(fmt.Sprintf("  %-22s ", s.Name), b.Of(r.Meaning))
					break
				}
			}
		}
		t.b.WriteString("\n")
	}
	t.wrapped("", b.Say("plumbstride explain NAME tells more of one."))
}
