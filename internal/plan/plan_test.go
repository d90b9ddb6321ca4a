package plan_test

import (
	"encoding/json"
	"math"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"plumbstride/internal/card"
	"plumbstride/internal/card/cardtest"
	"plumbstride/internal/form"
	"plumbstride/internal/plan"
	"plumbstride/internal/plan/drills"
	"plumbstride/internal/quantity"
)

func own(t testing.TB) plan.Catalogue {
	t.Helper()
	c, err := plan.Load(drills.Files())
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func day(t testing.TB, text string) plan.Date {
	t.Helper()
	d, err := plan.ParseDate(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// ask is a sound ask of an invented runner: 158 ± 0.8 steps/min against a
// band from 163.
func ask(t testing.TB) plan.Ask {
	return plan.Ask{
		Area: "cadence", Finding: "cadence:below", UsualWeekMin: 120, RunsPerWeek: 3, Weeks: 6, Start: day(t, "2026-03-02"),
		Cadence: &plan.Cadence{StepsPerMin: 158, SD: 0.8, SpeedMS: 2.8, Low: 163, High: 187},
		Health:  plan.Health{Asked: true},
	}
}

// targets are the cadences of a plan's steps.
func targets(p plan.Plan) []int {
	var out []int
	for _, s := range p.Steps {
		out = append(out, s.StepsPerMin)
	}
	return out
}

// The expected targets are worked by hand from the rule: from the measured
// cadence towards the band's beginning, at most 5 % a step (the first from
// the lower end of the 95 % interval) and 10 % in all.
func TestSteps(t *testing.T) {
	cadence := func(v, sd, low float64) *plan.Cadence {
		return &plan.Cadence{StepsPerMin: v, SD: sd, SpeedMS: 2.8, Low: card.Number(low), High: card.Number(low + 24)}
	}
	for _, c := range []struct {
		name  string
		area  string
		from  *plan.Cadence
		weeks int
		want  []int
		why   string
	}{
		{"in one step", "cadence", cadence(158, 0.5, 163), 6, []int{163}, ""},
		{"in two even steps: 160·1.05 = 168 < 170", "cadence", cadence(160, 0.5, 170), 6, []int{165, 170}, ""},
		{"ten per cent in all: floor((150−0.98)·1.05) = 156, floor(156·1.05) = 163, floor(150·1.1) = 165", "cadence", cadence(150, 0.5, 175), 8, []int{156, 163, 165}, ""},
		{"four weeks hold two steps", "cadence", cadence(150, 0.5, 175), 4, []int{156, 163}, ""},
		{"first step shortened by the error: floor((150−1.96·2)·1.05) = 153", "cadence", cadence(150, 2, 158), 6, []int{153, 158}, ""},
		{"in band", "cadence", cadence(170, 0.5, 163), 6, nil, "not below its band"},
		{"on the edge of the band", "cadence", cadence(163, 0.5, 163), 6, nil, "not below its band"},
		{"above the band", "cadence", cadence(195, 0.5, 163), 6, nil, "not below its band"},
		{"not surely below: P = Φ(1) = 0.84", "cadence", cadence(162, 1, 163), 6, nil, "too close"},
		{"surely below: P = Φ(1.5) = 0.93", "cadence", cadence(161.5, 1, 163), 6, []int{163}, ""},
		{"too rough: (150 − 1.96·4)·1.05 < 150", "cadence", cadence(150, 4, 170), 6, nil, "too roughly"},
		{"no band", "cadence", cadence(150, 1, math.NaN()), 6, nil, "no band"},
		{"not measured", "cadence", nil, 6, nil, "not measured"},
		{"landing with a low cadence", "landing", cadence(158, 0.5, 163), 6, []int{163}, ""},
		{"bounce with a low cadence", "bounce", cadence(158, 0.5, 163), 6, []int{163}, ""},
		{"lean leaves it", "lean", cadence(150, 0.5, 170), 6, nil, "leaves the cadence as it is"},
		{"symmetry leaves it", "symmetry", cadence(150, 0.5, 170), 6, nil, "leaves the cadence as it is"},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := ask(t)
			a.Area, a.Finding, a.Cadence, a.Weeks = c.area, "", c.from, c.weeks
			p, err := plan.Make(a, own(t))
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(c.want, targets(p)); diff != "" {
				t.Error(diff)
			}
			if !strings.Contains(p.NoSteps, c.why) || (c.why == "") != (p.NoSteps == "") {
				t.Errorf("says %q, want %q in it", p.NoSteps, c.why)
			}
		})
	}
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(*plan.Ask)
		code  form.Code
		says  string
	}{
		{"not asked", func(a *plan.Ask) { a.Health.Asked = false }, form.CodeUsage, "ask the health questions"},
		{"an answer that isn't known", func(a *plan.Ask) { a.Health.Yes = []plan.Reason{"fine"} }, form.CodeUsage, "fine"},
		{"area", func(a *plan.Ask) { a.Area = "arms" }, form.CodeUsage, "not an area"},
		{"three weeks", func(a *plan.Ask) { a.Weeks = 3 }, form.CodeUsage, "4 to 8"},
		{"nine weeks", func(a *plan.Ask) { a.Weeks = 9 }, form.CodeUsage, "4 to 8"},
		{"no runs", func(a *plan.Ask) { a.RunsPerWeek = 0 }, form.CodeUsage, "1 to 7"},
		{"eight runs", func(a *plan.Ask) { a.RunsPerWeek = 8 }, form.CodeUsage, "1 to 7"},
		{"no running", func(a *plan.Ask) { a.UsualWeekMin = 0 }, form.CodeUsage, "usual week"},
		{"no number", func(a *plan.Ask) { a.UsualWeekMin = math.NaN() }, form.CodeUsage, "usual week"},
		{"minutes too few", func(a *plan.Ask) { a.UsualWeekMin = 20 }, form.CodeUsage, "too little"},
		{"runs too long", func(a *plan.Ask) { a.UsualWeekMin, a.RunsPerWeek = 900, 2 }, form.CodeUsage, "state more runs"},
		{"no start", func(a *plan.Ask) { a.Start = plan.Date{} }, form.CodeUsage, "day it starts"},
		{"no cadence of a runner", func(a *plan.Ask) { a.Cadence.StepsPerMin = 60 }, form.CodeClip, "not that of a runner"},
		{"a cadence without uncertainty", func(a *plan.Ask) { a.Cadence.SD = 0 }, form.CodeClip, "not that of a runner"},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := ask(t)
			c.spoil(&a)
			_, err := plan.Make(a, own(t))
			if form.CodeOf(err) != c.code || !strings.Contains(err.Error(), c.says) {
				t.Errorf("%v (%s), want %q (%s)", err, form.CodeOf(err), c.says, c.code)
			}
		})
	}
}

// No answer that stops a plan is passed without the coach's explicit note;
// with it the plan names the answer and the note first, and stays at the
// first week's minutes.
func TestContraindications(t *testing.T) {
	for _, r := range plan.Reasons() {
		for _, note := range []string{"", "   ", "ok", "yes do it"} {
			a := ask(t)
			a.Health.Yes, a.Note = []plan.Reason{r}, note
			if _, err := plan.Make(a, own(t)); form.CodeOf(err) != form.CodeClip || !strings.Contains(err.Error(), "no plan is made") {
				t.Errorf("%s with the note %q: %v", r, note, err)
			}
		}
		a := ask(t)
		a.Health.Yes, a.Note = []plan.Reason{r}, "Cleared by her doctor on 1 March."
		p, err := plan.Make(a, own(t))
		if err != nil {
			t.Fatal(err)
		}
		if len(p.First) == 0 || !strings.Contains(p.First[0], a.Note) {
			t.Errorf("%s: the note does not come first: %q", r, p.First)
		}
		for _, w := range p.Weeks {
			if w.RunMin != 108 {
				t.Errorf("%s: week %d has %d min, want nine tenths of 120", r, w.Number, w.RunMin)
			}
			for _, s := range w.Sessions {
				for _, d := range append(s.Drills, w.Apart...) {
					if found, _ := own(t).Find(d.ID); hasReason(found.NotWith, r) {
						t.Errorf("%s: %s is in the plan", r, d.ID)
					}
				}
			}
		}
	}
	a := ask(t)
	a.Health.Yes = []plan.Reason{plan.CalfTrouble}
	p, err := plan.Make(a, own(t))
	if err != nil {
		t.Fatalf("an earlier calf's trouble stops the plan: %v", err)
	}
	for _, w := range p.Weeks {
		for _, s := range w.Sessions {
			for _, d := range append(s.Drills, w.Apart...) {
				if found, _ := own(t).Find(d.ID); found.Loads {
					t.Errorf("%s loads the calf", d.ID)
				}
			}
		}
	}
	if got := p.Weeks[0].Sessions[0].PracticeMin; got != 5 {
		t.Errorf("practice of %d min, want half of 10", got)
	}
}

func hasReason(list []plan.Reason, r plan.Reason) bool { return slices.Contains(list, r) }

// anyAsk draws a sound ask.
func anyAsk(t *rapid.T) plan.Ask {
	start, err := plan.ParseDate("2026-01-01")
	if err != nil {
		t.Fatal(err)
	}
	runs := rapid.IntRange(1, 7).Draw(t, "runs")
	a := plan.Ask{
		Area: rapid.SampledFrom(plan.Areas()).Draw(t, "area"), RunsPerWeek: runs,
		UsualWeekMin: float64(runs) * rapid.Float64Range(11.2, 200).Draw(t, "minutes a run"),
		Weeks:        rapid.IntRange(4, 8).Draw(t, "weeks"), Start: start.Plus(rapid.IntRange(0, 1000).Draw(t, "start")),
		Health: plan.Health{Asked: true},
	}
	if rapid.Bool().Draw(t, "measured") {
		a.Cadence = &plan.Cadence{
			StepsPerMin: rapid.Float64Range(110, 220).Draw(t, "cadence"), SD: rapid.Float64Range(0.05, 6).Draw(t, "sd"),
			SpeedMS: 2.8, Low: card.Number(rapid.Float64Range(140, 190).Draw(t, "low")), High: 200,
		}
	}
	if rapid.Bool().Draw(t, "calf") {
		a.Health.Yes = append(a.Health.Yes, plan.CalfTrouble)
	}
	if rapid.Bool().Draw(t, "note") {
		a.Health.Yes = append(a.Health.Yes, rapid.SampledFrom(plan.Reasons()).Draw(t, "reason"))
		a.Note = "Agreed with the runner's doctor."
	}
	if a.UsualWeekMin > 1500 {
		a.UsualWeekMin = 1500
	}
	return a
}

// Whatever is asked: the load never rises by more than the limit nor above
// the usual, no step is larger than 5 % even at the lower end of the
// measurement, practice and drills fit into their runs, days lie in their
// weeks, and the beat is faded.
func TestAnyPlan(t *testing.T) {
	catalogue := own(t)
	rapid.Check(t, func(t *rapid.T) {
		a := anyAsk(t)
		p, err := plan.Make(a, catalogue)
		if err != nil {
			t.Fatal(err)
		}
		if len(p.Weeks) != a.Weeks || p.Recheck.String() != a.Start.Plus(7*a.Weeks).String() {
			t.Fatalf("%d weeks, check again on %s", len(p.Weeks), p.Recheck)
		}
		loadHolds(t, p)
		stepsHold(t, p)
		fadeHolds(t, p)
		if len(p.Cautions) < 9 || len(p.Pain) == 0 || len(p.StopFor) == 0 {
			t.Fatal("cautions are missing")
		}
		again, err := plan.Make(a, catalogue)
		if err != nil || !reflect.DeepEqual(asJSON(t, p), asJSON(t, again)) {
			t.Fatal("the same ask gives another plan")
		}
	})
}

func asJSON(t *rapid.T, p plan.Plan) string {
	text, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func loadHolds(t *rapid.T, p plan.Plan) {
	for i, w := range p.Weeks {
		sum := 0
		cues := map[string]bool{}
		for _, s := range w.Sessions {
			sum += s.RunMin
			if s.PracticeMin*2 > s.RunMin || s.DrillMin*4 > s.RunMin || s.DrillMin+s.PracticeMin > s.RunMin {
				t.Fatalf("week %d: %+v", w.Number, s)
			}
			if s.Practice {
				cues[s.Cue] = true
				if s.PracticeMin < 3 {
					t.Fatalf("practice of %d min", s.PracticeMin)
				}
			}
			if from, to := w.Start, w.Start.Plus(6); s.Date.String() < from.String() || s.Date.String() > to.String() {
				t.Fatalf("%s is not in the week from %s", s.Date, from)
			}
		}
		if sum != w.RunMin || len(w.Sessions) != p.Ask.RunsPerWeek || len(cues) != 1 {
			t.Fatalf("week %d: %d of %d min in %d runs, cues %v", w.Number, sum, w.RunMin, len(w.Sessions), cues)
		}
		if float64(w.RunMin) > p.Ask.UsualWeekMin {
			t.Fatalf("week %d: %d min, more than the usual %g", w.Number, w.RunMin, p.Ask.UsualWeekMin)
		}
		if i > 0 && float64(w.RunMin) > float64(p.Weeks[i-1].RunMin)*(1+plan.MaxWeekRisePct/100)+1e-9 {
			t.Fatalf("from %d to %d min", p.Weeks[i-1].RunMin, w.RunMin)
		}
	}
}

func stepsHold(t *rapid.T, p plan.Plan) {
	if len(p.Steps) == 0 {
		if p.NoSteps == "" {
			t.Fatal("no steps, and no word why")
		}
		return
	}
	c := p.Ask.Cadence
	before, sure, week := c.StepsPerMin, c.StepsPerMin-1.96*c.SD, -1
	for _, s := range p.Steps {
		at := float64(s.StepsPerMin)
		if at <= before || at > 1.05*sure+1e-9 || at > 1.10*c.StepsPerMin+1e-9 || at > math.Ceil(float64(c.Low)) {
			t.Fatalf("from %.2f (surely %.2f) to %.0f, measured %.2f, band from %.2f", before, sure, at, c.StepsPerMin, float64(c.Low))
		}
		if s.FromWeek < week+2 || s.FromWeek >= p.Ask.Weeks {
			t.Fatalf("a step in week %d after week %d of %d", s.FromWeek, week, p.Ask.Weeks)
		}
		before, sure, week = at, at, s.FromWeek
	}
}

func fadeHolds(t *rapid.T, p plan.Plan) {
	last, share := 0, 0
	var ends *plan.Tempo
	for _, w := range p.Weeks {
		for _, s := range w.Sessions {
			switch {
			case s.Practice != (s.Tempo != nil) && len(p.Steps) > 0:
				t.Fatal("a practice without a beat, or a beat without practice")
			case s.Tempo == nil:
				continue
			case s.Tempo.OnS+s.Tempo.OffS != 300 || s.Tempo.OnS != 3*s.Tempo.SharePct:
				t.Fatalf("%+v", s.Tempo)
			case s.Tempo.StepsPerMin == last && s.Tempo.SharePct > share:
				t.Fatalf("the beat comes back: %d after %d %%", s.Tempo.SharePct, share)
			case s.Tempo.StepsPerMin != last && s.Tempo.SharePct != 100:
				t.Fatalf("a new step begins with %d %%", s.Tempo.SharePct)
			}
			last, share, ends = s.Tempo.StepsPerMin, s.Tempo.SharePct, s.Tempo
		}
	}
	if len(p.Steps) > 0 && ends.SharePct != 0 {
		t.Fatalf("the last practice has %d %% of beat", ends.SharePct)
	}
}

func TestPainRuleHasNoGap(t *testing.T) {
	next := 0
	for _, b := range plan.PainRule() {
		if b.Low != next || b.High < b.Low || b.Do == "" || !strings.Contains(b.Source, "2007") {
			t.Errorf("%+v does not follow on %d", b, next-1)
		}
		next = b.High + 1
	}
	if next != 11 {
		t.Errorf("ends at %d", next-1)
	}
	// Silbernagel et al. 2007: above 5 is unacceptable.
	for _, b := range plan.PainRule() {
		if b.High > 5 && !strings.Contains(b.Do, "doctor or physiotherapist before you run again") {
			t.Errorf("%d to %d: %s", b.Low, b.High, b.Do)
		}
	}
}

// promise finds words that would promise what nobody knows.
var promise = regexp.MustCompile(`(?i)prevent|injury[- ]free|free of injur|protects?\b|avoids? injur|fewer injur|less injur|reduces? (the )?(risk|injur)|risk of injur|safe from|guarantee|cures?\b|heals?\b|never (be )?hurt`)

// TestNoPromises reads every word of the catalogue, of plans, of what-if.
func TestNoPromises(t *testing.T) {
	texts := []any{own(t).All(), plan.WhatIf(160), plan.WhatIfNotes(), plan.Questions(), plan.StopFor(), plan.PainRule()}
	for _, area := range plan.Areas() {
		a := ask(t)
		a.Area = area
		p, err := plan.Make(a, own(t))
		if err != nil {
			t.Fatal(err)
		}
		texts = append(texts, p, p.RecheckLines(quantity.Metric))
	}
	for _, x := range texts {
		text, err := json.Marshal(x)
		if err != nil {
			t.Fatal(err)
		}
		for _, at := range promise.FindAllIndex(text, -1) {
			around := string(text[max(0, at[0]-60):min(len(text), at[1]+60)])
			if !strings.Contains(around, "for ease, not for cure") {
				t.Errorf("a promise? …%s…", around)
			}
		}
	}
	if !promise.MatchString("This prevents injuries") {
		t.Error("the check can't fail")
	}
}

func TestEveryRuleNamesItsSource(t *testing.T) {
	p, err := plan.Make(ask(t), own(t))
	if err != nil {
		t.Fatal(err)
	}
	year := regexp.MustCompile(`\b(19|20)\d\d\b`)
	for _, r := range p.Rules {
		if !year.MatchString(r.Source) && !strings.Contains(r.Source, plan.NoSource) {
			t.Errorf("%q: source %q", r.Text, r.Source)
		}
	}
	for _, c := range p.WhatIf {
		for _, e := range c.Effects {
			if e.Kind != "exact" && !year.MatchString(e.Source) {
				t.Errorf("%s: source %q", e.Quantity, e.Source)
			}
		}
	}
}

// Step length is arithmetic: at −10 … +10 % of cadence 1/(1+x), so +5, +7.5
// and +10 % give 0.9524, 0.9302, 0.9091. The other sizes are those of Wang et
// al. 2020 (doi 10.7717/peerj.9813) at +7.5 %: 38.6 → 36.5°, 7.7 → 6.9 cm,
// 18.27 → 13.74°, and of Lieberman et al. 2015 (doi 10.1242/jeb.125500):
// −5.9 % for 5 strides/min, here from 160 steps/min.
func TestWhatIf(t *testing.T) {
	want := map[string][3]float64{
		"step_length":          {-4.762, -6.977, -9.091},
		"knee_flexion_peak":    {-1.4, -2.1, -2.8},
		"vertical_oscillation": {-6.926, -10.390, -13.853},
		"foot_strike_angle":    {-3.02, -4.53, -6.04},
		"landing_distance":     {-4.72, -7.08, -9.44},
	}
	changes := plan.WhatIf(160)
	if len(changes) != 3 {
		t.Fatalf("%d changes", len(changes))
	}
	for i, c := range changes {
		seen := 0
		for _, e := range c.Effects {
			w, ok := want[e.Quantity]
			if !ok {
				if e.Kind != "direction" || e.Change.Known() || e.Direction != "rises" {
					t.Errorf("%+v", e)
				}
				continue
			}
			seen++
			if math.Abs(float64(e.Change)-w[i]) > 0.005 || e.Direction != "falls" {
				t.Errorf("%s at +%g %%: %.3f, want %.3f", e.Quantity, c.CadencePct, float64(e.Change), w[i])
			}
			if e.Kind == "exact" && (e.Low != e.Change || e.High != e.Change) {
				t.Errorf("%+v is not exact", e)
			}
			if e.Low.Known() && !(e.Low <= e.Change && e.Change <= e.High) {
				t.Errorf("%+v", e)
			}
		}
		if seen != len(want) {
			t.Errorf("%d of %d sizes", seen, len(want))
		}
	}
	// The half width at +7.5 %: t(0.975, 23)·√((5.0² + 5.5²)/24).
	half := distuv.StudentsT{Nu: 23, Sigma: 1}.Quantile(0.975) * math.Sqrt((25+30.25)/24)
	for _, e := range changes[1].Effects {
		if e.Quantity == "knee_flexion_peak" && math.Abs(float64(e.High-e.Change)-half) > 1e-3 {
			t.Errorf("half width %.4f, want %.4f", float64(e.High-e.Change), half)
		}
	}
}

func TestFromCard(t *testing.T) {
	c := cardtest.Invented()
	a, err := plan.FromCard(c, "")
	if err != nil {
		t.Fatal(err)
	}
	if a.Area != "landing" || a.Why != c.Priority.Why || a.Cadence == nil || !strings.HasSuffix(a.Finding, ":above") {
		t.Errorf("%+v", a)
	}
	if a, err = plan.FromCard(c, "lean"); err != nil || a.Area != "lean" || a.Why != "The coach's choice." {
		t.Errorf("%+v, %v", a, err)
	}
	if _, err = plan.FromCard(cardtest.FilmAgain(), ""); form.CodeOf(err) != form.CodeClip {
		t.Errorf("a check without a priority gives %v", err)
	}
	bare := cardtest.Invented()
	bare.Measures = nil
	if a, err = plan.FromCard(bare, ""); err != nil || a.Cadence != nil || a.Finding != "" {
		t.Errorf("%+v, %v", a, err)
	}
}

// Every area has drills for before, within and apart from the run, whatever
// was found, and at least 30 drills are there.
func TestCatalogueCovers(t *testing.T) {
	c := own(t)
	if n := len(c.All()); n < 30 {
		t.Fatalf("%d drills", n)
	}
	for _, area := range plan.Areas() {
		kinds := map[string]int{}
		for _, d := range c.Area(area) {
			if len(d.Suits) == 0 {
				kinds[d.When]++
			}
			if d.Evidence.Source == "" || d.Picture.Alt == "" {
				t.Errorf("%s lacks its source or its words", d.ID)
			}
			if d.Loads && !hasReason(d.NotWith, plan.PainNow) {
				t.Errorf("%s loads the calf and is not closed to pain", d.ID)
			}
		}
		// Cadence is worked on in the run; what else there is trains for quicker steps.
		if kinds["before"] < 1 || kinds["within"] < 1 || (kinds["apart"] < 1 && area != "cadence") {
			t.Errorf("%s: %v", area, kinds)
		}
	}
}

func FuzzLoad(f *testing.F) {
	one, err := json.Marshal(map[string]any{"drills": own(f).Area("lean")[:1]})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(one)
	f.Add([]byte(`{"drills":[{"id":"a"}]}`))
	f.Add([]byte(`{"drills":[{"id":"a","picture":{"poses":[{"near":[1,2]}]}}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := plan.Load(fstest.MapFS{"shop.json": {Data: data}})
		if err != nil {
			if form.CodeOf(err) != form.CodeUsage || !strings.Contains(err.Error(), "shop.json") {
				t.Errorf("%v names no file", err)
			}
			return
		}
		for _, d := range c.All() {
			for _, fig := range d.Figures() {
				if !(fig.Top < 3 && fig.Right-fig.Left < 4) {
					t.Errorf("%s: %+v", d.ID, fig)
				}
			}
		}
	})
}

func TestLoadErrors(t *testing.T) {
	good, err := json.Marshal(map[string]any{"drills": own(t).Area("lean")[:1]})
	if err != nil {
		t.Fatal(err)
	}
	spoil := func(from, to string) string {
		if !strings.Contains(string(good), from) {
			t.Fatalf("no %s in %s", from, good)
		}
		return strings.Replace(string(good), from, to, 1)
	}
	for _, c := range []struct{ name, text, says string }{
		{"good", string(good), ""},
		{"empty", "", "not a file of drills"},
		{"no drills", `{"drills":[]}`, "no drills"},
		{"a list", "[]", "not a file of drills"},
		{"two objects", string(good) + string(good), "something follows"},
		{"unknown field", spoil(`"id":`, `"idd":"x","id":`), "idd"},
		{"area", spoil(`"lean"`, `"speed"`), `"area" is one of`},
		{"id", spoil(`"ankle-sway"`, `"Ankle Sway"`), `"id" is`},
		{"stage", spoil(`"stage":1`, `"stage":4`), `"stage"`},
		{"when", spoil(`"before"`, `"after"`), `"when"`},
		{"source", spoil(plan.NoSource, "my own"), "evidence.source"},
		{"source of a level", spoil(`"practice"`, `"trial"`), "paper and year"},
		{"level", spoil(`"practice"`, `"sure"`), "evidence.level"},
		{"pose", spoil(`"near":[3,5,2]`, `"near":[3,5]`), "a leg is"},
		{"knee", spoil(`"near":[3,5,2]`, `"near":[3,-50,2]`), "the near knee is at -50"},
		{"prop", spoil(`"plumb"`, `"ball"`), "no prop"},
		{"reason", spoil(`["heart"]`, `["age"]`), "not_with"},
		{"control characters", spoil("Ten sways", `Ten\u001b sways`), "printed"},
		{"suits", spoil(`"stage":1`, `"suits":["cadence:below"],"stage":1`), "suits"},
	} {
		_, err := plan.Load(fstest.MapFS{"shop.json": {Data: []byte(c.text)}})
		switch {
		case c.says == "" && err != nil:
			t.Errorf("%s: %v", c.name, err)
		case c.says != "" && (form.CodeOf(err) != form.CodeUsage || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), "shop.json")):
			t.Errorf("%s: %v, want %q and the file", c.name, err, c.says)
		}
	}
	twice := fstest.MapFS{"a.json": {Data: good}, "b.json": {Data: good}}
	if _, err := plan.Load(twice); err == nil || !strings.Contains(err.Error(), "twice") {
		t.Errorf("the same id twice: %v", err)
	}
	if _, err := plan.Load(fstest.MapFS{"readme.txt": {}}); err == nil {
		t.Error("a folder without drills was taken")
	}
}

func TestDates(t *testing.T) {
	for text, ok := range map[string]bool{"2026-03-02": true, "2028-02-29": true, "2026-02-29": false, "2.3.2026": false, "": false, "0000-01-01": false} {
		if _, err := plan.ParseDate(text); (err == nil) != ok {
			t.Errorf("%q: %v", text, err)
		}
	}
	if got := day(t, "2026-12-28").Plus(7).String(); got != "2027-01-04" {
		t.Errorf("a week after 28 December 2026 is %s", got)
	}
}

// A card speaks of quicker steps where its plan would take them, and nowhere
// else.
func TestWhatIfFor(t *testing.T) {
	c := cardtest.Invented()
	set := func(area string, cadence float64) card.Card {
		c.Priority.Area = &area
		c.Measures = slices.Clone(c.Measures)
		for i := range c.Measures {
			if c.Measures[i].Name == "cadence" {
				c.Measures[i].Value, c.Measures[i].SD = cadence, 0.5
				c.Measures[i].Band = &card.Band{Low: 163, High: 187, PopulationSD: 8}
			}
		}
		return c
	}
	if changes := plan.WhatIfFor(set("landing", 150)); len(changes) != 3 || changes[0].StepsPerMin != 157.5 {
		t.Errorf("%+v", changes)
	}
	if plan.WhatIfFor(set("landing", 170)) != nil || plan.WhatIfFor(set("lean", 150)) != nil || plan.WhatIfFor(cardtest.FilmAgain()) != nil {
		t.Error("quicker steps are spoken of where none are asked for")
	}
}
