package explain

import (
	"fmt"
	"strings"

	"plumbstride/internal/judge"
	"plumbstride/internal/quantity"
)

// Line is one thing said of a measure: a head ("needs") and its text.
type Line struct{ Head, Text string }

// Lines is the sheet as heads and texts, for a terminal or a page: first what
// each row says, then what the measure's rows have in common.
func (s Sheet) Lines() []Line {
	var out []Line
	add := func(head, text string) {
		if text != "" {
			out = append(out, Line{head, text})
		}
	}
	for i, r := range s.Rows {
		head := r.Kind + ", " + r.Unit
		if r.Unit == "–" {
			head = r.Kind
		}
		add(head, r.Meaning)
		add("computed", r.Formula)
		if r.Source == "definition" {
			add("definition", "as computed; no other source")
		} else {
			add("definition", strings.TrimPrefix(r.Source, "definition; "))
		}
		switch {
		case r.Refused != "":
			add("typical", "not given from a clip: "+r.Refused)
		case r.Sureness() != "":
			add("typical", r.Sureness()+"; two checks must differ by up to "+r.Change()+" before the difference is surely more than noise")
		}
		switch {
		case r.Band != "":
			add("band", r.Band+": "+r.BandSource)
			add("measured on", r.Population)
		case r.Kind != ByRecording:
			add("band", "none")
		}
		if i == 0 || r.Note != s.Rows[i-1].Note {
			add("note", r.Note)
		}
	}
	add("needs", s.Needs)
	add("can't tell", s.Cannot)
	add("literature", s.Claims)
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
		for _, l := range s.Lines() {
			fmt.Fprintf(&b, "- %s: %s\n", strings.ToUpper(l.Head[:1])+l.Head[1:], l.Text)
		}
	}
	return b.String()
}

// People is how many invented runners the typical uncertainties are the
// middle of.
const People = 24
