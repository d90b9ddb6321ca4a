package chart

import (
	"math"
	"strings"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/quantity"
	"plumbstride/internal/words"
)

// mark is one value of a row. At, low and high are in standard deviations
// from the plumb line, NaN where the row has no scale.
type mark struct {
	side          form.Side
	shown         card.Shown
	at, low, high float64
}

// row is one line of the chart: one measure, with one mark for the whole
// body or one for each side. The band's ends are in standard deviations from
// the line, infinite where the band is open, NaN where there is none.
type row struct {
	title, unit, band string
	bandLow, bandHigh float64
	standIn           bool // half the band's width stands for one SD
	marks             []mark
}

// paired tells whether the row has marks of the two sides.
func (r row) paired() bool { return len(r.marks) > 0 && r.marks[0].side != form.Both }

// group is one area with its rows. First is the area that is the priority.
type group struct {
	title, state string
	first        bool
	rows         []row
}

// stateWords says how an area stands, where there is more to say than that
// all hangs within its bands.
var stateWords = map[string]string{"look": "outside its band", "unsure": "can’t be told yet"}

// groups sorts a card's measures into areas and rows. Measures of no known
// area come last.
func groups(c card.Card, units quantity.Units, b words.Book) []group {
	states := map[string]string{}
	for _, a := range c.Areas {
		states[a.Name] = b.Of(stateWords[a.State])
	}
	var out []group
	taken := map[string]bool{}
	for _, name := range card.AreaNames() {
		taken[name] = true
		rows := rowsOf(c.Measures, units, b, func(m card.Measure) bool { return m.Area == name })
		if len(rows) > 0 {
			first := c.Priority.Area != nil && *c.Priority.Area == name
			state := states[name]
			if first {
				state = b.Say("work on this")
			}
			out = append(out, group{card.Capital(b.Of(name)), state, first, rows})
		}
	}
	if rows := rowsOf(c.Measures, units, b, func(m card.Measure) bool { return !taken[m.Area] }); len(rows) > 0 {
		out = append(out, group{title: b.Say("The run"), rows: rows})
	}
	return out
}

// rowsOf makes the rows of the measures that belong, the sides of one
// measure in one row, left before right.
func rowsOf(measures []card.Measure, units quantity.Units, b words.Book, belongs func(card.Measure) bool) []row {
	type key struct {
		name, unit string
		paired     bool
	}
	at := map[key]int{}
	var rows []row
	for _, m := range measures {
		if !belongs(m) {
			continue
		}
		k := key{m.Name, m.Unit, m.Side == form.Left || m.Side == form.Right}
		i, seen := at[k]
		if !seen || !k.paired || hasSide(rows[i], m.Side) {
			i = len(rows)
			at[k] = i
			rows = append(rows, newRow(m, units, b))
		}
		mk := newMark(m, units, b)
		if mk.side == form.Left && len(rows[i].marks) > 0 {
			rows[i].marks = append([]mark{mk}, rows[i].marks...)
		} else {
			rows[i].marks = append(rows[i].marks, mk)
		}
	}
	return rows
}

func hasSide(r row, side form.Side) bool {
	for _, m := range r.marks {
		if m.side == side {
			return true
		}
	}
	return false
}

func newRow(m card.Measure, units quantity.Units, b words.Book) row {
	title := m.Title
	if title == "" {
		title = card.Capital(m.Name)
	}
	shown := card.Show(m, units).In(b)
	r := row{title: card.Clean(title, 80), unit: shown.Unit, band: shown.Band,
		bandLow: math.NaN(), bandHigh: math.NaN()}
	if s, ok := scaleOf(m.Band); ok {
		r.bandLow, r.bandHigh, r.standIn = s.at(float64(m.Band.Low)), s.at(float64(m.Band.High)), s.standIn
		if !m.Band.Low.Known() {
			r.bandLow = math.Inf(-1)
		}
		if !m.Band.High.Known() {
			r.bandHigh = math.Inf(1)
		}
	}
	return r
}

func newMark(m card.Measure, units quantity.Units, b words.Book) mark {
	side := m.Side
	if side != form.Left && side != form.Right {
		side = form.Both
	}
	mk := mark{side: side, shown: card.Show(m, units).In(b), at: math.NaN(), low: math.NaN(), high: math.NaN()}
	if s, ok := scaleOf(m.Band); ok && finite(m.Value) {
		mk.at, mk.low, mk.high = s.at(m.Value), s.at(m.Low), s.at(m.High)
	}
	return mk
}

// scale turns a value of a measure into a distance from the plumb line,
// in standard deviations between runners.
type scale struct {
	middle, sd float64
	standIn    bool
}

func (s scale) at(v float64) float64 { return (v - s.middle) / s.sd }

// scaleOf gives the scale of a band: the line is its middle. A band that is
// open on one side has its edge one SD from the line. Where no spread
// between runners is published, half the band's width stands for one SD;
// an open band without a spread has no scale.
func scaleOf(b *card.Band) (scale, bool) {
	if b == nil {
		return scale{}, false
	}
	low, high, sd := float64(b.Low), float64(b.High), float64(b.PopulationSD)
	known := finite(sd) && sd > 0
	switch {
	case finite(low) && finite(high) && high > low && known:
		return scale{(low + high) / 2, sd, false}, true
	case finite(low) && finite(high) && high > low:
		return scale{(low + high) / 2, (high - low) / 2, true}, true
	case finite(low) && math.IsNaN(high) && known:
		return scale{low + sd, sd, false}, true
	case finite(high) && math.IsNaN(low) && known:
		return scale{high - sd, sd, false}, true
	default:
		return scale{}, false
	}
}

// span is how many standard deviations the axis shows to each side: what the
// bobs need, from 2 to 4. Bobs farther out are drawn at the edge.
func span(gs []group) float64 {
	most := 0.0
	for _, g := range gs {
		for _, r := range g.rows {
			for _, m := range r.marks {
				if finite(m.at) {
					most = math.Max(most, math.Abs(m.at)+0.3)
				}
			}
		}
	}
	return math.Min(math.Max(math.Ceil(most), 2), 4)
}

func anyStandIn(gs []group) bool {
	for _, g := range gs {
		for _, r := range g.rows {
			if r.standIn {
				return true
			}
		}
	}
	return false
}

// describe tells the chart in words: how many measures, and which hang
// outside their bands.
func describe(gs []group, b words.Book) string {
	count := 0
	var out []string
	for _, g := range gs {
		for _, r := range g.rows {
			count++
			for _, m := range r.marks {
				if m.at < r.bandLow || m.at > r.bandHigh {
					out = append(out, b.Say("%s %s, band %s", r.title+sideSuffix(m.side, b), m.shown.Text(), r.band))
				}
			}
		}
	}
	text := b.Say("Measures beside a plumb line that marks the middle of each reference band: %d.", count)
	if len(out) == 0 {
		return text + " " + b.Say("None lies outside its band.")
	}
	return text + " " + b.Say("Outside their bands: %s.", strings.Join(out, "; "))
}

func sideSuffix(s form.Side, b words.Book) string {
	if s == form.Both {
		return ""
	}
	return " (" + card.SideIn(s, b) + ")"
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
