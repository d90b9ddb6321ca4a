package accelerometry

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"plumbstride/internal/form"
)

// analyse reads and analyses a recording that must be fit.
func analyse(t interface {
	Helper()
	Fatal(...any)
}, text string, o Options, worn Place) Finding {
	t.Helper()
	rec, err := Read(strings.NewReader(text), o)
	if err != nil {
		t.Fatal(err)
	}
	f, err := Analyse(rec, worn)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// measure finds one by its name.
func (f Finding) measure(name string) (form.Measure, bool) {
	for _, m := range f.Measures {
		if m.Name == name {
			return m, true
		}
	}
	return form.Measure{}, false
}

// TestInventedRunners: the cadence of half-sine runners comes back within its
// interval and within 1 step/min, and the gait is running, at every speed's
// cadence and contact, rate and orientation. (Half sines after Morin et al.
// 2005, J Appl Biomech 21:167–180; the limit of 1 step/min is our own.)
func TestInventedRunners(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := invented{
			rateHz: rapid.Float64Range(50, 500).Draw(t, "rate"), seconds: 12,
			stepS: rapid.Float64Range(0.28, 0.42).Draw(t, "step"), noiseG: rapid.Float64Range(0, 0.1).Draw(t, "noise"),
			turn: rapid.Float64Range(-3, 3).Draw(t, "turn"), seed: rapid.Uint64().Draw(t, "seed"),
		}
		v.contactS = v.stepS * rapid.Float64Range(0.5, 0.85).Draw(t, "share")
		f := analyse(t, v.upright(), Options{}, NotStated)
		if rapid.Bool().Draw(t, "turned") {
			f = analyse(t, v.turned(), Options{}, Back)
		}
		if f.Gait != Running {
			t.Fatalf("gait %q", f.Gait)
		}
		m, ok := f.measure("cadence")
		want := 60 / v.stepS
		if !ok || math.Abs(m.Value-want) > 1 || want < m.Low || want > m.High {
			t.Fatalf("cadence %.2f ± %.2f, want %.2f (%v)", m.Value, m.SD, want, f.Refused)
		}
		steps, _ := f.measure("step_count")
		if n := 12 / v.stepS; n < steps.Low || n > steps.High {
			t.Fatalf("%v steps (%.1f … %.1f), want %.1f", steps.Value, steps.Low, steps.High, n)
		}
	})
}

// TestContactFollowsTheTruth: a longer contact of otherwise the same runner
// is told as longer, by about as much. The level is set by real runners
// (TestContactAgainstForce), not by half sines.
func TestContactFollowsTheTruth(t *testing.T) {
	last := 0.0
	for _, contact := range []float64{0.20, 0.22, 0.24, 0.26} {
		v := invented{rateHz: 200, seconds: 12, stepS: 0.35, contactS: contact, noiseG: 0.02, seed: 5}
		f := analyse(t, v.upright(), Options{}, Back)
		m, ok := f.measure("contact_time")
		if !ok {
			t.Fatalf("refused: %v", f.Refused)
		}
		if last > 0 && math.Abs(m.Value-last-20) > 5 {
			t.Errorf("20 ms longer on the ground: %.0f after %.0f ms", m.Value, last)
		}
		last = m.Value
		flight, _ := f.measure("flight_time")
		duty, _ := f.measure("duty_factor")
		if got := m.Value + flight.Value; math.Abs(got-350) > 2 {
			t.Errorf("contact and flight make %.1f ms, want a step's 350", got)
		}
		if got := duty.Value * 2 * 350; math.Abs(got-m.Value) > 1 {
			t.Errorf("duty factor %.3f is not contact over stride", duty.Value)
		}
	}
}

// TestWalkers: walking is told as walking, its steps are counted to 3 %, and
// no measure of running is given.
func TestWalkers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := invented{
			walking: true, rateHz: rapid.Float64Range(40, 120).Draw(t, "rate"), seconds: rapid.Float64Range(40, 90).Draw(t, "seconds"),
			stepS: rapid.Float64Range(0.44, 0.75).Draw(t, "step"), noiseG: rapid.Float64Range(0, 0.05).Draw(t, "noise"),
			turn: rapid.Float64Range(-3, 3).Draw(t, "turn"), restS: rapid.Float64Range(0, 5).Draw(t, "rest"), seed: rapid.Uint64().Draw(t, "seed"),
		}
		f := analyse(t, v.turned(), Options{}, NotStated)
		want := (v.seconds - 2*v.restS) / v.stepS
		m, _ := f.measure("step_count")
		if f.Gait != Walking || math.Abs(m.Value-want) > 0.03*want+1 || want < m.Low || want > m.High {
			t.Fatalf("%s, %.0f steps (%.1f … %.1f), want %.1f", f.Gait, m.Value, m.Low, m.High, want)
		}
		if _, ok := f.measure("cadence"); ok {
			t.Fatal("a measure of running is given")
		}
	})
}

// TestWalkThenRun: the two are kept apart, and the walk is told.
func TestWalkThenRun(t *testing.T) {
	walk := invented{walking: true, rateHz: 100, seconds: 20, stepS: 0.55, noiseG: 0.03, seed: 1}
	run := invented{rateHz: 100, seconds: 30, stepS: 0.36, contactS: 0.25, noiseG: 0.03, seed: 2}
	text := walk.upright()
	for i, line := range strings.Split(strings.TrimSpace(run.upright()), "\n") {
		if i == 0 {
			continue
		}
		_, rest, _ := strings.Cut(line, ",")
		text += formatTime(20+float64(i-1)/100) + "," + rest + "\n"
	}
	f := analyse(t, text, Options{}, NotStated)
	if f.Gait != Running || math.Abs(f.WalkingS-20) > 2.5 || math.Abs(f.RunningS-30) > 2.5 {
		t.Fatalf("%s: %.1f s walking, %.1f s running", f.Gait, f.WalkingS, f.RunningS)
	}
	if m, _ := f.measure("cadence"); math.Abs(m.Value-60/0.36) > 1 {
		t.Errorf("cadence %.1f", m.Value)
	}
	if !strings.Contains(strings.Join(f.Notes, " "), "of walking") {
		t.Errorf("the walk is not told: %q", f.Notes)
	}
}

// TestWornElsewhere: on an arm the cadence is told, the time on the ground is
// not.
func TestWornElsewhere(t *testing.T) {
	v := invented{rateHz: 100, seconds: 20, stepS: 0.35, contactS: 0.25, noiseG: 0.1, swing: 0.8, turn: 1.1, seed: 3}
	f := analyse(t, v.turned(), Options{}, Elsewhere)
	if m, ok := f.measure("cadence"); !ok || math.Abs(m.Value-60/0.35) > 2 {
		t.Errorf("cadence %.1f (%v)", m.Value, f.Refused)
	}
	if _, ok := f.measure("contact_time"); ok {
		t.Error("contact time is told from an arm")
	}
}

// TestNobody: lying still, riding and shaking are not steps, and the sentence
// says what to do.
func TestNobody(t *testing.T) {
	wave := func(f func(t float64) float64) string {
		var b strings.Builder
		for i := range 3000 {
			b.WriteString(formatTime(float64(i)/100) + ",0.01," + formatTime(0.02*math.Sin(float64(i))) + "," + formatTime(f(float64(i)/100)) + "\n")
		}
		return b.String()
	}
	random := func(i float64) float64 { _, f := math.Modf(math.Abs(43758.5453 * math.Sin(12.9898*i))); return f - 0.5 }
	for name, c := range map[string]struct {
		text, says string
	}{
		"still":        {wave(func(float64) float64 { return 1 }), "lay still"},
		"pedals":       {wave(func(t float64) float64 { return 1 + 0.35*math.Sin(2*math.Pi*1.5*t) + 0.05*random(t) }), "no steps"},
		"slow pedals":  {wave(func(t float64) float64 { return 1 + 0.3*math.Sin(2*math.Pi*1.08*t) }), "no steps"},
		"shaking":      {wave(func(t float64) float64 { return 1 + 1.5*random(t) }), "no steps"},
		"a car's hum":  {wave(func(t float64) float64 { return 1 + 0.3*math.Sin(2*math.Pi*27*t) }), "lay still"},
		"slow rolling": {wave(func(t float64) float64 { return 1 + 0.3*math.Sin(2*math.Pi*0.2*t) }), "no steps"},
	} {
		rec, err := Read(strings.NewReader(c.text), Options{})
		if err != nil {
			t.Fatal(name, err)
		}
		f, err := Analyse(rec, NotStated)
		if err == nil || form.CodeOf(err) != form.CodeClip || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %s, %v", name, f.Gait, err)
		}
	}
}

// TestClippedSensor: a sensor at the end of its range tells no contact time.
func TestClippedSensor(t *testing.T) {
	v := invented{rateHz: 100, seconds: 20, stepS: 0.35, contactS: 0.25, noiseG: 0.02, seed: 3}
	rec, err := Read(strings.NewReader(v.upright()), Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i, x := range rec.Axes[0] {
		rec.Axes[0][i] = math.Min(x, 2)
	}
	f, err := Analyse(rec, Back)
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := f.measure("contact_time"); ok || !strings.Contains(f.Refused[0].Reason, "range") {
		t.Errorf("refused: %v", f.Refused)
	}
}
