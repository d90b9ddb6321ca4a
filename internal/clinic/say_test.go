package clinic

import (
	"slices"
	"testing"

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
		if got := a.lines(words.Book{}); !slices.Contains(got, tt.want) {
			t.Errorf("%q, want %q", got, tt.want)
		}
	}
}
