package paper

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/measure"
	"plumbstride/internal/quantity"
	"plumbstride/internal/words"
)

// Page is a size of paper.
type Page string

// The sizes: 210 × 297 mm and 8.5 × 11 in.
const (
	A4     Page = "A4"
	Letter Page = "Letter"
)

// Options says how a card is shown. The zero value is A4 and metric.
type Options struct {
	Page  Page
	Units quantity.Units
	Words words.Book
}

// normal fills in what was left out. An unknown page is an error of the
// caller and panics.
func (o Options) normal() Options {
	switch o.Page {
	case "":
		o.Page = A4
	case A4, Letter:
	default:
		panic("paper: unknown page " + string(o.Page))
	}
	if o.Units == "" {
		o.Units = quantity.Metric
	}
	return o
}

// content is everything that a card says, in words, before any layout.
type content struct {
	name, when      string
	facts           []string
	lead, priority  string
	unmeasured      []item
	notes, cautions []item
	footer          []string
	sources         []sourceOf
	measures        []measureLine
	areas           []areaLine
}

// item is a paragraph with an optional head, set before it.
type item struct{ Head, Text string }

// sourceOf is one source and the titles of the measures whose bands it gave.
type sourceOf struct {
	Source string
	Titles []string
}

// measureLine is one row of the table of numbers.
type measureLine struct {
	Title, Side, Value, PlusMinus, Unit, Interval, Band, Source, Class string
	// Says is what the measure is, in plain words.
	Says string
	N    int
}

// areaLine says how an area stands.
type areaLine struct{ Title, Why string }

const (
	nameLimit = 60
	textLimit = 420
)

// newContent puts a card into words.
func newContent(c card.Card, o Options) content {
	b := o.Words
	t := content{
		name: card.Clean(c.Runner.Name, nameLimit), when: b.Moment(c.Made),
		priority: bound(card.Clean(c.Priority.Why, textLimit)), facts: facts(c, o.Units, b),
		unmeasured: unmeasured(c, b), sources: sources(c), footer: footer(c, b),
	}
	if t.name == "" {
		t.name = b.Say("Runner without a name")
	}
	t.lead = b.Say("What this check says")
	if c.Clip.View == string(form.ViewBack) {
		t.lead = b.Say("From behind")
	}
	if c.Kind == card.Standing {
		t.facts = append(t.facts, b.Say("standing check"))
	}
	if c.Priority.Area != nil {
		t.lead = b.Say("Work on one thing: %s", b.Of(card.Clean(*c.Priority.Area, 30)))
	}
	t.notes = notes(c, b)
	for _, text := range c.Cautions {
		t.cautions = append(t.cautions, item{Text: card.Clean(text, textLimit)})
	}
	said := map[string]bool{}
	for _, m := range c.Measures {
		line := newMeasureLine(m, o.Units, b)
		if said[line.Says] {
			line.Says = "" // once is enough for two sides
		}
		said[line.Says] = true
		t.measures = append(t.measures, line)
	}
	for _, a := range c.Areas {
		t.areas = append(t.areas, areaLine{card.Capital(b.Of(card.Clean(a.Name, 30))), card.Clean(a.Why, textLimit)})
	}
	return t
}

// bound keeps numbers and the units or nouns behind them on one line.
func bound(text string) string {
	runes := []rune(text)
	for i := 1; i+1 < len(runes); i++ {
		if runes[i] == ' ' && unicode.IsDigit(runes[i-1]) && (unicode.IsLetter(runes[i+1]) || runes[i+1] == '%') {
			runes[i] = '\u00a0'
		}
	}
	return string(runes)
}

// facts says who was filmed and how fast they ran, a few words each.
func facts(c card.Card, units quantity.Units, b words.Book) []string {
	var out []string
	if c.Runner.HeightM > 0 {
		out = append(out, b.Figures(units.Height(c.Runner.HeightM)))
	}
	if c.Runner.MassKg > 0 {
		out = append(out, b.Figures(units.Mass(c.Runner.MassKg)))
	}
	setting := b.Of(card.Words(card.Clean(c.Clip.Setting, 20)))
	if setting == "" {
		setting = b.Of(card.Clean(c.Clip.Gait, 20))
	}
	if v := float64(c.Clip.SpeedMS); c.Clip.SpeedMS.Known() {
		text := b.Figures(units.Speed(v))
		if pace := card.Pace(v, units); pace != "" {
			text += " (" + b.Of(pace) + ")"
		}
		out = append(out, strings.TrimSpace(setting+" "+text))
	} else if setting != "" {
		out = append(out, setting)
	}
	return out
}

// unmeasured lists the reasons, each with what it kept from being measured.
func unmeasured(c card.Card, b words.Book) []item {
	var out []item
	for _, g := range card.GroupRefusalsIn(c, b) {
		titles := make([]string, len(g.What))
		for i, w := range g.What {
			titles[i] = card.Clean(w, 60)
		}
		out = append(out, item{Head: strings.Join(titles, "; ") + ":", Text: card.Clean(g.Reason, textLimit)})
	}
	return out
}

// notes gathers the classes of measures, their own notes (the same one only
// once), and the notes of the card.
func notes(c card.Card, b words.Book) []item {
	var out []item
	classes := map[string][]string{}
	var classed, noted []string
	about := map[string][]string{}
	for _, m := range c.Measures {
		title := card.Clean(m.Heading(), 60)
		if m.Class != "" {
			if classes[title] == nil {
				classed = append(classed, title)
			}
			classes[title] = append(classes[title], strings.TrimSpace(card.SideIn(m.Side, b)+" "+classWords(m)))
		}
		if m.Note != "" {
			note := card.Clean(m.Note, textLimit)
			if about[note] == nil {
				noted = append(noted, note)
			}
			if !slices.Contains(about[note], title) {
				about[note] = append(about[note], title)
			}
		}
	}
	for _, title := range classed {
		out = append(out, item{Head: title + ":", Text: strings.Join(classes[title], ", ") + "."})
	}
	for _, note := range noted {
		out = append(out, item{Head: strings.Join(about[note], "; ") + ":", Text: note})
	}
	for _, text := range c.Notes {
		out = append(out, item{Text: card.Clean(text, textLimit)})
	}
	return out
}

// classWords gives the class with its probability: "rearfoot (93 %)".
func classWords(m card.Measure) string {
	text := card.Clean(m.Class, 30)
	if p, ok := m.Classes[m.Class]; ok && p >= 0 && p <= 1 {
		text += fmt.Sprintf(" (%.0f %%)", 100*p)
	}
	return text
}

// sources groups the measures by where their bands come from.
func sources(c card.Card) []sourceOf {
	var out []sourceOf
	at := map[string]int{}
	for _, m := range c.Measures {
		if m.Band == nil || m.Band.Source == "" {
			continue
		}
		source, title := card.Clean(m.Band.Source, textLimit), card.Clean(m.Heading(), 60)
		i, seen := at[source]
		if !seen {
			i = len(out)
			at[source] = i
			out = append(out, sourceOf{Source: source})
		}
		if !slices.Contains(out[i].Titles, title) {
			out[i].Titles = append(out[i].Titles, title)
		}
	}
	return out
}

func newMeasureLine(m card.Measure, units quantity.Units, b words.Book) measureLine {
	shown := card.Show(m, units).In(b)
	line := measureLine{
		Title: card.Clean(m.Heading(), 80), Side: card.SideIn(m.Side, b), Value: shown.Value, PlusMinus: shown.PlusMinus,
		Unit: card.Clean(shown.Unit, 20), Band: shown.Band, N: m.N,
	}
	if shown.PlusMinus != "" {
		line.Interval = interval(m, units, b)
	}
	line.Says = b.Of(meaning(m))
	if m.Band != nil {
		line.Source = card.Clean(m.Band.Source, textLimit)
	}
	if m.Class != "" {
		line.Class = classWords(m)
	}
	return line
}

// meaning tells what a measure is, "" where no table has it.
func meaning(m card.Measure) string {
	if d, ok := measure.Find(m.Name, m.Unit); ok {
		return d.Meaning
	}
	if d, ok := measure.FindStanding(m.Name, m.Unit); ok {
		return d.Meaning
	}
	return ""
}

// interval writes the ends of the 95 % interval with the decimals of the
// value itself.
func interval(m card.Measure, units quantity.Units, b words.Book) string {
	end := func(v float64) string {
		moved := m
		moved.Value, moved.Low, moved.High = v, v-(m.High-m.Low)/2, v+(m.High-m.Low)/2
		return card.Show(moved, units).In(b).Value
	}
	return b.Say("%s to %s", end(m.Low), end(m.High))
}

// footer says what was filmed and what read it, in two lines.
func footer(c card.Card, b words.Book) []string {
	clip := c.Clip
	filmed := []string{card.Clean(clip.File, nameLimit), b.Of(clip.Span(2))}
	if clip.RateHz > 0 && !math.IsInf(clip.RateHz, 0) {
		filmed = append(filmed, b.Say("%.1f Hz", clip.RateHz))
	}
	if clip.SlowedBy > 0 && math.Abs(clip.SlowedBy-1) > 0.01 {
		filmed = append(filmed, b.Say("slowed %.3g times, corrected", clip.SlowedBy))
	}
	if clip.View != "" {
		view := b.Of(card.Clean(clip.View, 20) + " view")
		if clip.Facing != "" {
			view += ", " + b.Of("facing "+card.Clean(clip.Facing, 20))
		}
		filmed = append(filmed, view)
	}
	if clip.RollDeg.Known() {
		filmed = append(filmed, b.Say("camera roll %.1f°", float64(clip.RollDeg)))
	}
	if clip.MPerPx.Known() {
		filmed = append(filmed, b.Say("%.2f mm a pixel", 1000*float64(clip.MPerPx)))
	}
	read := []string{}
	for _, n := range c.Networks {
		read = append(read, card.Clean(n.Name, 24)+" "+shortHash(n.SHA256))
	}
	made := []string{card.Clean(c.Program, 40)}
	if len(read) > 0 {
		made = append([]string{b.Say("Body points by %s", strings.Join(read, ", "))}, made...)
	}
	return []string{strings.Join(filmed, " · "), strings.Join(made, " · ")}
}

// shortHash is the first eight digits: enough to tell networks apart.
func shortHash(hash string) string {
	runes := []rune(card.Clean(hash, 64))
	return string(runes[:min(8, len(runes))])
}
