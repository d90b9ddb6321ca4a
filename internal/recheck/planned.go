package recheck

import (
	"fmt"
	"math"
	"strings"
	"time"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/judge"
	"plumbstride/internal/quantity"
)

// Outcome is how what was worked on stands.
type Outcome string

// The outcomes.
const (
	// LearntIt: the rule of learnt.go holds.
	LearntIt Outcome = "held"
	// Reached: changed by more than noise, and in its band now.
	Reached Outcome = "reached"
	// Nearer: changed by more than noise toward its band, not in it yet.
	Nearer Outcome = "nearer"
	// Further: changed by more than noise away from its band.
	Further Outcome = "further"
	// Unmoved: no change that can be told from noise.
	Unmoved Outcome = "no_change"
	// Blind is Unmoved where these two clips couldn't have told the change
	// that was asked for: film better.
	Blind Outcome = "film_better"
	// NotComparable: the leading measure is in one check alone.
	NotComparable Outcome = "not_comparable"
	// Nothing: nothing was worked on.
	Nothing Outcome = "nothing_planned"
)

// Planned is the one comparison that was planned: what was worked on. Measure
// led its area in the first check; the other numbers stand in its Change.
type Planned struct {
	Area    string    `json:"area,omitempty"`
	Measure string    `json:"measure,omitempty"`
	Side    form.Side `json:"side"`
	Unit    string    `json:"unit,omitempty"`
	Outcome Outcome   `json:"outcome" jsonschema:"enum=held,enum=reached,enum=nearer,enum=further,enum=no_change,enum=film_better,enum=not_comparable,enum=nothing_planned"`
	// HeldBy tells what a learnt area rests on: "checks" or "practice".
	HeldBy Held `json:"held_by,omitempty" jsonschema:"enum=checks,enum=practice"`
	// InBandBefore and InBandAfter are the probabilities that the runner's
	// usual value lies in the band; null without one.
	InBandBefore card.Number `json:"in_band_before"`
	InBandAfter  card.Number `json:"in_band_after"`
	// Says is what to tell, MovedOn whether the second check puts another area
	// first while this one needs no work, Next that check's area and NextSays
	// its sentences.
	Says     string  `json:"says"`
	MovedOn  bool    `json:"moved_on"`
	Next     *string `json:"next" jsonschema:"nullable"`
	NextSays string  `json:"next_says"`
}

// planner finds the planned comparison.
type planner struct {
	before, after card.Card
	terms
	o    Options
	lead card.Measure // of the first check
}

// planned gives the outcome, and marks its change among all.
func planned(before, after card.Card, t terms, o Options, all []Change, missing []form.Refusal) Planned {
	p := planner{before: before, after: after, terms: t, o: o}
	out := Planned{Next: after.Priority.Area, NextSays: after.Priority.Why}
	unknown := card.Number(math.NaN())
	out.InBandBefore, out.InBandAfter = unknown, unknown
	out.Area = o.Area
	if out.Area == "" && before.Priority.Area != nil {
		out.Area = *before.Priority.Area
	}
	if out.Area == "" {
		out.Outcome = Nothing
		out.Says = "Nothing was put first in the first check, so that no one change was looked for: the table tells what differs."
		return out
	}
	lead, ok := Leading(before, out.Area)
	if !ok {
		out.Outcome, out.Says = NotComparable, fmt.Sprintf("The first check has no measure of the %s that was worked on, so that nothing can be said of it.", out.Area)
		return out
	}
	p.lead = lead
	out.Measure, out.Side, out.Unit = lead.Name, lead.Side, lead.Unit
	for i := range all {
		if c := &all[i]; c.Name == lead.Name && c.Unit == lead.Unit && c.Side == lead.Side && c.View == lead.View {
			c.Planned = true
			p.judge(&out, c)
			return out
		}
	}
	out.Outcome, out.Says = NotComparable, fmt.Sprintf("%s can't be compared.", p.title())
	for _, r := range missing {
		if r.Name == lead.Name && r.Side == lead.Side {
			out.Says = fmt.Sprintf("%s can't be compared: %s.", p.title(), r.Reason)
		}
	}
	return out
}

// Leading is the measure that led an area of a card; ok is false where the card
// has none of it.
func Leading(c card.Card, area string) (card.Measure, bool) {
	var measures []form.Measure
	for _, m := range c.Measures {
		one := form.Measure{Name: m.Name, Side: m.Side, Unit: m.Unit, Value: m.Value, SD: m.SD}
		if m.Band != nil {
			one.Band = &form.Band{Low: float64(m.Band.Low), High: float64(m.Band.High), PopulationSD: float64(m.Band.PopulationSD)}
		}
		measures = append(measures, one)
	}
	lead, ok := judge.Leading(measures, area, c.Kind == card.Standing)
	if !ok {
		return card.Measure{}, false
	}
	for _, m := range c.Measures {
		if m.Name == lead.Name && m.Unit == lead.Unit && m.Side == lead.Side {
			return m, true
		}
	}
	return card.Measure{}, false
}

// judge finds the outcome of the leading measure's change.
func (p planner) judge(out *Planned, c *Change) {
	now, _ := match(p.after, p.lead)
	before, banded := InBand(p.lead, p.usualDay())
	after, _ := InBand(now, p.usualDay())
	if banded {
		out.InBandBefore, out.InBandAfter = card.Number(before), card.Number(after)
	}
	quiet := p.quiet(out.Area)
	if held := p.held(now, before, after); held != NotHeld && quiet {
		out.Outcome, out.HeldBy = LearntIt, held
	} else {
		out.Outcome = p.outcome(*c, now)
	}
	out.Says = p.says(*out, *c)
	out.MovedOn = quiet && (out.Outcome == LearntIt || out.Outcome == Reached) && (out.Next == nil || *out.Next != out.Area) && !p.filmAgain()
}

// usualDay is how much the leading measure varies from day to day. Where a
// usual value lies is asked over days, also of two checks of one day.
func (p planner) usualDay() float64 {
	day, _ := dayOf(p.lead.Name, p.lead.Unit, p.ground, false)
	return day
}

// quiet tells whether an area needs no work by the second check.
func (p planner) quiet(area string) bool {
	for _, a := range p.after.Areas {
		if a.Name == area {
			return a.State != "look"
		}
	}
	return true
}

// filmAgain tells whether the second check could not judge enough.
func (p planner) filmAgain() bool { return strings.HasPrefix(p.after.Priority.Why, "Film again") }

// held applies the rule of learnt.go to both checks, those between, and
// practice.
func (p planner) held(now card.Measure, before, after float64) Held {
	looks := []Seen{{p.before.Made, before}}
	for _, between := range p.o.Between {
		if m, ok := match(between, p.lead); ok && !oneClip(between, p.after) {
			in, _ := InBand(m, p.usualDay())
			looks = append(looks, Seen{between.Made, in})
		}
	}
	looks = append(looks, Seen{p.after.Made, after})
	practised, span := 0.0, time.Duration(0)
	if q := p.o.Practice; q != nil && p.lead.Name == "cadence" && now.Band != nil {
		shift, sd := pace{before: float64(p.after.Clip.SpeedMS), after: q.SpeedMS, heightM: p.heightM}.shift("cadence", "steps/min")
		like := Practice{CadenceSPM: q.CadenceSPM - shift, SD: math.Hypot(q.SD, sd)}
		practised, span = like.within(float64(now.Band.Low), float64(now.Band.High)), q.To.Sub(q.From)
	}
	return Learnt(looks, practised, span)
}

// outcome is that of a measure that is not learnt.
func (p planner) outcome(c Change, now card.Measure) Outcome {
	short := math.Abs(Outside(p.lead)) // how far there was to go
	switch {
	case c.Verdict == Away:
		return Further
	case c.Verdict == Toward && Outside(now) == 0:
		return Reached
	case c.Verdict == Toward:
		return Nearer
	case c.Verdict == NoChange && short > 0 && c.MDC95 > short:
		return Blind
	case c.Verdict == NoChange:
		return Unmoved
	case Outside(now) == 0:
		return Reached
	default:
		return Nearer
	}
}

// title is the leading measure's name, with its side.
func (p planner) title() string {
	return fmt.Sprintf(card.SideWords(p.lead.Side), p.lead.Heading())
}

// figure writes a value of the leading measure with its unit.
func (p planner) figure(v float64) string {
	return card.Show(card.Measure{Name: p.lead.Name, Unit: p.lead.Unit, Value: v, Low: v, High: v}, p.o.units()).Text()
}

// says tells the outcome in a sentence or two.
func (p planner) says(out Planned, c Change) string {
	title, from, to, least := p.title(), p.figure(c.Before.Value), p.figure(c.After.Value), p.figure(c.MDC95)
	switch out.Outcome {
	case LearntIt:
		if out.HeldBy == HeldPractice {
			return fmt.Sprintf("%s lies surely in its band, in this check and in practice over weeks.", title)
		}
		return fmt.Sprintf("%s lies surely in its band, in this check and in one at least three weeks before it.", title)
	case Reached:
		return fmt.Sprintf("%s went from %s to %s, by more than noise. Whether it holds, another check at least three weeks from now tells.", title, from, to)
	case Nearer:
		return fmt.Sprintf("%s went from %s to %s, toward its band by more than noise. Keep going.", title, from, to)
	case Further:
		return fmt.Sprintf("%s went from %s to %s, away from its band by more than noise. Ask first about pain, shoes and tiredness, and go back a step.", title, from, to)
	case Blind:
		if 2*c.DaySD*c.DaySD > c.SD*c.SD/2 {
			return fmt.Sprintf("%s went from %s to %s, which is within the noise: two checks show only a change of %s or more, further than to its band. Most of that is how the runner varies from day to day: film on several days and look at them together.", title, from, to, least)
		}
		return fmt.Sprintf("%s went from %s to %s, which is within the noise: two clips like these show only a change of %s or more, further than to its band. Put the camera level and square to the run, film at 60 frames a second or more, and film on several days.", title, from, to, least)
	default:
		return fmt.Sprintf("%s went from %s to %s, which is within the noise; a change of %s or more would have shown. Keep going.", title, from, to, least)
	}
}

// units are those of the sentences, metric where nothing is said.
func (o Options) units() quantity.Units {
	if o.Units == "" {
		return quantity.Metric
	}
	return o.Units
}
