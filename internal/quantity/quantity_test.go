package quantity

import (
	"math"
	"strings"
	"testing"

	"plumbstride/internal/form"
)

// The expected values are hand computations from the exact sizes in the
// international yard and pound agreement of 1959.
func TestParse(t *testing.T) {
	tests := []struct {
		name  string
		parse func(string) (float64, error)
		text  string
		want  float64
	}{
		{"centimetres", Length, "172cm", 1.72},
		{"metres", Length, "1.72m", 1.72},
		{"decimal comma", Length, "1,72 m", 1.72},
		{"millimetres", Length, "1720mm", 1.72},
		{"metre and centimetres", Length, "1m72", 1.72},
		{"metre and centimetres with unit", Length, "1m72cm", 1.72},
		{"inches", Length, "68in", 68 * 0.0254},
		{"feet and inches", Length, "5ft8in", 68 * 0.0254},
		{"feet and inches, spaced, capital", Length, "5 Ft 8 In", 68 * 0.0254},
		{"primes", Length, `5'8"`, 68 * 0.0254},
		{"typographic primes", Length, "5′8″", 68 * 0.0254},
		{"typographic quotes", Length, "5’8”", 68 * 0.0254},
		{"foot mark and bare inches", Length, "5'8", 68 * 0.0254},
		{"half inches", Length, "5ft8.5in", 68.5 * 0.0254},
		{"feet alone", Length, "6ft", 6 * 0.3048},
		{"kilograms", Mass, "64kg", 64},
		{"pounds", Mass, "141lb", 141 * 0.45359237},
		{"pounds, plural", Mass, "141lbs", 141 * 0.45359237},
		{"stones", Mass, "10st1lb", 141 * 0.45359237},
		{"stones and bare pounds", Mass, "10st1", 141 * 0.45359237},
		{"km/h", Speed, "10km/h", 10 / 3.6},
		{"m/s", Speed, "2.8m/s", 2.8},
		{"mph", Speed, "6.2mph", 6.2 * 1609.344 / 3600},
		{"pace per km", Speed, "6:00/km", 1000.0 / 360},
		{"pace per mile", Speed, "9:30/mile", 1609.344 / 570},
		{"pace with min", Speed, "5:30 min/km", 1000.0 / 330},
		{"whole minutes", Speed, "6min/km", 1000.0 / 360},
		{"percent", Percent, "1%", 1},
		{"downhill", Percent, "-1.5 %", -1.5},
		{"true minus", Percent, "−2%", -2},
		{"degrees", Angle, "2deg", 2},
		{"degree sign", Angle, "-1.5°", -1.5},
		{"bare degrees", Angle, "2", 2},
		{"bare rate", Rate, "240", 240},
		{"rate", Rate, "239.76 Hz", 239.76},
		{"fps", Rate, "120fps", 120},
		{"seconds", Duration, "90s", 90},
		{"minutes", Duration, "2min", 120},
		{"minute and seconds", Duration, "1m30s", 90},
		{"minute and bare seconds", Duration, "1min30", 90},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := tt.parse(tt.text)
			if err != nil {
				t.Fatalf("%q: %v", tt.text, err)
			}
			if math.Abs(got-tt.want) > 1e-12*math.Max(1, tt.want) {
				t.Errorf("%q = %.15g, want %.15g", tt.text, got, tt.want)
			}
		})
	}
}

func TestRefusals(t *testing.T) {
	tests := []struct {
		name  string
		parse func(string) (float64, error)
		text  string
		says  string
	}{
		{"bare height", Length, "172", "no unit"},
		{"bare mass", Mass, "64", "no unit"},
		{"bare speed", Speed, "10", "no unit"},
		{"bare incline", Percent, "1", "no unit"},
		{"bare duration", Duration, "90", "no unit"},
		{"nothing", Length, "", "not a length"},
		{"blanks", Length, "  ", "not a length"},
		{"negative", Length, "-172cm", "not a length"},
		{"words", Length, "tall", "not a length"},
		{"mass for length", Length, "64kg", "not a length"},
		{"miles for metres", Length, "1miles", "not a length"},
		{"speed for length", Length, "2m/s", "not a length"},
		{"small unit first", Length, "8in5ft", "not a length"},
		{"too many inches", Length, "5ft12in", "not a length"},
		{"same unit twice", Length, "1m1m", "not a length"},
		{"two points", Length, "1.7.2m", "not a length"},
		{"thousands", Length, "1,720,000mm", "not a length"},
		{"hexadecimal", Length, "0x10cm", "not a length"},
		{"exponent", Length, "1e3cm", "not a length"},
		{"infinite", Length, "infcm", "not a length"},
		{"not a number", Speed, "nankm/h", "not a speed"},
		{"zero pace", Speed, "0:00/km", "not a speed"},
		{"sixty seconds", Speed, "5:60/km", "not a speed"},
		{"one digit of seconds", Speed, "5:3/km", "not a speed"},
		{"pace without distance", Speed, "5:30", "not a speed"},
		{"degrees for percent", Percent, "1deg", "not a percentage"},
		{"radians", Angle, "1rad", "not an angle"},
		{"no rate", Rate, "0", "not a frame rate"},
		{"rate word", Rate, "fast", "not a frame rate"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := tt.parse(tt.text)
			if err == nil {
				t.Fatalf("%q was read as %v", tt.text, got)
			}
			if form.CodeOf(err) != form.CodeUsage {
				t.Errorf("%q: code %q, want usage", tt.text, form.CodeOf(err))
			}
			if !strings.Contains(err.Error(), tt.says) || !strings.Contains(err.Error(), "for instance") {
				t.Errorf("%q: %q does not say %q with an example", tt.text, err, tt.says)
			}
		})
	}
}

func TestFormat(t *testing.T) {
	for _, tt := range []struct{ got, want string }{
		{Metric.Height(1.724), "172 cm"},
		{US.Height(1.7272), "5 ft 8 in"},
		{US.Height(1.8280), "6 ft 0 in"},
		{Metric.Mass(64), "64 kg"},
		{US.Mass(63.96), "141 lb"},
		{Metric.Speed(10 / 3.6), "10.0 km/h"},
		{US.Speed(2.78), "6.2 mph"},
		{US.Speed(US.SpeedStep()), "1.0 mph"},
		{Metric.Speed(Metric.SpeedStep()), "1.0 km/h"},
	} {
		if tt.got != tt.want {
			t.Errorf("got %q, want %q", tt.got, tt.want)
		}
	}
	if v, u := US.Convert(25.4, "cm"); u != "in" || math.Abs(v-10) > 1e-12 {
		t.Errorf("25.4 cm = %v %s, want 10 in", v, u)
	}
	if v, u := US.Convert(170, "steps/min"); u != "steps/min" || v != 170 {
		t.Errorf("a rate was changed: %v %s", v, u)
	}
}

// FuzzParse holds that no text makes a reader panic or give a number that
// is not finite, and that only signed kinds are ever negative.
func FuzzParse(f *testing.F) {
	for _, s := range []string{
		"172cm", "5ft8in", `5'8"`, "10st1lb", "6:00/km", "9:30/mile", "1%", "-2°", "90s", "1m30s",
		"240", "1,72m", "", "-", "''", "5''", "999999999999999999999cm", "\xff", "1/", "/km", ":/km", "5′",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for name, parse := range map[string]func(string) (float64, error){
			"length": Length, "mass": Mass, "speed": Speed, "duration": Duration, "rate": Rate,
			"percent": Percent, "angle": Angle,
		} {
			v, err := parse(text)
			if err != nil {
				if v != 0 {
					t.Errorf("%s %q: a value with an error", name, text)
				}
				continue
			}
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Errorf("%s %q = %v", name, text, v)
			}
			if v < 0 && name != "percent" && name != "angle" {
				t.Errorf("%s %q = %v, negative", name, text, v)
			}
		}
	})
}
