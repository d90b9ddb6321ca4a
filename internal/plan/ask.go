package plan

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/judge"
)

// Date is a day of the calendar, without a clock or a place: "2026-03-02".
type Date struct{ time time.Time }

// ParseDate reads "2026-03-02".
func ParseDate(text string) (Date, error) {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil || t.Year() < 1900 || t.Year() > 2200 {
		return Date{}, form.UsageError("%q is not a day; write it as 2026-03-02", text)
	}
	return Date{t}, nil
}

// Plus gives the day n days later.
func (d Date) Plus(days int) Date { return Date{d.time.AddDate(0, 0, days)} }

// Time gives the beginning of the day in UTC.
func (d Date) Time() time.Time { return d.time }

// String gives "2026-03-02".
func (d Date) String() string { return d.time.Format(time.DateOnly) }

// Words gives "Mon 2 Mar 2026".
func (d Date) Words() string { return d.time.Format("Mon 2 Jan 2006") }

// MarshalText writes "2026-03-02".
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads "2026-03-02".
func (d *Date) UnmarshalText(text []byte) (err error) {
	*d, err = ParseDate(string(text))
	return err
}

// Reason is an answer that stops a plan until the coach has written a note.
type Reason string

// The reasons, and CalfTrouble, which stops nothing but makes the plan
// gentler.
const (
	PainNow        Reason = "pain_now"
	RecentSurgery  Reason = "recent_surgery"
	StressFracture Reason = "stress_fracture"
	Pregnancy      Reason = "pregnancy"
	Minor          Reason = "minor"
	Heart          Reason = "heart"
	CalfTrouble    Reason = "calf_trouble"
)

// Reasons lists the reasons that stop a plan.
func Reasons() []Reason {
	return []Reason{PainNow, RecentSurgery, StressFracture, Pregnancy, Minor, Heart}
}

// Question is one question of health, asked before any plan is made.
type Question struct {
	Reason Reason
	Asks   string
	// Name is the answer "yes" in a sentence.
	Name string
}

// Questions gives what to ask first (common practice, no source), in the
// order of asking.
func Questions() []Question {
	return []Question{
		{PainNow, "Does anything hurt now, at rest, in daily life or when you run?", "pain now"},
		{Heart, "Have you had chest pain, faintness, dizziness or an irregular heartbeat, or do you have a heart condition?", "heart trouble or dizziness"},
		{StressFracture, "Have you had a stress fracture or another bone injury in the last twelve months?", "a recent stress fracture"},
		{RecentSurgery, "Have you had an operation in the last six months?", "recent surgery"},
		{Pregnancy, "Are you pregnant, or did you give birth in the last six months?", "pregnancy or a recent birth"},
		{Minor, "Are you under 18?", "being under 18"},
		{CalfTrouble, "Have you had trouble with a calf, an Achilles tendon or the forefoot in the last twelve months?", "earlier trouble with calf, Achilles tendon or forefoot"},
	}
}

func nameOf(r Reason) string {
	for _, q := range Questions() {
		if q.Reason == r {
			return q.Name
		}
	}
	return string(r)
}

// Health is what the runner answered. Without Asked no plan is made.
type Health struct {
	Asked bool `json:"asked"`
	// Yes are the questions that were answered with yes.
	Yes []Reason `json:"yes"`
}

// Has tells whether a question was answered with yes.
func (h Health) Has(r Reason) bool { return slices.Contains(h.Yes, r) }

// stops gives the answers that need a note.
func (h Health) stops() []Reason {
	return slices.DeleteFunc(slices.Clone(h.Yes), func(r Reason) bool { return !slices.Contains(Reasons(), r) })
}

// Cadence is the runner's own cadence as measured, steps/min with its
// standard uncertainty, at a speed in m/s; Low and High are the band at that
// speed and height, null where open or not known.
type Cadence struct {
	StepsPerMin float64     `json:"steps_per_min"`
	SD          float64     `json:"sd"`
	SpeedMS     card.Number `json:"speed_m_s"`
	Low         card.Number `json:"band_low"`
	High        card.Number `json:"band_high"`
	BandSource  string      `json:"band_source"`
}

// Ask is everything a plan is made from.
type Ask struct {
	Runner string `json:"runner"`
	// Area is the one priority, Why the check's reason for it.
	Area string `json:"area"`
	Why  string `json:"why"`
	// Finding is the measure of the area that lies furthest outside its band,
	// and on which side: "trunk_lean:below"; "" where none does.
	Finding string `json:"finding"`
	// Cadence is null where it was not measured.
	Cadence *Cadence `json:"cadence" jsonschema:"nullable"`
	// UsualWeekMin is the running of the runner's usual week as stated, minutes.
	UsualWeekMin float64 `json:"usual_week_min"`
	// RunsPerWeek is how many runs make that week, 1 to 7.
	RunsPerWeek int `json:"runs_per_week"`
	// Weeks is the plan's length, 4 to 8.
	Weeks  int    `json:"weeks"`
	Start  Date   `json:"start"`
	Health Health `json:"health"`
	// Note is the coach's explicit note where an answer stops a plan.
	Note string `json:"note,omitempty"`
}

// FromCard fills in what a check knows: the runner's name, the priority and
// its reason, the cadence with its band. The rest is left to be asked. area
// is the coach's own choice, "" for the check's. A check without a priority
// and without a choice gives a form.Error.
func FromCard(c card.Card, area string) (Ask, error) {
	ask := Ask{Runner: c.Runner.Name, Area: area, Why: "The coach's choice."}
	if area == "" {
		if c.Priority.Area == nil {
			return Ask{}, form.ClipError("this check puts nothing first, so there is nothing to plan: %s To plan for an area of your own choice, name it", strings.TrimSpace(c.Priority.Why))
		}
		ask.Area, ask.Why = *c.Priority.Area, c.Priority.Why
	} else if c.Priority.Area != nil && *c.Priority.Area == area {
		ask.Why = c.Priority.Why
	}
	ask.Finding = finding(c.Measures, ask.Area)
	nan := card.Number(math.NaN())
	for _, m := range c.Measures {
		if m.Name != "cadence" || m.Unit != "steps/min" {
			continue
		}
		ask.Cadence = &Cadence{StepsPerMin: m.Value, SD: m.SD, SpeedMS: c.Clip.SpeedMS, Low: nan, High: nan}
		if m.Band != nil {
			ask.Cadence.Low, ask.Cadence.High, ask.Cadence.BandSource = m.Band.Low, m.Band.High, m.Band.Source
		}
		break
	}
	return ask, nil
}

// finding gives the measure of an area that counts most for lying outside its
// band (weight × distance in population SDs), as in Ask.Finding.
func finding(measures []card.Measure, area string) (found string) {
	most := 0.0
	for _, m := range measures {
		r, ok := judge.Find(m.Name)
		if !ok || r.Area != area || r.Unit != m.Unit || m.Band == nil || !(m.Band.PopulationSD > 0) {
			continue
		}
		sd := float64(m.Band.PopulationSD)
		if far := r.Below.Weight * (float64(m.Band.Low) - m.Value) / sd; far > most {
			most, found = far, m.Name+":below"
		}
		if far := r.Above.Weight * (m.Value - float64(m.Band.High)) / sd; far > most {
			most, found = far, m.Name+":above"
		}
	}
	return found
}

// The limits of an Ask.
const (
	minWeeks, maxWeeks     = 4, 8
	minRunMin, maxRunMin   = 10, 240
	maxWeekMin             = 1500
	minNoteWords, maxWords = 4, 2000
)

// check tells what is wrong with an ask.
func (a Ask) check() error {
	switch {
	case !slices.Contains(Areas(), a.Area):
		return form.UsageError("%.30q is not an area; the areas are %s", a.Area, strings.Join(Areas(), ", "))
	case a.Weeks < minWeeks || a.Weeks > maxWeeks:
		return form.UsageError("a plan has %d to %d weeks, not %d", minWeeks, maxWeeks, a.Weeks)
	case a.RunsPerWeek < 1 || a.RunsPerWeek > 7:
		return form.UsageError("a week has 1 to 7 runs, not %d", a.RunsPerWeek)
	case !(a.UsualWeekMin > 0 && a.UsualWeekMin <= maxWeekMin):
		return form.UsageError("the usual week is more than 0 and at most %d minutes of running, not %g", maxWeekMin, a.UsualWeekMin)
	case a.UsualWeekMin < float64(minRunMin*a.RunsPerWeek)/firstWeek:
		return form.UsageError("%g minutes are too little for %d runs a week: each needs %d minutes in the lighter first week; plan fewer runs, or let the runner come to run a little first", a.UsualWeekMin, a.RunsPerWeek, minRunMin)
	case a.UsualWeekMin/float64(a.RunsPerWeek) > maxRunMin:
		return form.UsageError("%g minutes in %d runs are more than %d minutes a run; state more runs", a.UsualWeekMin, a.RunsPerWeek, maxRunMin)
	case a.Start.time.IsZero():
		return form.UsageError("the plan needs the day it starts on")
	}
	if c := a.Cadence; c != nil && !(c.StepsPerMin >= 100 && c.StepsPerMin <= 260 && c.SD > 0 && !math.IsInf(c.SD, 0)) {
		return form.ClipError("a cadence of %g ± %g steps/min is not that of a runner; check the clip again", c.StepsPerMin, c.SD)
	}
	return a.checkHealth()
}

// checkHealth refuses a plan before the questions are asked, and after an
// answer that needs the coach's note.
func (a Ask) checkHealth() error {
	if !a.Health.Asked {
		return form.UsageError("ask the health questions first and state the answers; without them no plan is made")
	}
	for _, r := range a.Health.Yes {
		if r != CalfTrouble && !slices.Contains(Reasons(), r) {
			return form.UsageError("%.30q is not one of the health questions' answers", r)
		}
	}
	if n := utf8.RuneCountInString(a.Note); n > maxWords {
		return form.UsageError("the note has %d characters, more than %d", n, maxWords)
	}
	stops := a.Health.stops()
	if len(stops) == 0 || len(strings.Fields(a.Note)) >= minNoteWords {
		return nil
	}
	if len(stops) == 1 && stops[0] == Minor {
		return form.ClipError("no plan is made for a runner under 18 without a note: ask a parent or guardian, and a doctor or physiotherapist where anything hurts; then write a note of at least %d words that says who agreed to what", minNoteWords)
	}
	var names []string
	for _, r := range stops {
		names = append(names, nameOf(r))
	}
	return form.ClipError("no plan is made with %s: a doctor or physiotherapist should see this runner first; if that is settled, write a note of at least %d words that says who agreed to what", and(names), minNoteWords)
}

// and joins words: "a", "a and b", "a, b and c".
func and(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return fmt.Sprintf("%s and %s", strings.Join(words[:last], ", "), words[last])
}
