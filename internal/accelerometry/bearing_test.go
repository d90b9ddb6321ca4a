package accelerometry

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"plumbstride/internal/form"
)

// columns writes series as time and the columns named, turned by their signs.
func columns(every int, header string, series [][]float64, order []int, signs []float64) string {
	var b strings.Builder
	b.WriteString(header + "\n")
	for i := 0; i < len(series[0]); i += every {
		fmt.Fprintf(&b, "%g", float64(i)/sacralHz)
		for k, from := range order {
			fmt.Fprintf(&b, ",%.4f", signs[k]*series[from][i])
		}
		b.WriteString("\n")
	}
	return b.String()
}

// signsOf are all ways of turning n axes about.
func signsOf(n int) [][]float64 {
	out := [][]float64{nil}
	for range n {
		var next [][]float64
		for _, s := range out {
			next = append(next, append(slices.Clone(s), 1), append(slices.Clone(s), -1))
		}
		out = next
	}
	return out
}

// same holds a recording's cadence and contact time to another's: within
// 1 step/min and withinMS.
func same(t *testing.T, name string, was, now Finding, withinMS float64) {
	t.Helper()
	for measure, within := range map[string]float64{"cadence": 1, "contact_time": withinMS} {
		a, given := was.measure(measure)
		b, ok := now.measure(measure)
		if given != ok || math.Abs(a.Value-b.Value) > within {
			t.Errorf("%s: %s %.1f (%v), as worn %.1f (%v)", name, measure, b.Value, ok, a.Value, given)
		}
	}
}

// TestTurnedTrials is metamorphic: the 16 trials of Alcantara et al. 2022 give
// the same whichever way their axes point and whichever comes first, and a
// note says what was changed.
func TestTurnedTrials(t *testing.T) {
	for i, r := range trials(t) {
		was := analyse(t, r.text(2, "upright"), Options{}, Back)
		if len(was.Notes) > 0 {
			t.Errorf("trial %d as worn: %q", i, was.Notes)
		}
		for _, order := range [][]int{{0, 1}, {1, 0}} {
			for _, signs := range signsOf(2) {
				if order[0] == 0 && signs[0] > 0 && signs[1] > 0 {
					continue
				}
				name := fmt.Sprint("trial ", i, order, signs)
				now := analyse(t, columns(2, "t,vertical,forward", [][]float64{r.vertical, r.forward}, order, signs), Options{}, Back)
				same(t, name, was, now, 0.5)
				m, _ := now.measure("contact_time")
				if math.Abs(m.Value-r.contactMS) > 25 || len(now.Notes) == 0 {
					t.Errorf("%s: %.0f ms, the force plate %.0f; notes %q", name, m.Value, r.contactMS, now.Notes)
				}
			}
		}
	}
}

// TestPermutedTrials is metamorphic: x, y and z in any order and with any
// signs, left-handed ones too, give the same.
func TestPermutedTrials(t *testing.T) {
	for i, r := range trials(t) {
		sin, cos := math.Sincos(0.7)
		axes := make([][]float64, 3)
		for k := range r.vertical {
			v, a := r.vertical[k], r.forward[k]
			axes[0] = append(axes[0], cos*v+sin*a)
			axes[1] = append(axes[1], cos*a-sin*v)
			axes[2] = append(axes[2], 0.1*math.Sin(math.Pi*float64(k)/sacralHz*r.stepRate/60))
		}
		was := analyse(t, columns(5, "t,x,y,z", axes, []int{0, 1, 2}, []float64{1, 1, 1}), Options{}, Back)
		for _, order := range [][]int{{0, 2, 1}, {1, 0, 2}, {1, 2, 0}, {2, 0, 1}, {2, 1, 0}} {
			for _, signs := range signsOf(3) {
				now := analyse(t, columns(5, "t,x,y,z", axes, order, signs), Options{}, Back)
				same(t, fmt.Sprint("trial ", i, order, signs), was, now, 0.5)
			}
		}
	}
}

// TestBearingOfTheTrials: on every trial the fore–aft axis is told to point
// ahead, and backwards when turned, at all rates; the note of an unclear one
// never comes.
func TestBearingOfTheTrials(t *testing.T) {
	for _, every := range []int{1, 5, 10} {
		for i, r := range trials(t) {
			for _, way := range []bearing{ahead, backward} {
				text := columns(every, "t,vertical,forward", [][]float64{r.vertical, r.forward}, []int{0, 1}, []float64{1, float64(way)})
				rec, err := Read(strings.NewReader(text), Options{})
				if err != nil {
					t.Fatal(err)
				}
				sections, _ := rec.sections()
				var p pooled
				for _, b := range bouts(sections[0]) {
					p.add(b)
				}
				if got := p.bearing(); got != way {
					t.Errorf("every %d, trial %d: %d, want %d", every, i, got, way)
				}
			}
		}
	}
}

// TestNoForwardAxis: where the column named forward is none, the trials are
// told by the vertical alone, with its wider interval, and a note says so: an
// axis to the side that swings with the strides (invented: the trials have
// none), a sensor's noise, the vertical once more, an axis that stands still.
func TestNoForwardAxis(t *testing.T) {
	for i, r := range trials(t) {
		alone := analyse(t, r.text(2, "vertical"), Options{}, Back)
		for name, f := range map[string]func(k int) float64{
			"side":     func(k int) float64 { return 0.3 * math.Sin(math.Pi*float64(k)/sacralHz*r.stepRate/60+1) },
			"noise":    func(k int) float64 { return 0.3 * math.Sin(1e4*float64(k)*float64(k)) },
			"vertical": func(k int) float64 { return 0.5 * (r.vertical[k] - 1) },
			"still":    func(int) float64 { return 0.1 },
		} {
			var other []float64
			for k := range r.vertical {
				other = append(other, f(k))
			}
			now := analyse(t, columns(2, "t,vertical,forward", [][]float64{r.vertical, other}, []int{0, 1}, []float64{1, 1}), Options{}, Back)
			same(t, fmt.Sprint("trial ", i, name), alone, now, 0.5)
			a, _ := alone.measure("contact_time")
			b, _ := now.measure("contact_time")
			if math.Abs(a.SD-b.SD) > 0.2 || !strings.Contains(strings.Join(now.Notes, " "), "can't be told") {
				t.Errorf("trial %d, %s: ± %.1f ms, by the vertical alone %.1f; notes %q", i, name, b.SD, a.SD, now.Notes)
			}
		}
	}
}

// TestInventedRunnersTurned: as the trials, at every speed and rate, with and
// without noise.
func TestInventedRunnersTurned(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := invented{
			rateHz: rapid.Float64Range(50, 500).Draw(t, "rate"), seconds: 12, stepS: rapid.Float64Range(0.28, 0.42).Draw(t, "step"),
			noiseG: rapid.Float64Range(0, 0.1).Draw(t, "noise"), seed: rapid.Uint64().Draw(t, "seed"),
		}
		v.contactS = v.stepS * rapid.Float64Range(0.5, 0.85).Draw(t, "share")
		rec, err := Read(strings.NewReader(v.upright()), Options{})
		if err != nil {
			t.Fatal(err)
		}
		was, err := Analyse(rec, Back)
		if err != nil {
			t.Fatal(err)
		}
		rec.Axes[1] = reversed(rec.Axes[1])
		now, err := Analyse(rec, Back)
		if err != nil {
			t.Fatal(err)
		}
		a, _ := was.measure("contact_time")
		b, _ := now.measure("contact_time")
		if len(was.Notes) > 0 || len(now.Notes) != 1 || math.Abs(a.Value-b.Value) > 0.5 {
			t.Fatalf("%.1f ms, turned %.1f; %q, %q", a.Value, b.Value, was.Notes, now.Notes)
		}
	})
}

// TestLinearAcceleration: a recording without gravity is refused, however its
// columns lie.
func TestLinearAcceleration(t *testing.T) {
	for _, text := range []string{"%.2f,%.3f,0.05\n", "%.2f,0.05,%.3f\n", "%.2f,-0.05,%.3f\n"} {
		recording := lines(1000, "t,vertical,forward\n", func(i int) string { return fmt.Sprintf(strings.TrimSpace(text), float64(i)/100, up(i)-1) })
		if _, err := Read(strings.NewReader(recording), Options{}); err == nil || form.CodeOf(err) != form.CodeClip || !strings.Contains(err.Error(), "gravity is not in it") {
			t.Errorf("%q: %v", text, err)
		}
	}
}
