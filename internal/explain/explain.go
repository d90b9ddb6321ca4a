package explain

import (
	_ "embed" // the typical uncertainties
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"plumbstride/internal/accelerometry"
	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/judge"
	"plumbstride/internal/measure"
	"plumbstride/internal/quantity"
	"plumbstride/internal/signal"
	"plumbstride/internal/words"
)

//go:embed typical.json
var typicalText []byte

// Typical is how sure a measure typically is: the median standard uncertainty
// over invented people and cameras, in the measure's unit.
type Typical struct {
	// Running is by name and unit ("cadence steps/min"), at the rates in order.
	RatesHz []float64            `json:"rates_hz"`
	Running map[string][]float64 `json:"running"`
	// Standing has one number each: standing still, the frame rate is no matter.
	Standing map[string]float64 `json:"standing"`
	// Refused are the measures that the networks' points never give, and why.
	Refused map[string]string `json:"refused"`
}

// typical reads what is built in; it panics where that is no JSON.
func typical() Typical {
	var t Typical
	if err := json.Unmarshal(typicalText, &t); err != nil {
		panic("explain: " + err.Error())
	}
	return t
}

// The kinds of check that a measure belongs to.
const (
	FromSide    = "running, from the side"
	FromBehind  = "running, from behind"
	Standing    = "standing"
	ByRecording = "accelerometer"
)

// Row is a measure in one unit and one kind of check.
type Row struct {
	Kind, Title, Unit, Area  string
	Meaning, Formula, Source string
	// Band is the reference band, "" for none; BandSource where it is from,
	// Population who was measured, Note what to know beside it.
	Band, BandSource, Population, Note string
	// SD is the typical standard uncertainty in Unit, at RatesHz; a single one
	// where the rate is no matter; none where it is not known.
	RatesHz, SD []float64
	// Refused is why the networks' points don't give it; "" where they do.
	Refused string
}

// Sheet explains one measure.
type Sheet struct {
	Name                  string
	Rows                  []Row
	Needs, Cannot, Claims string
}

// Title is the measure's name for people.
func (s Sheet) Title() string { return s.Rows[0].Title }

// All explains every measure, in the order of the tables; bands are those of
// a runner of the context.
func All(ctx judge.Context) []Sheet {
	var sheets []Sheet
	at := map[string]int{}
	vocabulary := vocabulary()
	add := func(name string, r Row) {
		i, ok := at[name]
		if !ok {
			i = len(sheets)
			at[name] = i
			w := vocabulary[name]
			sheets = append(sheets, Sheet{Name: name, Needs: w.needs, Cannot: w.cannot, Claims: w.claims})
		}
		sheets[i].Rows = append(sheets[i].Rows, r)
	}
	sure := typical()
	for _, d := range measure.Table() {
		r := rowOf(d, FromSide, judge.Rows(), judge.WithBands, ctx)
		if d.View == form.ViewBack {
			r.Kind = FromBehind
		}
		if sd, ok := sure.Running[d.Name+" "+d.Unit]; ok {
			r.RatesHz, r.SD = sure.RatesHz, sd
		}
		r.Refused = sure.Refused[d.Name]
		add(d.Name, r)
	}
	for _, d := range measure.StandingTable() {
		r := rowOf(d, Standing, judge.StandingRows(), judge.WithStandingBands, ctx)
		if sd, ok := sure.Standing[d.Name+" "+d.Unit]; ok {
			r.SD = []float64{sd}
		}
		add(d.Name, r)
	}
	for _, d := range accelerometry.Table() {
		r := Row{Kind: ByRecording, Title: d.Title, Unit: d.Unit, Meaning: d.Meaning, Formula: d.Formula, Source: d.Source}
		if d.SD > 0 {
			r.SD = []float64{d.SD}
		}
		add(d.Name, r)
	}
	return sheets
}

// rowOf joins a measure's definition with what the judgement knows of it.
func rowOf(d measure.Def, kind string, rows []judge.Row, bands func([]form.Measure, judge.Context) []form.Measure, ctx judge.Context) Row {
	r := Row{Kind: kind, Title: d.Title, Unit: d.Unit, Area: d.Area, Meaning: d.Meaning, Formula: d.Formula, Source: d.Source}
	for _, j := range rows {
		if j.Measure == d.Name && j.Unit == d.Unit {
			r.Population, r.Note = j.Population, j.Note
		}
	}
	if b := bands([]form.Measure{{Name: d.Name, Unit: d.Unit}}, ctx)[0].Band; b != nil {
		shown := card.Show(card.Measure{Unit: d.Unit, Band: &card.Band{
			Low: card.Number(b.Low), High: card.Number(b.High), Source: b.Source,
		}}, quantity.Metric)
		r.Band, r.BandSource = strings.TrimSpace(shown.Band+" "+strings.Trim(d.Unit, "–")), b.Source
	}
	return r
}

// Find gives the sheet of a name, or of a title in English or in the words of
// b; blanks and hyphens stand for the underscore, and capitals don't matter.
func Find(sheets []Sheet, name string, b words.Book) (Sheet, bool) {
	want := plain(name)
	for _, s := range sheets {
		if s.Name == want || plain(s.Title()) == want || plain(b.Of(s.Title())) == want {
			return s, true
		}
	}
	return Sheet{}, false
}

func plain(name string) string {
	return strings.Map(func(r rune) rune {
		if r == ' ' || r == '-' {
			return '_'
		}
		return r
	}, strings.ToLower(strings.TrimSpace(name)))
}

// Nearest gives up to three names that may have been meant, the likeliest
// first: those that hold the word, then those that differ by few letters.
func Nearest(sheets []Sheet, name string) []string {
	want := plain(name)
	type near struct {
		name string
		cost int
	}
	var all []near
	for _, s := range sheets {
		cost := min(distance(want, s.Name), distance(want, plain(s.Title())))
		if len(want) >= 3 && (strings.Contains(s.Name, want) || strings.Contains(want, s.Name) || strings.Contains(plain(s.Title()), want)) {
			cost = 0
		}
		if cost <= max(2, min(len(s.Name), len(want))/3) {
			all = append(all, near{s.Name, cost})
		}
	}
	slices.SortStableFunc(all, func(a, b near) int { return a.cost - b.cost })
	var out []string
	for _, n := range all[:min(3, len(all))] {
		out = append(out, n.name)
	}
	return out
}

// distance is how many letters must be changed, put in or left out
// (Levenshtein 1966).
func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	last := make([]int, len(y)+1)
	for j := range last {
		last[j] = j
	}
	for i := range x {
		row := make([]int, len(y)+1)
		row[0] = i + 1
		for j := range y {
			change := last[j]
			if x[i] != y[j] {
				change++
			}
			row[j+1] = min(change, last[j+1]+1, row[j]+1)
		}
		last = row
	}
	return last[len(y)]
}

// Sureness says how sure the row typically is, in the words of b; "" where
// that is not known.
func (r Row) Sureness(b words.Book) string {
	if len(r.SD) == 0 {
		return ""
	}
	unit := unitIn(r.Unit, b)
	text := func(v float64) string { return strings.TrimSpace(b.Figures(number(v)) + " " + unit) }
	if len(r.SD) == 1 {
		return b.Say("± %s (95 %%)", text(1.96*r.SD[0]))
	}
	if alike(r.SD) {
		return b.Say("± %s (95 %%), alike at %s frames a second", text(1.96*r.SD[0]), rates(r.RatesHz, b))
	}
	between := ", "
	if b.Figures("0.5") != "0.5" {
		between = "; " // a comma stands in the numbers
	}
	var sds []string
	var at []float64
	for i, sd := range r.SD {
		if sd > 0 {
			sds = append(sds, b.Figures(number(1.96*sd)))
			at = append(at, r.RatesHz[i])
		}
	}
	return b.Say("± %s (95 %%) at %s frames a second", strings.TrimSpace(strings.Join(sds, between)+" "+unit), rates(at, b))
}

// rates lists frame rates: "60, 120 and 240".
func rates(hz []float64, b words.Book) string {
	var all []string
	for _, v := range hz {
		all = append(all, fmt.Sprintf("%.0f", v))
	}
	if len(all) < 2 {
		return strings.Join(all, "")
	}
	return strings.Join(all[:len(all)-1], ", ") + " " + b.Say("and") + " " + all[len(all)-1]
}

// Change is the smallest difference between two checks that is more than
// noise, if nothing of the uncertainty were the same in both: an upper limit.
// "" where it is not known.
func (r Row) Change(b words.Book) string {
	if len(r.SD) == 0 {
		return ""
	}
	return strings.TrimSpace(b.Figures(number(signal.MDC95(slices.Max(r.SD)))) + " " + unitIn(r.Unit, b))
}

// unitIn is a unit to be read, "" where there is none.
func unitIn(unit string, b words.Book) string {
	if unit == "–" {
		return ""
	}
	return b.Of(unit)
}

// alike tells whether the frame rate makes no difference worth a word.
func alike(sd []float64) bool { return slices.Max(sd) < 1.05*slices.Min(sd) && slices.Min(sd) > 0 }

// number writes two digits that count.
func number(v float64) string {
	switch {
	case v >= 9.95:
		return fmt.Sprintf("%.0f", v)
	case v >= 0.995:
		return fmt.Sprintf("%.1f", v)
	case v >= 0.0995:
		return fmt.Sprintf("%.2f", v)
	default:
		return fmt.Sprintf("%.3f", v)
	}
}
