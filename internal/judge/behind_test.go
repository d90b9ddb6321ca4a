package judge

import (
	"math"
	"strings"
	"testing"

	"plumbstride/internal/form"
)

func onLine(side form.Side, value, sd float64) form.Measure {
	m := form.With95("foot_to_line", side, "cm", value, sd, 10)
	p := phi(-value / sd)
	m.Classes = map[string]float64{"crosses over": p, "own side": 1 - p}
	return m
}

// phi is the standard normal distribution function.
func phi(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

// A foot is said to cross, or not to, only where that is sure.
func TestBehindSays(t *testing.T) {
	for _, c := range []struct {
		left, right form.Measure
		want        string
	}{
		{onLine(form.Left, 4, 1), onLine(form.Right, 5, 1), "Both feet land on their own side of the line of running."},
		{onLine(form.Left, -4, 1), onLine(form.Right, -5, 1), "Both feet cross the line of running."},
		{onLine(form.Left, -4, 1), onLine(form.Right, 5, 1), "The left foot crosses the line of running; the right foot lands on its own side of the line of running."},
		{onLine(form.Left, -1, 2), onLine(form.Right, 1, 2), "Whether the feet cross the line of running can't be told."},
		{onLine(form.Left, 5, 1), onLine(form.Right, 1, 2), "The left foot lands on its own side of the line of running; whether the right foot crosses the line of running can't be told."},
	} {
		if got := Behind([]form.Measure{c.left, c.right}); !strings.HasPrefix(got, c.want) {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
}

// What is seen from behind never changes what is put first, however far out,
// but for a pelvis that drops surely unevenly: asymmetry comes first.
func TestBehindDoesNotFlip(t *testing.T) {
	ctx := Context{SpeedMS: 2.8, HeightM: 1.75}
	side := []form.Measure{
		form.With95("cadence", form.Both, "steps/min", 150, 0.3, 20),
		form.With95("trunk_lean", form.Both, "deg", 7, 1, 20),
		form.With95("vertical_oscillation", form.Both, "cm", 8, 0.4, 20),
		form.With95("landing_distance", form.Left, "cm", 15, 1, 10),
	}
	with := func(more ...form.Measure) string {
		v := Judge(WithBands(append(append([]form.Measure{}, side...), more...), ctx), nil, ctx)
		if v.Priority == nil {
			return ""
		}
		return *v.Priority
	}
	if got := with(); got != Cadence {
		t.Fatalf("without a clip from behind: %q", got)
	}
	for _, m := range []form.Measure{
		onLine(form.Left, -9, 0.5), form.With95("knee_projection", form.Left, "deg", 40, 1, 10), form.With95("trunk_side_lean", form.Left, "deg", 15, 1, 10),
		form.With95("pelvic_drop", form.Left, "deg", 15, 1, 10), form.With95("pelvic_drop_difference", form.Both, "deg", 5, 3, 20),
	} {
		if got := with(m); got != Cadence {
			t.Errorf("%s of %.0f puts %q first", m.Name, m.Value, got)
		}
	}
	if got := with(form.With95("pelvic_drop_difference", form.Both, "deg", 9, 1, 20)); got != Symmetry {
		t.Errorf("a pelvis that drops by 9° more on one side puts %q first", got)
	}
}

// What lies outside its band in a clip from behind alone is named where
// nothing is put first.
func TestBehindAloneNamesWhatIsOut(t *testing.T) {
	ctx := Context{SpeedMS: 2.8, HeightM: 1.75}
	slow := WithBands([]form.Measure{form.With95("cadence", form.Both, "steps/min", 150, 0.3, 20)}, ctx)
	if v := BehindAlone(slow, nil, ctx); v.Priority != nil || !strings.Contains(v.Why, "Outside its band: cadence, but") {
		t.Errorf("%+v", v)
	}
	usual := WithBands([]form.Measure{form.With95("cadence", form.Both, "steps/min", 175, 0.3, 20)}, ctx)
	if v := BehindAlone(usual, nil, ctx); strings.Contains(v.Why, "Outside") {
		t.Errorf("%+v", v)
	}
}
