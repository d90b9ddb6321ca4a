package cli

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"plumbstride/internal/card"
	"plumbstride/internal/plan"
	"plumbstride/internal/quantity"
	"plumbstride/internal/words"
)

// slowCard is an invented check that puts a low cadence first: 158 ± 1.6
// steps/min against a band from 163.
func slowCard() card.Card {
	c := inventedCard()
	area := "cadence"
	c.Program, c.Runner.Name = "plumbstride test", "Invented Runner"
	c.Priority = card.Priority{Area: &area, Why: "The steps are slow for this speed and height: 158 steps/min against a band of 163 to 187. Practise slightly quicker, shorter steps."}
	c.Areas = []card.Area{{Name: area, State: "look", Why: "The steps are slow."}}
	c.Clip.SpeedMS = 2.8
	c.Measures = []card.Measure{{
		Name: "cadence", Title: "Cadence", Unit: "steps/min", Value: 158, SD: 0.8, Low: 156.4, High: 159.6, N: 26, Area: area,
		Band: &card.Band{Low: 163, High: 187, PopulationSD: 8, Source: "invented for this test"},
	}}
	return c
}

func slowPlan(t *testing.T, answers ...plan.Reason) plan.Plan {
	t.Helper()
	catalogue, err := catalogueWith("")
	if err != nil {
		t.Fatal(err)
	}
	ask, err := plan.FromCard(slowCard(), "")
	if err != nil {
		t.Fatal(err)
	}
	ask.UsualWeekMin, ask.RunsPerWeek, ask.Weeks = 120, 4, 4
	ask.Start, err = plan.ParseDate("2026-03-02")
	if err != nil {
		t.Fatal(err)
	}
	ask.Health = plan.Health{Asked: true, Yes: answers}
	ask.Note = "Agreed with the runner's physiotherapist."
	p, err := plan.Make(ask, catalogue)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestPlanText(t *testing.T) {
	golden(t, "plan-metric.txt", planText(slowPlan(t), quantity.Metric, 0, words.Book{}))
	golden(t, "plan-us-calf.txt", planText(slowPlan(t, plan.CalfTrouble, plan.Pregnancy), quantity.US, 60, words.Book{}))
}

func TestDrillText(t *testing.T) {
	catalogue, err := catalogueWith("")
	if err != nil {
		t.Fatal(err)
	}
	d, ok := catalogue.Find("calf-raise")
	if !ok {
		t.Fatal("no calf-raise")
	}
	golden(t, "drill.txt", drillText(d, 0, words.Book{}))
	svg, err := drillSVG(d, words.Book{})
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "drill.svg", svg)
	golden(t, "drills.txt", drillList(catalogue.All(), 0, words.Book{}))
}

// What check writes must come back as the same plan's ground.
func TestParseCard(t *testing.T) {
	object, err := cardJSON(slowCard())
	if err != nil {
		t.Fatal(err)
	}
	c, err := parseCard(object)
	if err != nil {
		t.Fatal(err)
	}
	ask, err := plan.FromCard(c, "")
	if err != nil {
		t.Fatal(err)
	}
	if ask.Area != "cadence" || ask.Finding != "cadence:below" || ask.Cadence.StepsPerMin != 158 || ask.Cadence.Low != 163 || ask.Cadence.SD != 0.8 || ask.Cadence.SpeedMS != 2.8 {
		t.Errorf("came back as %+v, %+v", ask, ask.Cadence)
	}
	for _, bad := range []string{"", "{}", "[]", "null", `{"program":"x"}`, `{"program":1}`, "\x00"} {
		if _, err := parseCard([]byte(bad)); err == nil {
			t.Errorf("%q was taken for a check", bad)
		}
	}
}

// FuzzParseCard: whatever the file holds, reading it and planning from it
// ends in a plan or in an error with a sentence.
func FuzzParseCard(f *testing.F) {
	object, err := cardJSON(slowCard())
	if err != nil {
		f.Fatal(err)
	}
	f.Add(object)
	f.Add([]byte(`{"program":"p","areas":[{}],"priority":{"area":"bounce"},"measures":[{"name":"cadence","unit":"steps/min","value":1e308,"sd":-1}]}`))
	catalogue, err := catalogueWith("")
	if err != nil {
		f.Fatal(err)
	}
	start, err := plan.ParseDate("2026-03-02")
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := parseCard(data)
		if err != nil {
			return
		}
		ask, err := plan.FromCard(c, "")
		if err != nil {
			return
		}
		ask.UsualWeekMin, ask.RunsPerWeek, ask.Weeks, ask.Start = 120, 3, 6, start
		ask.Health = plan.Health{Asked: true}
		p, err := plan.Make(ask, catalogue)
		if err != nil {
			if strings.TrimSpace(err.Error()) == "" {
				t.Error("an error without words")
			}
			return
		}
		if text := planText(p, quantity.Metric, 0, words.Book{}); strings.ContainsAny(text, "\x1b\x07") {
			t.Error("control characters reach the terminal")
		}
		if _, err := json.Marshal(p); err != nil {
			t.Error(err)
		}
		for _, s := range p.Steps {
			if s.RisePct > plan.MaxStepPct+1e-9 || math.IsNaN(s.RisePct) {
				t.Errorf("a step of %g %%", s.RisePct)
			}
		}
	})
}
