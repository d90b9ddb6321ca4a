package clinic

import (
	"slices"
	"testing"

	"plumbstride/internal/quantity"
	"plumbstride/internal/words"
)

// Changes are told with the sign of their unit, as finely as it bears.
func TestChangesInTheirUnits(t *testing.T) {
	for _, tt := range []struct {
		m    Measure
		want string
	}{
		{Measure{"trunk_lean", "deg", "Trunk lean"}, "Trunk lean, toward more: 0.0 (0.0 to +0.1) ° in 8 runners (as seen: 0.0)."},
		{Measure{"duty_factor", "–", "Duty factor"}, "Duty factor, toward more: +0.02 (−0.01 to +0.05) in 8 runners (as seen: +0.03)."},
		{cadence, "Cadence, toward more: 0.0 (0.0 to +0.1) steps/min in 8 runners (as seen: 0.0)."},
	} {
		a := Area{Area: "bounce", Started: 8, Changes: []Change{{Measure: tt.m, More: true, Seen: Estimate{0.03, 0, 0.06, 8}, Own: &Estimate{0.02, -0.01, 0.05, 8}}}}
		if got := a.lines(words.Book{}, quantity.Metric); !slices.Contains(got, tt.want) {
			t.Errorf("%q, want %q", got, tt.want)
		}
	}
}

// A shop in US units reads inches and miles; the report itself stays in SI.
func TestChangesInTheShopsUnits(t *testing.T) {
	a := Area{Area: "landing", Started: 8, Changes: []Change{{
		Measure: Measure{"landing_distance", "cm", "Landing ahead of the hips"}, Seen: Estimate{-5.08, -7.62, -2.54, 8},
		Own: &Estimate{-2.54, -5.08, 0.01, 8}, Others: &Estimate{0, -1.27, 1.27, 6},
	}}}
	for _, tt := range []struct {
		units quantity.Units
		want  []string
	}{
		{quantity.US, []string{"Landing ahead of the hips, toward less: −1.00 (−2.00 to 0.00) in in 8 runners (as seen: −2.00).", "The same in 6 who worked on something else: 0.00 (−0.50 to +0.50) in."}},
		{quantity.Metric, []string{"Landing ahead of the hips, toward less: −2.5 (−5.1 to 0.0) cm in 8 runners (as seen: −5.1).", "The same in 6 who worked on something else: 0.0 (−1.3 to +1.3) cm."}},
	} {
		got := a.lines(words.Book{}, tt.units)
		for _, want := range tt.want {
			if !slices.Contains(got, want) {
				t.Errorf("%s: %q, want %q", tt.units, got, want)
			}
		}
	}
	if a.Changes[0].Own.Value != -2.54 || a.Changes[0].Measure.Unit != "cm" {
		t.Errorf("the report was changed: %+v", a.Changes[0])
	}
}
