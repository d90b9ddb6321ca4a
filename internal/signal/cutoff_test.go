package signal

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// drawn is a series drawn from the smoother's own model: a jerk that is white
// noise, seen at uneven times with noise of sd, a share of the samples
// missing.
func drawn(cutoffHz, rateHz, seconds, sd, missing float64, rng *rand.Rand) (times, values, doubts []float64) {
	q := JerkDensity(cutoffHz, rateHz, sd)
	var state vec3
	for at := 0.0; at < seconds; {
		dt := (0.5 + rng.Float64()) / rateHz
		at += dt
		f := transition(dt)
		var next vec3
		for r := range 3 {
			for c := range 3 {
				next[r] += f[r][c] * state[c]
			}
		}
		next[2] += rng.NormFloat64() * math.Sqrt(q*dt)
		state = next
		doubt := 1 + 2*rng.Float64()
		z := state[0] + sd*doubt*rng.NormFloat64()
		if rng.Float64() < missing {
			doubt = math.Inf(1)
		}
		times, values, doubts = append(times, at), append(values, z), append(doubts, doubt)
	}
	return times, values, doubts
}

// TestLikelyCutoffFindsTheModels: the cut-off from which series were drawn
// comes back within 12 %, at camera rates and at those of strides laid over
// one another, and more samples tell it better.
func TestLikelyCutoffFindsTheModels(t *testing.T) {
	for _, want := range []float64{3, 6, 12, 20} {
		for _, rate := range []float64{60, 240, 1000} {
			for _, missing := range []float64{0, 0.2} {
				rng := rand.New(rand.NewPCG(uint64(want), uint64(rate)))
				times, x, doubts := drawn(want, rate, 15, 0.004, missing, rng)
				if got := LikelyCutoff(times, [][]float64{x}, doubts, rate, 1, 60); math.Abs(got/want-1) > 0.12 {
					t.Errorf("drawn at %g Hz, %g samples a second, %g missing: %.2f Hz", want, rate, missing, got)
				}
			}
		}
	}
}

// TestLikelyCutoffIsNearTheBest: on motions that no model drew, sums of
// harmonics of a stride as a joint's path is, the smoother at the likely
// cut-off errs by at most 12 % more than at the best of all cut-offs, which
// only who knows the truth can choose.
func TestLikelyCutoffIsNearTheBest(t *testing.T) {
	for _, c := range []struct {
		name       string
		amplitudes []float64 // of the stride's harmonics, metres
		noise      float64
	}{
		{"a hip", []float64{0.002, 0.035, 0.002, 0.006}, 0.004},
		{"a knee", []float64{0.15, 0.06, 0.03, 0.015, 0.006, 0.003}, 0.004},
		{"a foot", []float64{0.3, 0.12, 0.06, 0.03, 0.02, 0.012, 0.008, 0.005}, 0.004},
		{"a foot, doubtful", []float64{0.3, 0.12, 0.06, 0.03, 0.02, 0.012, 0.008, 0.005}, 0.02},
	} {
		rng := rand.New(rand.NewPCG(4, 4))
		const rate = 60.0
		var times, x, truth, doubts []float64
		for i := range 600 {
			at := float64(i) / rate
			v := 0.0
			for k, a := range c.amplitudes {
				v += a * math.Sin(2*math.Pi*float64(k+1)*at/0.72+float64(k*k))
			}
			times, truth, x, doubts = append(times, at), append(truth, v), append(x, v+c.noise*rng.NormFloat64()), append(doubts, 1)
		}
		sds := make([]float64, len(x))
		for i := range sds {
			sds[i] = c.noise
		}
		errorAt := func(hz float64) float64 {
			sum := 0.0
			for i, s := range Smooth(times, x, sds, JerkDensity(hz, rate, c.noise)) {
				sum += (s.X - truth[i]) * (s.X - truth[i])
			}
			return math.Sqrt(sum / float64(len(x)))
		}
		best := math.Inf(1)
		for hz := 2.0; hz < 25; hz *= 1.05 {
			best = math.Min(best, errorAt(hz))
		}
		got := LikelyCutoff(times, [][]float64{x}, doubts, rate, 2, 25)
		t.Logf("%s: %.1f Hz, error %.2f mm, best %.2f", c.name, got, 1e3*errorAt(got), 1e3*best)
		if errorAt(got) > 1.12*best {
			t.Errorf("%s: at %.1f Hz the error is %.2f mm, the best is %.2f", c.name, got, 1e3*errorAt(got), 1e3*best)
		}
	}
}

// TestLikelyCutoffAgainstClosedForm: the filter's likelihood is that of the
// spline written as one Gaussian, with its covariance in closed form and a
// parabola of any size taken out: the generalized maximum likelihood of Wahba
// 1985, Ann Stat 13:1378–1402, eq. 1.6 (from memory).
func TestLikelyCutoffAgainstClosedForm(t *testing.T) {
	const rate = 60.0
	times, x, doubts := drawn(8, rate, 0.7, 1, 0, rand.New(rand.NewPCG(1, 2)))
	var ours, closed []float64
	for _, hz := range []float64{4, 6, 8, 11, 15} {
		q := JerkDensity(hz, rate, 1)
		ours = append(ours, surpriseOf(times, x, doubts, q))
		closed = append(closed, generalizedSurprise(times, x, doubts, q))
	}
	for i := range ours {
		if a, b := ours[i]-ours[0], closed[i]-closed[0]; math.Abs(a-b) > 1e-3*(1+math.Abs(b)) {
			t.Errorf("at cut-off %d: %.6f more than at the first, closed form %.6f", i, a, b)
		}
	}
}

// generalizedSurprise is ½·log|Σ| + ½·log|TᵀΣ⁻¹T| + (n−3)/2·log(residual), with
// Σ the covariance of thrice integrated white noise plus the samples' own.
func generalizedSurprise(times, x, doubts []float64, q float64) float64 {
	n := len(times)
	sigma := make([][]float64, n)
	for i := range sigma {
		sigma[i] = make([]float64, n)
		for j := range sigma[i] {
			// ∫₀ᵐ (s−u)²(t−u)²/4 du, with m = min(s, t) and d = |s − t|.
			m, d := math.Min(times[i], times[j]), math.Abs(times[i]-times[j])
			sigma[i][j] = q / 4 * (math.Pow(m, 5)/5 + d*math.Pow(m, 4)/2 + d*d*m*m*m/3)
		}
		sigma[i][i] += doubts[i] * doubts[i]
	}
	logs := 0.0
	// Cholesky, then every right-hand side through L⁻¹.
	for i := range n {
		for j := 0; j <= i; j++ {
			s := sigma[i][j]
			for k := range j {
				s -= sigma[i][k] * sigma[j][k]
			}
			if i == j {
				sigma[i][i] = math.Sqrt(s)
				logs += math.Log(sigma[i][i])
			} else {
				sigma[i][j] = s / sigma[j][j]
			}
		}
	}
	whiten := func(f func(i int) float64) []float64 {
		v := make([]float64, n)
		for i := range n {
			v[i] = f(i)
			for k := range i {
				v[i] -= sigma[i][k] * v[k]
			}
			v[i] /= sigma[i][i]
		}
		return v
	}
	columns := [][]float64{
		whiten(func(int) float64 { return 1 }), whiten(func(i int) float64 { return times[i] }),
		whiten(func(i int) float64 { return times[i] * times[i] }), whiten(func(i int) float64 { return x[i] }),
	}
	// Gram–Schmidt: the lengths left of the first three make |TᵀΣ⁻¹T|, that of
	// the last the residual.
	var lengths []float64
	for k, c := range columns {
		for range 2 {
			for _, e := range columns[:k] {
				dot := 0.0
				for i := range c {
					dot += c[i] * e[i]
				}
				for i := range c {
					c[i] -= dot * e[i]
				}
			}
		}
		length := 0.0
		for _, v := range c {
			length += v * v
		}
		length = math.Sqrt(length)
		for i := range c {
			c[i] /= length
		}
		lengths = append(lengths, length)
	}
	return logs + math.Log(lengths[0]*lengths[1]*lengths[2]) + float64(n-3)*math.Log(lengths[3])
}

// TestLikelyCutoffProperties: the unit and the origin of the series are
// nothing to it, it stays within its bounds, and too few samples give the
// middle.
func TestLikelyCutoffProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		times, x, doubts := drawn(rapid.Float64Range(1, 30).Draw(t, "cut-off"), 120, 2, 1, 0.1, rng)
		low := rapid.Float64Range(1, 20).Draw(t, "low")
		high := low * rapid.Float64Range(1, 3).Draw(t, "times")
		got := LikelyCutoff(times, [][]float64{x, x}, doubts, 120, low, high)
		if got < low || got > high {
			t.Fatalf("%g … %g: %g", low, high, got)
		}
		scale, shift := rapid.Float64Range(0.001, 1000).Draw(t, "scale"), rapid.Float64Range(-100, 100).Draw(t, "shift")
		other := make([]float64, len(x))
		for i := range x {
			other[i] = scale * (x[i] + shift)
		}
		if again := LikelyCutoff(times, [][]float64{other}, doubts, 120, low, high); math.Abs(again/got-1) > 0.05 {
			t.Fatalf("%g, with the unit and the origin changed %g", got, again)
		}
		if few := LikelyCutoff(times[:10], [][]float64{x[:10]}, doubts[:10], 120, low, high); math.Abs(few/math.Sqrt(low*high)-1) > 1e-9 {
			t.Fatalf("ten samples: %g of %g … %g", few, low, high)
		}
	})
}

// BenchmarkLikelyCutoff is one joint of half a minute's strides.
func BenchmarkLikelyCutoff(b *testing.B) {
	times, x, doubts := drawn(15, 2000, 0.8, 0.004, 0.1, rand.New(rand.NewPCG(1, 1)))
	for b.Loop() {
		LikelyCutoff(times, [][]float64{x, x}, doubts, 2000, 10, 18)
	}
}
