package signal

import (
	"math"
	"testing"
)

// gain is the amplitude that LowPass leaves of a wave, in the middle of a
// long one.
func gain(rateHz, cutoffHz, waveHz float64) float64 {
	n := int(20 * rateHz)
	in := make([]float64, n)
	for i := range in {
		in[i] = math.Sin(2 * math.Pi * waveHz * float64(i) / rateHz)
	}
	out := LowPass(in, rateHz, cutoffHz)
	var xy, xx float64
	for i := n / 4; i < 3*n/4; i++ {
		xy += in[i] * out[i]
		xx += in[i] * in[i]
	}
	return xy / xx
}

// TestTwoPassCorrection: the correction is C = (2^(1/n) − 1)^(1/4) with n = 2
// passes, 0.8022 (Winter, Biomechanics and Motor Control of Human Movement;
// from memory, and the arithmetic is here), and with it the two passes leave
// 1/√2 at the cut-off; without it they would leave a half.
func TestTwoPassCorrection(t *testing.T) {
	if c := math.Pow(math.Sqrt2-1, 0.25); math.Abs(c-passCorrection) > 5e-6 || math.Abs(c-0.8022) > 5e-5 {
		t.Errorf("C = %.5f", c)
	}
	for _, c := range [][2]float64{{500, 20}, {100, 6}, {60, 8}, {200, 30}} {
		if g := gain(c[0], c[1], c[1]); math.Abs(g-math.Sqrt2/2) > 0.001 {
			t.Errorf("%g Hz cut-off at %g Hz leaves %.4f, want 0.7071", c[1], c[0], g)
		}
		lower := c[0] / math.Pi * math.Atan(math.Tan(math.Pi*c[1]/c[0])*passCorrection)
		if g := gain(c[0], lower, c[1]); math.Abs(g-0.5) > 0.001 {
			t.Errorf("uncorrected, %g Hz at %g Hz leaves %.4f, want 0.5", c[1], c[0], g)
		}
	}
}

// TestLowPassShape: fourth order in all (1/(1 + (f/fc')⁴) for two second-order
// passes, the analogue filter's, well below half the rate), no delay, nothing
// at rest, a copy where the cut-off can't be had.
func TestLowPassShape(t *testing.T) {
	for _, f := range []float64{1, 3, 10, 15, 20} {
		want := 1 / (1 + math.Pow(f*passCorrection/10, 4))
		if g := gain(1000, 10, f); math.Abs(g-want) > 0.002 {
			t.Errorf("%g Hz: %.4f, want %.4f", f, g, want)
		}
	}
	pulse := make([]float64, 201)
	pulse[100] = 1
	out := LowPass(pulse, 100, 8)
	for i := range 60 {
		if math.Abs(out[100-i]-out[100+i]) > 1e-9 {
			t.Fatalf("not symmetrical %d samples from the pulse: %g, %g", i, out[100-i], out[100+i])
		}
	}
	flat := []float64{3, 3, 3, 3, 3, 3, 3, 3, 3, 3}
	for _, v := range LowPass(flat, 100, 8) {
		if math.Abs(v-3) > 1e-9 {
			t.Fatalf("rest comes out as %g", v)
		}
	}
	in := []float64{1, 5, 2, 7}
	for i, v := range LowPass(in, 30, 14) { // half the rate is 15 Hz
		if v != in[i] {
			t.Errorf("sample %d: %g", i, v)
		}
	}
	if in[1] != 5 {
		t.Error("the input was changed")
	}
}
