package chart_test

import (
	"math"
	"strings"
	"testing"

	"plumbstride/internal/chart"
	"plumbstride/internal/plan"
	"plumbstride/internal/plan/drills"
	"plumbstride/internal/words"
)

func books(t testing.TB) map[words.Language]words.Book {
	t.Helper()
	out := map[words.Language]words.Book{}
	for _, l := range words.Languages() {
		b, err := words.In(l)
		if err != nil {
			t.Fatal(err)
		}
		out[l] = b
	}
	return out
}

// tidy fails where anything leaves the drawing or two labels lie on one
// another.
func tidy(t *testing.T, name string, d chart.Drawing) {
	t.Helper()
	whole := chart.Box{X2: d.Width, Y2: d.Height}
	var labels []chart.Label
	for _, item := range d.Items {
		if b := item.Box(); math.IsNaN(b.X1+b.X2+b.Y1+b.Y2) || !b.Within(whole, 0.6) {
			t.Errorf("%s: %+v lies outside %+v", name, item, whole)
		}
		if l, ok := item.(chart.Label); ok && l.Text != "" {
			for _, other := range labels {
				if l.Box().Overlaps(other.Box(), 0.4) {
					t.Errorf("%s: %q and %q lie on one another", name, l.Text, other.Text)
				}
			}
			labels = append(labels, l)
		}
	}
}

// The marks stand where their numbers are: the axis is straight, its line of
// no change is drawn, and each whisker ends at the ends of its interval.
func TestWhatIfMarks(t *testing.T) {
	changes := plan.WhatIf(160)
	d := chart.WhatIf(measurer(t), changes, chart.WhatIfOptions{Width: 480, Text: 8})
	var whiskers []chart.Segment
	var hollow, dots, diamonds, axes int
	for _, item := range d.Items {
		switch v := item.(type) {
		case chart.Segment:
			if v.Stroke.Ink == chart.Text {
				whiskers = append(whiskers, v)
			}
			if v.Stroke.Ink == chart.Accent {
				axes++
			}
		case chart.Circle:
			if v.Fill == chart.Page {
				hollow++
			} else {
				dots++
			}
		case chart.Path:
			diamonds++
		}
	}
	// Three changes of: step length (exact), landing distance (no interval),
	// bounce, knee and foot angle (with intervals), under two axes.
	if diamonds != 3 || hollow != 3 || dots != 9 || len(whiskers) != 9 || axes != 2 {
		t.Fatalf("%d diamonds, %d hollow, %d dots, %d whiskers, %d axes", diamonds, hollow, dots, len(whiskers), axes)
	}
	// Bounce is in per cent and comes first: the widths go as 5 : 7.5 : 10.
	width := func(i int) float64 { return whiskers[i].X2 - whiskers[i].X1 }
	if math.Abs(width(1)/width(0)-1.5) > 1e-6 || math.Abs(width(2)/width(0)-2) > 1e-6 {
		t.Errorf("widths %v %v %v", width(0), width(1), width(2))
	}
	text := d.SVG("x")
	for _, want := range []string{"−4.8 %", "−7.0 %", "−9.1 %", "−2.1° (−5.2 to +1.0)", "Knee bend at contact rises; by how much was not seen."} {
		if !strings.Contains(text, want) {
			t.Errorf("the plot lacks %q", want)
		}
	}
}

func TestWhatIfIsTidy(t *testing.T) {
	for l, b := range books(t) {
		for _, cadence := range []float64{120, 160, 200} {
			tidy(t, string(l)+" wide", chart.WhatIf(measurer(t), plan.WhatIf(cadence), chart.WhatIfOptions{Width: 483, Text: 7.8, Words: b}))
			tidy(t, string(l)+" narrow", chart.WhatIf(measurer(t), plan.WhatIf(cadence), chart.WhatIfOptions{Width: 328, Text: 12, Narrow: true, Words: b}))
		}
	}
}

// A plan at a glance has one bar of practice a practised run, and the filled
// part is the beat's share of it.
func TestWeeksAndPainScale(t *testing.T) {
	catalogue, err := plan.Load(drills.Files())
	if err != nil {
		t.Fatal(err)
	}
	start, err := plan.ParseDate("2026-03-04")
	if err != nil {
		t.Fatal(err)
	}
	for _, runs := range []int{1, 3, 7} {
		p, err := plan.Make(plan.Ask{
			Area: "cadence", UsualWeekMin: float64(50 * runs), RunsPerWeek: runs, Weeks: 8, Start: start,
			Cadence: &plan.Cadence{StepsPerMin: 150, SD: 0.8, SpeedMS: 2.8, Low: 163, High: 187}, Health: plan.Health{Asked: true},
		}, catalogue)
		if err != nil {
			t.Fatal(err)
		}
		for l, b := range books(t) {
			for _, width := range []float64{328, 483} {
				d := chart.Weeks(measurer(t), p, chart.PlanOptions{Width: width, Text: width / 40, Words: b})
				tidy(t, string(l), d)
			}
			tidy(t, "pain", chart.PainScale(measurer(t), p.Pain, chart.PlanOptions{Width: 328, Text: 9, Words: b}))
		}
		d := chart.Weeks(measurer(t), p, chart.PlanOptions{Width: 483, Text: 8})
		var full, on float64
		for _, item := range d.Items[:len(d.Items)-8] { // without the key
			if path, ok := item.(chart.Path); ok && path.Stroke.Ink == chart.Accent {
				if path.Fill == chart.Page {
					full += path.Box().X2 - path.Box().X1
				} else {
					on += path.Box().X2 - path.Box().X1
				}
			}
		}
		var wantFull, wantOn float64
		for _, w := range p.Weeks {
			for _, s := range w.Sessions {
				if s.Tempo != nil {
					wantFull += float64(s.PracticeMin)
					wantOn += float64(s.PracticeMin*s.Tempo.SharePct) / 100
				}
			}
		}
		if math.Abs(on/full-wantOn/wantFull) > 0.02 {
			t.Errorf("%d runs: the beat is drawn on for %.2f, want %.2f", runs, on/full, wantOn/wantFull)
		}
	}
}
