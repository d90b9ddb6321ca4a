package signal

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// sine gives n samples at rate fs of a sine of amplitude 1 at f Hz.
func sine(n int, fs, f float64) (times, values, sds []float64) {
	for i := range n {
		t := float64(i) / fs
		times, values, sds = append(times, t), append(values, math.Sin(2*math.Pi*f*t)), append(sds, 1)
	}
	return
}

// By its formula H = 1/(1 + ω⁶r²/(fs·q)) the smoother passes 1/√2 of the
// amplitude at the cut-off, with no lag; a tenth of the cut-off passes whole.
func TestSmootherPassesByItsFormula(t *testing.T) {
	const fs, cut = 240.0, 12.0
	for _, c := range []struct{ f, want float64 }{{1.2, 1}, {6, 1 / (1 + cutoffGain*math.Pow(0.5, 6))}, {12, 1 / math.Sqrt2}, {24, 1 / (1 + cutoffGain*64)}} {
		times, v, sd := sine(2400, fs, c.f)
		s := Smooth(times, v, sd, JerkDensity(cut, fs, 1))
		var in, out, cross float64
		for i := 600; i < 1800; i++ { // whole periods, away from the ends
			in += v[i] * v[i]
			out += s[i].X * v[i]
			cross += s[i].X * math.Cos(2*math.Pi*c.f*times[i])
		}
		if gain := out / in; math.Abs(gain-c.want) > 0.01 {
			t.Errorf("%g Hz: gain %.4f, want %.4f", c.f, gain, c.want)
		}
		if lag := cross / in; math.Abs(lag) > 0.002 {
			t.Errorf("%g Hz: out of phase by %.4f", c.f, lag)
		}
	}
}

// A parabola is the white-jerk model without jerk: it comes back exactly,
// with its derivatives, over gaps and uneven steps.
func TestSmootherKeepsParabolas(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := rapid.Float64Range(-5, 5).Draw(t, "a"), rapid.Float64Range(-5, 5).Draw(t, "b"), rapid.Float64Range(-5, 5).Draw(t, "c")
		var times, v, sd []float64
		at := 0.0
		for i := range 80 {
			at += rapid.Float64Range(0.004, 0.03).Draw(t, "step")
			times, v, sd = append(times, at), append(v, a+b*at+c*at*at), append(sd, 1)
			if i > 30 && i < 38 {
				sd[i], v[i] = math.Inf(1), 1e6
			}
		}
		s := Smooth(times, v, sd, JerkDensity(12, 60, 1))
		for i := range s {
			want := a + b*times[i] + c*times[i]*times[i]
			if math.Abs(s[i].X-want) > 1e-3 || math.Abs(s[i].V-b-2*c*times[i]) > 2e-2 {
				t.Fatalf("sample %d: %v, want %v", i, s[i], want)
			}
		}
	})
}

// Early samples that are missing are filled in from those around them,
// however large the numbers are; samples at one and the same time are several
// samples.
func TestSmootherStandsEarlyGaps(t *testing.T) {
	for _, missing := range [][]int{{1}, {0, 1}, {1, 2, 3}, {0, 2, 4}} {
		times, values, sds := sine(90, 60, 2)
		for i := range values {
			values[i] += 1e4 + 2000*times[i]
			sds[i] = 1
		}
		want := append([]float64(nil), values...)
		for _, k := range missing {
			sds[k], values[k] = math.Inf(1), 0
		}
		for k, s := range Smooth(times, values, sds, JerkDensity(9, 60, 1)) {
			if math.Abs(s.X-want[k]) > 1 {
				t.Errorf("%v missing: sample %d is %.2f, want %.2f", missing, k, s.X, want[k])
			}
		}
	}
	times := []float64{0, 0, 0, 0, 0, 0, 0, 0, 0, 1}
	sds := []float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1}
	for _, s := range Smooth(times, make([]float64, 10), sds, 1) {
		if math.IsNaN(s.X) || math.Abs(s.X) > 1e-6 {
			t.Errorf("samples at one time give %v", s.X)
		}
	}
}

// The smoother's own SD holds for white noise: errors over SD spread by 1.
func TestSmootherKnowsItsUncertainty(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	times, v, sd := sine(3000, 120, 1)
	truth := append([]float64(nil), v...)
	for i := range v {
		sd[i] = 0.05
		v[i] += 0.05 * rng.NormFloat64()
	}
	s := Smooth(times, v, sd, JerkDensity(8, 120, 0.05))
	sum := 0.0
	for i := 100; i < 2900; i++ {
		sum += math.Pow((s[i].X-truth[i])/s[i].SD, 2)
	}
	if z := math.Sqrt(sum / 2800); z < 0.75 || z > 1.25 {
		t.Errorf("errors are %.2f times the stated uncertainty", z)
	}
}

func TestInterpolateIsExactForCubics(t *testing.T) {
	times := []float64{0, 0.5, 1.25}
	at := func(x float64) State { return State{X: x*x*x - x, V: 3*x*x - 1, A: 6 * x} }
	states := []State{at(0), at(0.5), at(1.25)}
	for x := 0.0; x <= 1.25; x += 0.05 {
		got := Interpolate(times, states, x)
		if math.Abs(got.X-at(x).X) > 1e-12 || math.Abs(got.V-at(x).V) > 1e-12 {
			t.Errorf("at %.2f: %+v, want %+v", x, got, at(x))
		}
	}
}

func TestHalfPeriod(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		period := rapid.Float64Range(0.55, 1.2).Draw(t, "period")
		third := rapid.Float64Range(0, 0.4).Draw(t, "third harmonic")
		var v []float64
		for i := range 1600 {
			ph := 2 * math.Pi * float64(i) / 200 / period
			v = append(v, math.Sin(ph)+third*math.Sin(3*ph+1))
		}
		half, strength, ok := HalfPeriod(v, 1.0/200, 0.225, 0.8)
		if !ok || strength < 0.95 || math.Abs(2*half-period) > 0.004*period {
			t.Fatalf("half period %v (strength %v, %v), want %v", half, strength, ok, period/2)
		}
	})
	if _, _, ok := HalfPeriod(make([]float64, 400), 1.0/200, 0.225, 0.8); ok {
		t.Error("a constant has no period")
	}
}

func TestStats(t *testing.T) {
	v := []float64{4, 1, 3, 2}
	if Median(v) != 2.5 || Quantile(v, 0) != 1 || Quantile(v, 1) != 4 || v[0] != 4 {
		t.Error("order statistics by hand")
	}
	mean, sd := MeanSD([]float64{2, 4, 4, 4, 5, 5, 7, 9}) // sum of squares about 5 is 32
	if mean != 5 || math.Abs(sd-math.Sqrt(32.0/7)) > 1e-12 {
		t.Errorf("mean %v, sd %v", mean, sd)
	}
	if got := RobustSD([]float64{1, 2, 3, 4, 100}); math.Abs(got-1.4826) > 1e-12 {
		t.Errorf("robust sd %v", got)
	}
}

// Table of Student's t, 97.5 %: Abramowitz & Stegun table 26.10 (from memory,
// standard values).
func TestStudent975(t *testing.T) {
	for nu, want := range map[float64]float64{1: 12.7062, 2: 4.3027, 3: 3.1824, 5: 2.5706, 10: 2.2281, 30: 2.0423, 1e6: 1.95996} {
		if got := Student975(nu); math.Abs(got-want) > 0.004*want {
			t.Errorf("t(%g) = %.4f, want %.4f", nu, got, want)
		}
	}
}

// A ball that bounces: between the impacts the smoother follows the parabola,
// and at an impact both sides meet in one place, where a smoother that knows
// of none rounds the corner off.
func TestSmoothAcrossAnImpact(t *testing.T) {
	const rate, hit = 120.0, 0.5
	rng := rand.New(rand.NewPCG(1, 2))
	times, values, sds := make([]float64, 120), make([]float64, 120), make([]float64, 120)
	truth := func(x float64) float64 { return 2*math.Abs(x-hit) + 3*(x-hit)*(x-hit) }
	for i := range times {
		times[i] = float64(i) / rate
		values[i], sds[i] = truth(times[i])+0.002*rng.NormFloat64(), 0.002
	}
	q := JerkDensity(10, rate, 0.002)
	plain := Smooth(times, values, sds, q)
	broken := SmoothAcross(times, values, sds, q, []Impact{{Time: hit, SpeedSD: 4, AccelSD: 50}})
	i := 60 // at the impact
	if e := math.Abs(plain[i].X); e < 0.01 {
		t.Errorf("the plain smoother is %.4f off at the corner: nothing to mend", e)
	}
	if e := math.Abs(broken[i].X); e > 0.004 {
		t.Errorf("%.4f off at the impact", e)
	}
	if v := broken[i-3].V; math.Abs(v+2.15) > 0.4 {
		t.Errorf("velocity before the impact %.2f, truth −2.15", v)
	}
	for _, k := range []int{20, 100} {
		if math.Abs(plain[k].X-broken[k].X) > 1e-4 {
			t.Errorf("far from the impact the two differ by %g", plain[k].X-broken[k].X)
		}
	}
}
