package recheck

import (
	"cmp"
	"math"
	"slices"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
)

// Verdict is what a difference comes to.
type Verdict string

// The verdicts. Each but NoChange is of a difference that is more than noise.
const (
	// Toward: nearer to the band, or into it.
	Toward Verdict = "toward"
	// Away: out of the band, or further out.
	Away Verdict = "away"
	// Different: inside the band before and after, or without a band.
	Different Verdict = "different"
	// NoChange: no change that can be told from noise.
	NoChange Verdict = "no_change"
)

// Change is one measure in both checks. Numbers are in Unit; Difference is
// after − before once SpeedShift, what the speeds explain, is taken off.
type Change struct {
	Name       string    `json:"name"`
	Side       form.Side `json:"side"`
	Unit       string    `json:"unit"`
	Title      string    `json:"title"`
	Area       string    `json:"area,omitempty"`
	View       string    `json:"view,omitempty" jsonschema:"enum=back"`
	Before     Value     `json:"before"`
	After      Value     `json:"after"`
	Difference float64   `json:"difference"`
	// SD is the standard uncertainty of the difference, all sources and the
	// runner's variation from day to day; Low and High its 95 % interval.
	SD   float64 `json:"sd"`
	Low  float64 `json:"low"`
	High float64 `json:"high"`
	// DaySD is the runner's variation from one check to another in one of
	// them, a standard deviation.
	DaySD float64 `json:"day_sd"`
	// SpeedShift is 0 where nothing was adjusted.
	SpeedShift   float64 `json:"speed_shift"`
	SpeedShiftSD float64 `json:"speed_shift_sd"`
	// MDC95 is the smallest change that would have shown.
	MDC95   float64 `json:"mdc95"`
	Verdict Verdict `json:"verdict" jsonschema:"enum=toward,enum=away,enum=different,enum=no_change"`
	// P is how often so large a difference comes without any change; Stands
	// tells whether it is more than noise with all measures counted together
	// (Holm), true for the planned one where its verdict is.
	P       float64 `json:"p"`
	Stands  bool    `json:"stands"`
	Planned bool    `json:"planned"`
}

// Value is what one check says of a measure.
type Value struct {
	Value float64    `json:"value"`
	SD    float64    `json:"sd"`
	Low   float64    `json:"low"`
	High  float64    `json:"high"`
	N     int        `json:"n"`
	Class string     `json:"class,omitempty"`
	Band  *card.Band `json:"band" jsonschema:"nullable"`
}

func valueOf(m card.Measure) Value {
	return Value{Value: m.Value, SD: m.SD, Low: m.Low, High: m.High, N: m.N, Class: m.Class, Band: m.Band}
}

// changes compares what both cards have, in the order of the second; missing
// says why the others are not compared.
func changes(before, after card.Card, t terms) (out []Change, missing []form.Refusal) {
	refuse := func(m card.Measure, why string) {
		missing = append(missing, form.Refusal{Name: m.Name, Side: m.Side, Reason: why})
	}
	for _, now := range after.Measures {
		if uncompared[now.Name] {
			continue
		}
		was, ok := match(before, now)
		if !ok {
			refuse(now, "the first check doesn't have it")
			continue
		}
		if why := t.refuses(now.Name, now.Unit); why != "" {
			refuse(now, why)
			continue
		}
		c, ok := t.change(was, now)
		if !ok {
			refuse(now, "how much it varies from day to day is not known")
			continue
		}
		out = append(out, c)
	}
	for _, was := range before.Measures {
		if _, there := match(after, was); !uncompared[was.Name] && !there {
			refuse(was, "the second check doesn't have it")
		}
	}
	return out, missing
}

// uncompared are what the runner chose or the recording's length made.
var uncompared = map[string]bool{"speed": true, "step_count": true}

func same(a, b card.Measure) bool {
	return a.Name == b.Name && a.Unit == b.Unit && a.Side == b.Side && a.View == b.View
}

// match is a card's measure that is the same as another card's.
func match(c card.Card, like card.Measure) (card.Measure, bool) {
	for _, m := range c.Measures {
		if same(m, like) {
			return m, true
		}
	}
	return card.Measure{}, false
}

// change compares one measure; ok is false where its variation from day to
// day is not known.
func (t terms) change(was, now card.Measure) (c Change, ok bool) {
	day, ok := dayOf(now.Name, now.Unit, t.ground, t.oneDay)
	if !ok {
		return c, false
	}
	returns := t.returns
	other := t.heights > 0 && now.Unit == "cm"
	if (was.Found == nil) != (now.Found == nil) || other {
		returns = 0 // a hand's points, another height: what is added differs
	}
	d := Between(ReadingOf(was), ReadingOf(now), returns, day)
	shift, shiftSD := t.shift(now.Name, now.Unit)
	d.Value, d.SD = d.Value-shift, math.Hypot(d.SD, shiftSD)
	if other { // which of the two heights is right is not known
		d.SD = math.Hypot(d.SD, t.heights*now.Value)
	}
	c = Change{
		Name: now.Name, Side: now.Side, Unit: now.Unit, Title: now.Heading(), Area: now.Area, View: now.View,
		Before: valueOf(was), After: valueOf(now), Difference: d.Value, SD: d.SD, DaySD: day,
		SpeedShift: shift, SpeedShiftSD: shiftSD, MDC95: d.MDC95(), P: d.P(), Verdict: verdictOf(was, now, d),
	}
	c.Low, c.High = d.Interval()
	return c, true
}

// verdictOf weighs a difference against the bands, each check's its own: they
// move with speed.
func verdictOf(was, now card.Measure, d Difference) Verdict {
	if !d.Changed() {
		return NoChange
	}
	before, after := Outside(was), Outside(now)
	switch {
	case math.Abs(after) < math.Abs(before) && d.Value*before < 0:
		return Toward
	case math.Abs(after) > math.Abs(before) && d.Value*after > 0:
		return Away
	default:
		return Different
	}
}

// Outside is how far a value lies outside its band, negative below it; 0
// inside, or without one.
func Outside(m card.Measure) float64 {
	switch b := m.Band; {
	case b == nil:
		return 0
	case b.Low.Known() && m.Value < float64(b.Low):
		return m.Value - float64(b.Low)
	case b.High.Known() && m.Value > float64(b.High):
		return m.Value - float64(b.High)
	default:
		return 0
	}
}

// InBand is the probability that a runner's usual value lies in the band: the
// check's own uncertainty and the variation from day to day (sd) count. ok is
// false without a band.
func InBand(m card.Measure, day float64) (p float64, ok bool) {
	if m.Band == nil || !m.Band.Low.Known() && !m.Band.High.Known() {
		return 0, false
	}
	one := form.Measure{Value: m.Value, SD: math.Hypot(ReadingOf(m).SD, day), Band: &form.Band{Low: float64(m.Band.Low), High: float64(m.Band.High)}}
	return 1 - one.ProbabilityOutside(), true
}

// stand marks the changes that are more than noise with all of them counted
// together, at 5 % (Holm 1979, Scand J Stat 6:65–70; from memory). The planned
// one was chosen before and stands by itself. A measure in two units counts
// twice, which errs on the side of saying less.
func stand(all []Change) {
	var order []int
	for i := range all {
		if all[i].Planned {
			all[i].Stands = all[i].Verdict != NoChange
			continue
		}
		order = append(order, i)
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(all[a].P, all[b].P) })
	for k, i := range order {
		if all[i].P > 0.05/float64(len(order)-k) {
			return
		}
		all[i].Stands = all[i].Verdict != NoChange
	}
}
