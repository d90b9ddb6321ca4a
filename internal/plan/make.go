package plan

import (
	"fmt"
	"math"
	"slices"

	"plumbstride/internal/judge"
)

const (
	// MaxWeekRisePct is the most by which one week's running exceeds that of
	// the week before, percent. Source: common practice, no source; that
	// rises over 30 % went with more injuries than rises under 10 % is
	// Nielsen et al. 2014 J Orthop Sports Phys Ther 44:739–747, from memory.
	MaxWeekRisePct = 10.0
	// firstWeek is the share of the usual week run in the first week of a
	// change (common practice, no source).
	firstWeek = 0.9
	// Practice is at most half of a run, and grows from 10 minutes by 5 a
	// week to 30 (common practice, no source; 15 to 30 minutes in the trial
	// of Chan et al. 2018, from memory).
	firstPracticeMin, morePracticeMin, maxPracticeMin = 10, 5, 30
	// maxPractices is how many runs of a week are practised in.
	maxPractices = 3
)

// Plan is what the runner takes home.
type Plan struct {
	Ask Ask `json:"ask"`
	// Steps are the rises of cadence; NoSteps says why there are none.
	Steps   []Step `json:"cadence_steps"`
	NoSteps string `json:"no_cadence_steps,omitempty"`
	// WhatIf is what changes of cadence are known to do; empty without steps.
	WhatIf []Change `json:"what_if"`
	Weeks  []Week   `json:"weeks"`
	// Recheck is the day to film again.
	Recheck Date `json:"recheck"`
	// First are what must be read before anything else.
	First    []string   `json:"first"`
	Rules    []Rule     `json:"rules"`
	Pain     []PainBand `json:"pain_rule"`
	StopFor  []string   `json:"stop_and_see_someone_for"`
	Cautions []Caution  `json:"cautions"`
	LeftOut  []string   `json:"drills_left_out"`
}

// Week is one week of the plan, from its first day on.
type Week struct {
	Number int  `json:"number"`
	Start  Date `json:"start"`
	// RunMin is all the running of the week, minutes, drills within runs
	// included.
	RunMin int    `json:"run_min"`
	Cue    string `json:"cue"`
	// Apart are drills for days without practice, twice in the week.
	Apart    []Dose    `json:"apart"`
	Sessions []Session `json:"sessions"`
}

// Session is one run.
type Session struct {
	Date Date `json:"date"`
	// Practice tells a run with practice from one that is just run.
	Practice bool `json:"practice"`
	// RunMin is the whole run; DrillMin and PracticeMin are parts of it, the
	// rest is run easily before and after. Minutes.
	RunMin      int    `json:"run_min"`
	DrillMin    int    `json:"drill_min"`
	PracticeMin int    `json:"practice_min"`
	Drills      []Dose `json:"drills"`
	Cue         string `json:"cue,omitempty"`
	Tempo       *Tempo `json:"tempo" jsonschema:"nullable"`
}

// Dose is a drill in a plan.
type Dose struct {
	ID      string `json:"id"`
	Title   string `json:"title"`
	Minutes int    `json:"minutes"`
}

// Make gives the plan for an ask with the drills of a catalogue. The same
// ask gives the same plan. A plan that must not or can't be made is a
// form.Error.
func Make(a Ask, c Catalogue) (Plan, error) {
	if err := a.check(); err != nil {
		return Plan{}, err
	}
	a.Health.Yes = append([]Reason{}, a.Health.Yes...)
	p := Plan{Ask: a, Recheck: a.Start.Plus(7 * a.Weeks), Pain: PainRule(), StopFor: StopFor(), Steps: []Step{}, LeftOut: []string{}}
	steps, why := stepUps(a)
	p.Steps, p.NoSteps = append(p.Steps, steps...), why
	p.WhatIf = []Change{}
	if len(steps) > 0 {
		p.WhatIf = WhatIf(a.Cadence.StepsPerMin)
	}
	drills, leftOut := suitable(a, c)
	p.LeftOut = append(p.LeftOut, leftOut...)
	minutes := loads(a)
	for n := 1; n <= a.Weeks; n++ {
		w := Week{Number: n, Start: a.Start.Plus(7 * (n - 1)), RunMin: minutes[n-1], Cue: cue(a, p.Steps, drills, n)}
		w.Apart = doses(pick(drills, "apart", a.Weeks, n))
		w.Sessions = sessions(a, w, drills, len(p.Steps) > 0)
		p.Weeks = append(p.Weeks, w)
	}
	p.setTempo()
	p.First, p.Rules, p.Cautions = first(p), rules(p), cautions(p)
	return p, nil
}

// loads gives the running minutes of each week: less than usual in the first,
// then back to usual by at most MaxWeekRisePct a week, and never more. With
// an answer that stops a plan it stays where it began.
func loads(a Ask) []int {
	usual := math.Floor(a.UsualWeekMin)
	at := math.Floor(firstWeek * a.UsualWeekMin)
	weeks := make([]int, a.Weeks)
	for i := range weeks {
		weeks[i] = int(at)
		if len(a.Health.stops()) == 0 {
			at = math.Min(usual, math.Floor(at*(1+MaxWeekRisePct/100)))
		}
	}
	return weeks
}

// sessions spreads a week's running over its days.
func sessions(a Ask, w Week, drills []Drill, beat bool) []Session {
	n := a.RunsPerWeek
	practices := min(maxPractices, n)
	practised := map[int]bool{}
	for k := range practices {
		practised[(k*n+practices-1)/practices] = true
	}
	var out []Session
	for i := range n {
		s := Session{Date: w.Start.Plus(i * 7 / n), RunMin: w.RunMin / n, Drills: []Dose{}}
		if i < w.RunMin%n {
			s.RunMin++
		}
		if practised[i] {
			s.practise(a, w, drills, beat)
		}
		out = append(out, s)
	}
	return out
}

// practise fills in the practised part: at most half of the run, and drills
// for at most a quarter of it. With a beat, the beat is the drill of the run:
// another would be a second cue.
func (s *Session) practise(a Ask, w Week, drills []Drill, beat bool) {
	s.Practice, s.Cue = true, w.Cue
	s.PracticeMin = min(s.RunMin/2, firstPracticeMin+morePracticeMin*(w.Number-1), maxPracticeMin)
	if a.Health.Has(CalfTrouble) {
		s.PracticeMin = max(3, s.PracticeMin/2)
	}
	for _, when := range []string{"before", "within"} {
		d, ok := pick(drills, when, a.Weeks, w.Number)
		if ok && !(beat && when == "within") && s.DrillMin+d.Minutes <= s.RunMin/4 {
			s.Drills = append(s.Drills, doses(d, true)...)
			s.DrillMin += d.Minutes
		}
	}
}

// setTempo gives every practice of a plan with steps its beat.
func (p *Plan) setTempo() {
	for i, step := range p.Steps {
		until, last := len(p.Weeks), i == len(p.Steps)-1
		if !last {
			until = p.Steps[i+1].FromWeek - 1
		}
		var block []*Session
		for w := step.FromWeek - 1; w < until; w++ {
			for k := range p.Weeks[w].Sessions {
				if s := &p.Weeks[w].Sessions[k]; s.Practice {
					block = append(block, s)
				}
			}
		}
		for k, s := range block {
			s.Tempo = tempoOf(step, fade(k, len(block), last))
		}
	}
}

// suitable gives the area's drills that suit what was found and what the
// runner answered, and says which were left out for the answers.
func suitable(a Ask, c Catalogue) (drills []Drill, leftOut []string) {
	for _, d := range c.Area(a.Area) {
		if len(d.Suits) > 0 && !slices.Contains(d.Suits, a.Finding) {
			continue
		}
		i := slices.IndexFunc(d.NotWith, a.Health.Has)
		switch {
		case i >= 0:
			leftOut = append(leftOut, fmt.Sprintf("%s: not with %s.", d.Title, nameOf(d.NotWith[i])))
		case d.Loads && a.Health.Has(CalfTrouble):
			leftOut = append(leftOut, fmt.Sprintf("%s: not with %s.", d.Title, nameOf(CalfTrouble)))
		default:
			drills = append(drills, d)
		}
	}
	return drills, leftOut
}

// pick gives the drill of one kind for a week: of the stages that the week
// has reached the highest, in turn, the same for two weeks.
func pick(drills []Drill, when string, weeks, week int) (Drill, bool) {
	week -= (week - 1) % 2
	reached := 1 + 3*(week-1)/weeks
	var best []Drill
	for _, d := range drills {
		switch {
		case d.When != when || d.Stage > reached:
		case len(best) > 0 && d.Stage < best[0].Stage:
		case len(best) > 0 && d.Stage > best[0].Stage:
			best = []Drill{d}
		default:
			best = append(best, d)
		}
	}
	if len(best) == 0 {
		return Drill{}, false
	}
	return best[(week-1)/2%len(best)], true
}

func doses(d Drill, ok bool) []Dose {
	if !ok {
		return []Dose{}
	}
	return []Dose{{ID: d.ID, Title: d.Title, Minutes: d.Minutes}}
}

// cue gives the one thought of a week. With a beat it is the beat, whatever
// the area; else that of the drill of the run.
func cue(a Ask, steps []Step, drills []Drill, week int) string {
	if len(steps) > 0 {
		return "Let your feet meet the beat; when it is off, keep the rhythm."
	}
	for _, when := range []string{"within", "before"} {
		if d, ok := pick(drills, when, a.Weeks, week); ok {
			return d.Cue
		}
	}
	return plainCue(a.Area)
}

// plainCue is the cue of an area for which no drill is left.
func plainCue(area string) string {
	return map[string]string{
		judge.Alignment: "Head over shoulders, shoulders over hips.",
		judge.Landing:   "Set the foot down softly under you.",
		judge.Cadence:   "Small, easy steps.",
		judge.Lean:      "Lean a little, from the ankles.",
		judge.Bounce:    "Go along, not up.",
		judge.Symmetry:  "Left and right sound alike.",
	}[area]
}

// Uses gives the drills of the plan that a catalogue has, in the order in
// which they come.
func (p Plan) Uses(c Catalogue) []Drill {
	var out []Drill
	seen := map[string]bool{}
	use := func(doses []Dose) {
		for _, dose := range doses {
			if d, ok := c.Find(dose.ID); ok && !seen[d.ID] {
				seen[d.ID] = true
				out = append(out, d)
			}
		}
	}
	for _, w := range p.Weeks {
		for _, s := range w.Sessions {
			use(s.Drills)
		}
		use(w.Apart)
	}
	return out
}
