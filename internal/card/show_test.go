package card

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/quantity"
)

// Expected texts are hand computations: 1 in = 2.54 cm, 1 m/s = 3.6 km/h.
func TestShow(t *testing.T) {
	m := func(unit string, value, half float64, band *Band) Measure {
		return Measure{Unit: unit, Value: value, SD: half / 1.96, Low: value - half, High: value + half, Band: band}
	}
	nan := Number(math.NaN())
	for _, tt := range []struct {
		name  string
		m     Measure
		units quantity.Units
		want  Shown
	}{
		{"angle", m("deg", -8.31, 2.14, &Band{Low: -1.6, High: 8}), quantity.Metric, Shown{"−8.3", "2.1", "°", "−1.6 to 8"}},
		{"cadence", m("steps/min", 172.44, 0.62, &Band{Low: 165, High: 185}), quantity.Metric, Shown{"172.4", "0.6", "steps/min", "165–185"}},
		{"finer than a decimal", m("steps/min", 172.44, 0.03, nil), quantity.Metric, Shown{"172.44", "0.03", "steps/min", ""}},
		{"milliseconds", m("ms", 245.4, 8.7, &Band{Low: nan, High: 260}), quantity.Metric, Shown{"245", "9", "ms", "≤ 260"}},
		{"coarse", m("cm", 12.34, 14, nil), quantity.Metric, Shown{"12", "14", "cm", ""}},
		{"ratio", m("–", 0.3214, 0.021, &Band{Low: 0.28, High: nan}), quantity.Metric, Shown{"0.32", "0.02", "", "≥ 0.28"}},
		{"steps", m("steps", 322, 7.1, nil), quantity.Metric, Shown{"322", "7", "steps", ""}},
		{"stance", Measure{Name: "stance_width", Unit: "–", Value: 1.2, SD: 0.1, Low: 1.0, High: 1.4}, quantity.Metric, Shown{"1.20", "0.20", "× hip joints", ""}},
		{"inches", m("cm", 25.4, 5.08, &Band{Low: 0, High: 25.4}), quantity.US, Shown{"10.0", "2.0", "in", "0–10"}},
		{"km/h", m("m/s", 3, 0.05, nil), quantity.Metric, Shown{"10.8", "0.2", "km/h", ""}},
		{"no interval", Measure{Unit: "cm", Value: 3, Low: math.NaN(), High: math.NaN()}, quantity.Metric, Shown{"3.0", "", "cm", ""}},
		{"no minus zero", m("deg", -0.01, 1, nil), quantity.Metric, Shown{"0.0", "1.0", "°", ""}},
		{"beyond any column", m("cm", -9_430_000, 1, nil), quantity.Metric, Shown{"−9.4e6", "1.0", "cm", ""}},
		{"not a number", Measure{Unit: "deg", Value: math.NaN()}, quantity.Metric, Shown{"–", "", "°", ""}},
	} {
		if got := Show(tt.m, tt.units); got != tt.want {
			t.Errorf("%s: %+v, want %+v", tt.name, got, tt.want)
		}
	}
	if got := Show(m("deg", 8.31, 2.14, nil), quantity.Metric).Text(); got != "8.3 ± 2.1 °" {
		t.Errorf("Text: %q", got)
	}
}

func TestPace(t *testing.T) {
	for _, tt := range []struct {
		v     float64
		units quantity.Units
		want  string
	}{
		{3, quantity.Metric, "5:33 min/km"}, // 1000/3 = 333.3 s
		{3, quantity.US, "8:56 min/mile"},   // 1609.344/3 = 536.4 s
		{1000.0 / 359.6, quantity.Metric, "6:00 min/km"},
		{0, quantity.Metric, ""}, {math.NaN(), quantity.Metric, ""}, {math.Inf(1), quantity.Metric, ""},
	} {
		if got := Pace(tt.v, tt.units); got != tt.want {
			t.Errorf("Pace(%v, %v) = %q, want %q", tt.v, tt.units, got, tt.want)
		}
	}
}

func TestGroupRefusals(t *testing.T) {
	c := Card{
		Measures: []Measure{{Name: "shank_angle", Side: form.Left, Title: "Shank angle"}},
		Refused: []form.Refusal{
			{Name: "leg_stiffness", Side: form.Left, Reason: "no mass"},
			{Name: "shank_angle", Side: form.Right, Reason: "hidden"},
			{Name: "leg_stiffness", Side: form.Right, Reason: "no mass"},
			{Name: "vertical_stiffness", Side: form.Both, Reason: "no mass"},
			{Name: "vertical_oscillation", Side: form.Both, Reason: "walking"},
			{Name: "plumb_ear", Side: form.Both, Reason: "walking"},
			{Name: "of_no_table", Side: form.Both, Reason: "walking"},
		},
	}
	want := []Unmeasured{
		{What: []string{"Leg stiffness, both sides", "Vertical stiffness"}, Reason: "no mass"},
		{What: []string{"Shank angle, right"}, Reason: "hidden"},
		{What: []string{"Bounce", "Ear ahead of the ankle", "Of no table"}, Reason: "walking"},
	}
	if got := GroupRefusals(c); !reflect.DeepEqual(got, want) {
		t.Errorf("%+v, want %+v", got, want)
	}
}

func TestClean(t *testing.T) {
	for _, tt := range []struct{ in, want string }{
		{"  Zoë\tŁ. \n", "Zoë Ł."},
		{"a\u202eb\u2066c\x00\x1b[31m", "abc[31m"},
		{"bad\xff\xfeutf", "badutf"},
		{strings.Repeat("x", 40), strings.Repeat("x", 19) + "…"},
		{"", ""},
	} {
		if got := Clean(tt.in, 20); got != tt.want {
			t.Errorf("Clean(%q) = %q, want %q", tt.in, got, tt.want)
		}
	}
}

func TestWords(t *testing.T) {
	if got := Capital("over_ground"); got != "Over ground" {
		t.Error(got)
	}
	if Capital("") != "" {
		t.Error("a capital out of nothing")
	}
}
