package judge

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"plumbstride/internal/form"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

// drawRunner is an invented runner with every measure up to 3 population SDs
// from the usual.
func drawRunner(t *rapid.T) runner {
	r := runner{
		set: values{}, sd: values{},
		speed:  rapid.Float64Range(2, 4.5).Draw(t, "speed"),
		height: rapid.Float64Range(1.5, 2).Draw(t, "height"),
	}
	spread := values{"landing_distance": 4.2, "heel_landing_distance": 4.2}
	for _, row := range Rows() {
		s := spec[row.Measure]
		sd := row.SD
		if v, ok := spread[row.Measure]; ok {
			sd = v
		}
		if !(sd > 0) {
			continue
		}
		r.set[row.Measure] = s.usual + sd*rapid.Float64Range(-3, 3).Draw(t, row.Measure)
		r.sd[row.Measure] = s.sd * rapid.Float64Range(0.3, 3).Draw(t, row.Measure+" sd")
	}
	return r
}

// A small error, 1 % of the spread between runners in each measure, must not
// exchange the priority unless the verdict said that it was close.
func TestSmallNoiseDoesNotFlip(t *testing.T) {
	flips, checks := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		r := drawRunner(t)
		measures := r.measures()
		before := Judge(measures, nil, r.context())
		noisy := slices.Clone(measures)
		for i := range noisy {
			if noisy[i].Band != nil {
				noisy[i].Value += 0.01 * noisy[i].Band.PopulationSD * rapid.Float64Range(-1, 1).Draw(t, "noise")
			}
		}
		after := Judge(noisy, nil, r.context())
		checks++
		if before.answer() == after.answer() {
			return
		}
		flips++
		if before.Tie == "" && after.Tie == "" {
			t.Fatalf("%q became %q without a word of a tie\n%s\n%s", before.answer(), after.answer(),
				describe(before, weigh(find(measures))), describe(after, weigh(find(noisy))))
		}
	})
	t.Logf("%d of %d verdicts changed, each said to be close", flips, checks)
}

// The order of the measures makes no difference, and the input is left alone.
func TestOrderAndInput(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := drawRunner(t)
		measures := r.measures()
		kept := slices.Clone(measures)
		first := Judge(measures, nil, r.context())
		if diff := cmp.Diff(kept, measures, cmpopts.EquateNaNs()); diff != "" {
			t.Fatalf("input changed: %s", diff)
		}
		shuffled := slices.Clone(measures)
		rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)).Shuffle(len(shuffled), func(i, j int) {
			shuffled[i], shuffled[j] = shuffled[j], shuffled[i]
		})
		if diff := cmp.Diff(first, Judge(shuffled, nil, r.context())); diff != "" {
			t.Fatalf("order matters: %s", diff)
		}
	})
}

// Slower steps never make the cadence count less, whatever else is wrong.
func TestWorseCountsMore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := drawRunner(t)
		low := r.context()
		band := Bands(low)["cadence"]
		score := func(below float64) float64 {
			r.set["cadence"] = band.Low - below
			return weigh(find(r.measures()))[2].score
		}
		a := rapid.Float64Range(0, 25).Draw(t, "below")
		b := a + rapid.Float64Range(0, 10).Draw(t, "more")
		if sa, sb := score(a), score(b); sb < sa-1e-12 {
			t.Fatalf("score %.4f at %.1f below the band, %.4f at %.1f", sa, a, sb, b)
		}
	})
}

// The foot's angle alone, whatever it is, never makes a priority nor moves
// an area (Souza 2016: no cut-off is known); nor does the time on the ground
// (Van Hooren et al. 2024: r = −0.02 with economy).
func TestDescribedNotJudged(t *testing.T) {
	want := runner{}.judge()
	rapid.Check(t, func(t *rapid.T) {
		r := runner{set: values{
			"foot_strike_angle": rapid.Float64Range(-40, 50).Draw(t, "foot"),
			"contact_time":      rapid.Float64Range(120, 500).Draw(t, "contact"),
			"flight_time":       rapid.Float64Range(0, 300).Draw(t, "flight"),
			"duty_factor":       rapid.Float64Range(0.2, 0.5).Draw(t, "duty"),
		}}
		if diff := cmp.Diff(want, r.judge()); diff != "" {
			t.Fatal(diff)
		}
	})
}

// Toes far up do add to a landing that is too far ahead already.
func TestToesUpSupportLongLanding(t *testing.T) {
	score := func(foot float64) float64 {
		r := runner{set: values{"landing_distance": 27, "foot_strike_angle": foot}}
		return weigh(find(r.measures()))[1].score
	}
	if level, up := score(10), score(34); !(up > level*1.05) {
		t.Errorf("score %.3f with toes level, %.3f with toes up", level, up)
	}
}

// Hostile numbers are left out, never a panic and never a judgement.
func TestHostileNumbers(t *testing.T) {
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		ms := runner{}.measures()
		for i := range ms {
			ms[i].Value, ms[i].SD = bad, bad
		}
		if v := Judge(ms, nil, Context{SpeedMS: bad, HeightM: bad}); v.Priority != nil {
			t.Errorf("%v: priority %q", bad, *v.Priority)
		}
		Bands(Context{SpeedMS: bad, HeightM: bad})
	}
	m := form.With95("cadence", form.Both, "steps/min", 120, 0, 3)
	m.Band = &form.Band{Low: 160, High: 180, PopulationSD: 8}
	if v := Judge([]form.Measure{m}, nil, Context{SpeedMS: 2.8, HeightM: 1.75}); v.Priority != nil {
		t.Error("a measure without uncertainty was judged")
	}
}

// Without a scale, the landing is judged as a share of leg length, once, and
// with one the second unit adds nothing.
func TestSecondUnit(t *testing.T) {
	r := runner{set: values{"landing_distance": 28}}
	cm := r.measures()
	ctx := r.context()
	share := make([]form.Measure, 0, len(cm))
	for _, m := range cm {
		if m.Name == "landing_distance" {
			m.Unit, m.Value, m.SD = "% leg length", m.Value/0.85925, m.SD/0.85925
			share = append(share, m)
		}
	}
	rest := slices.DeleteFunc(slices.Clone(cm), func(m form.Measure) bool { return m.Name == "landing_distance" })
	inCm := weigh(find(cm))[1].score
	inShare := weigh(find(WithBands(append(rest, share...), ctx)))[1].score
	inBoth := weigh(find(WithBands(append(slices.Clone(cm), share...), ctx)))[1].score
	near(t, "score by share of leg length", inShare, inCm, 1e-9)
	near(t, "score with both", inBoth, inCm, 1e-12)
}
