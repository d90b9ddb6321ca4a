package explain

import (
	"fmt"
	"strings"

	"plumbstride/internal/judge"
	"plumbstride/internal/quantity"
	"plumbstride/internal/words"
)

// Line is one thing said of a measure: a head ("needs") and its text. Row
// marks the first line of a row, whose head is the kind of check.
type Line struct {
	Head, Text string
	Row        bool
}

// Lines is the sheet as heads and texts in the words of b, for a terminal or
// a page: first what each row says, then what the measure's rows have in
// common. Sources stay as they are.
func (s Sheet) Lines(b words.Book) []Line {
	var out []Line
	add := func(head, text string) {
		if text != "" {
			out = append(out, Line{head, text, false})
		}
	}
	for i, r := range s.Rows {
		head := b.Of(r.Kind)
		if unit := unitIn(r.Unit, b); unit != "" {
			head += ", " + unit
		}
		out = append(out, Line{head, b.Of(r.Meaning), true})
		add(b.Say("computed"), b.Of(r.Formula))
		if r.Source == "definition" {
			add(b.Say("definition"), b.Say("as computed; no other source"))
		} else {
			add(b.Say("definition"), strings.TrimPrefix(r.Source, "definition; "))
		}
		switch {
		case r.Refused != "":
			add(b.Say("typical"), b.Say("not given from a clip: %s", b.Of(r.Refused)))
		case len(r.SD) > 0:
			add(b.Say("typical"), b.Say("%s; two checks must differ by up to %s before the difference is surely more than noise", r.Sureness(b), r.Change(b)))
		}
		switch {
		case r.Band != "":
			add(b.Say("band"), b.Figures(strings.ReplaceAll(r.Band, r.Unit, b.Of(r.Unit)))+": "+r.BandSource)
			add(b.Say("measured on"), b.Of(r.Population))
		case r.Kind != ByRecording:
			add(b.Say("band"), b.Say("none"))
		}
		if i == 0 || r.Note != s.Rows[i-1].Note {
			add(b.Say("note"), b.Of(r.Note))
		}
	}
	add(b.Say("needs"), b.Of(s.Needs))
	add(b.Say("can't tell"), b.Of(s.Cannot))
	add(b.Say("literature"), b.Of(s.Claims))
	return out
}

// Markdown is the page of all measures; bands are those of a runner of the
// context.
func Markdown(ctx judge.Context) string {
	var b strings.Builder
	fmt.Fprintf(&b, "# What is measured\n\n"+
		"Made from the tables in the program (`make golden`); `plumbstride explain NAME` prints one of them. Bands are given for a runner of %s at %s; some of them move with speed and height.\n\n"+
		"X points forward, Y up, angles are in degrees. Each value comes with its standard uncertainty, all sources, and its 95 %% interval.\n\n"+
		"*Typical* is half the 95 %% interval in the middle of %d invented people and cameras, with the noise and bias of the networks' points (the legs' own network from the side; the whole-body ones alone from behind and standing), 8 seconds a clip (`go test ./internal/explain -update` works it out anew). Where the frame rate makes no difference, the networks' bias is what limits. *Two checks must differ by* is 1.96·√2 of the standard uncertainty (Weir 2005, from memory): as if nothing of it were the same in both, so less may do.\n",
		quantity.Metric.Height(ctx.HeightM), quantity.Metric.Speed(ctx.SpeedMS), People)
	for _, s := range All(ctx) {
		fmt.Fprintf(&b, "\n## %s: `%s`\n\n", s.Title(), s.Name)
		if area := s.Rows[0].Area; area != "" {
			fmt.Fprintf(&b, "- Area: %s\n", area)
		}
		for _, l := range s.Lines(words.Book{}) {
			fmt.Fprintf(&b, "- %s: %s\n", strings.ToUpper(l.Head[:1])+l.Head[1:], l.Text)
		}
	}
	return b.String()
}

// People is how many invented runners the typical uncertainties are the
// middle of.
const People = 24
