package tempo

import (
	"fmt"
	"io"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// heard is one onset found in audio without knowledge of how it was made.
type heard struct {
	sample int64
	pitch  float64 // Hz, of the strongest sine in the sound's beginning
}

// listen finds onsets by the energy in a moving window of 2 ms: an onset is
// where it first exceeds a thousandth of full scale's energy after 40 ms
// below a third of that. The pitch is the strongest of a bank of Goertzel
// filters, 20 Hz apart, over the 40 ms from there.
func listen(pcm []int16) []heard {
	const window, hush = 88, 40 * SampleRate / 1000
	const loud = window * 1e-3 * math.MaxInt16 * math.MaxInt16
	var out []heard
	energy, below := 0.0, hush
	for i, v := range pcm {
		energy += float64(v) * float64(v)
		if i >= window {
			energy -= float64(pcm[i-window]) * float64(pcm[i-window])
		}
		switch {
		case energy < loud/3:
			below++
		case energy >= loud:
			if below >= hush {
				out = append(out, heard{int64(i), strongest(pcm[i:min(i+40*SampleRate/1000, len(pcm))])})
			}
			below = 0
		}
	}
	return out
}

func strongest(pcm []int16) (hz float64) {
	best := 0.0
	for f := 300.0; f < 4000; f += 20 {
		if p := goertzel(pcm, f); p > best {
			best, hz = p, f
		}
	}
	return hz
}

// goertzel is the power of one frequency (Goertzel 1958, doi 10.2307/2310304).
func goertzel(pcm []int16, hz float64) float64 {
	c := 2 * math.Cos(2*math.Pi*hz/SampleRate)
	var s1, s2 float64
	for _, v := range pcm {
		s1, s2 = float64(v)+c*s1-s2, s1
	}
	return s1*s1 + s2*s2 - c*s1*s2
}

func render(tb testing.TB, plan Plan) []int16 {
	tb.Helper()
	pcm := make([]int16, plan.Samples()+1)
	n, err := NewAudio(plan).Read(pcm)
	if err != nil || int64(n) != plan.Samples() {
		tb.Fatalf("read %d samples, %v; want %d", n, err, plan.Samples())
	}
	return pcm[:n]
}

// What is heard is what is scheduled: every step, in its place, left low and
// right high. The ear is late by the sound's own rise; the lag is the same
// to the sample for all steps of one side.
func TestWhatIsHeard(t *testing.T) {
	for _, tt := range []struct {
		name string
		ask  Ask
	}{
		{"steady", Ask{Target: 167_300, LengthMS: 4 * 60_000}},
		{"step-up", Ask{Own: 160_000, Target: 171_000, LengthMS: 4 * 60_000}},
		{"on-off", Ask{Target: 181_000, LengthMS: 3 * 60_000, Pattern: Pattern{Shape: OnOff, OnMS: 21_037, OffMS: 13_411}}},
		{"fading", Ask{Target: 174_000, LengthMS: 5 * 60_000, Pattern: Pattern{Shape: Fading, Count: 4, FirstPct: 100, LastPct: 10}}},
		{"ladder", Ask{Pattern: Pattern{Shape: Ladder, Rungs: []Cadence{150_000, 175_500, 230_000}, EachMS: 25_000}}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			plan, err := Make(tt.ask)
			if err != nil {
				t.Fatal(err)
			}
			var steps []heard
			for _, h := range listen(render(t, plan)) {
				if math.Abs(h.pitch-740) < 30 || math.Abs(h.pitch-1175) < 30 {
					steps = append(steps, h)
				}
			}
			lags := map[Sound][]int64{}
			i := 0
			for _, e := range plan.Events() {
				if e.Sound > CountRight {
					continue
				}
				if i == len(steps) {
					t.Fatalf("only %d steps are heard", i)
				}
				h := steps[i]
				i++
				if low := h.pitch < 900; low != (e.Sound == Left || e.Sound == CountLeft) {
					t.Fatalf("step %d is scheduled as %v and heard at %.0f Hz", i, e.Sound, h.pitch)
				}
				lags[e.Sound] = append(lags[e.Sound], h.sample-e.Sample)
			}
			if i != len(steps) {
				t.Errorf("%d steps are scheduled and %d heard", i, len(steps))
			}
			for s, lag := range lags {
				if low, high := slices.Min(lag), slices.Max(lag); low != high || low < 0 || high > 4*SampleRate/1000 {
					t.Errorf("%v is heard between %d and %d samples after its time", s, low, high)
				}
			}
		})
	}
}

// Over an hour nothing drifts: the last step is heard as late as the first.
func TestNoDriftInAnHour(t *testing.T) {
	if testing.Short() {
		t.Skip("an hour of sound is left out in -short")
	}
	plan, err := Make(Ask{Target: 163_700, LengthMS: 60 * 60_000})
	if err != nil {
		t.Fatal(err)
	}
	events := plan.Events()
	first, last := events[9], events[len(events)-2] // behind signal and count-in; before the end
	if first.Sound != last.Sound {
		last = events[len(events)-3]
	}
	near := excerpts(t, plan, first.Sample-5000, last.Sample-5000)
	if a, b := listen(near[0])[0].sample, listen(near[1])[0].sample; a != b {
		t.Errorf("lag %d samples at the start and %d after an hour", a, b)
	}
	want := float64(last.Sample-first.Sample) / SampleRate
	steps := math.Round(want * 163.7 / 60)
	if d := want - steps*60/163.7; math.Abs(d) > 1.0/SampleRate {
		t.Errorf("%v steps in %v s: off by %v s", steps, want, d)
	}
}

// excerpts reads a track through and keeps 10,000 samples from each place.
func excerpts(t *testing.T, plan Plan, places ...int64) [][]int16 {
	t.Helper()
	out := make([][]int16, len(places))
	buf := make([]int16, 10_000)
	audio, at := NewAudio(plan), int64(0)
	for i, place := range places {
		for at < place {
			n, err := audio.Read(buf[:min(int64(len(buf)), place-at)])
			if err != nil {
				t.Fatal(err)
			}
			at += int64(n)
		}
		n, err := audio.Read(buf)
		if err != nil || n != len(buf) {
			t.Fatal(n, err)
		}
		at += int64(n)
		out[i] = slices.Clone(buf)
	}
	return out
}

// The audio is the same however it is read, and has the plan's length.
func TestReadInAnyPieces(t *testing.T) {
	plan := Plan{Version: Version, Parts: []Part{
		{Kind: Chime, MS: 1500, Signal: Start}, {Kind: CountIn, MS: 1203, From: 200_000, To: 200_000},
		{Kind: Steps, MS: 2001, From: 200_000, To: 230_000}, {Kind: Quiet, MS: 700}, {Kind: Chime, MS: 1501, Signal: End},
	}}
	whole := render(t, plan)
	rapid.Check(t, func(t *rapid.T) {
		a := NewAudio(plan)
		var got []int16
		for {
			piece := make([]int16, rapid.IntRange(1, 70_000).Draw(t, "piece"))
			n, err := a.Read(piece)
			got = append(got, piece[:n]...)
			if err == io.EOF {
				break
			}
			if err != nil || n == 0 {
				t.Fatalf("%d, %v", n, err)
			}
		}
		if !slices.Equal(got, whole) {
			t.Fatal("the pieces are not the whole")
		}
	})
}

// The level: at most −3 dBFS, a soft beginning, no offset, an end at rest.
func TestSoundsAreGentle(t *testing.T) {
	for s, pcm := range voices() {
		peak, sum, steepest := 0.0, 0.0, 0.0
		for i, v := range pcm {
			peak = max(peak, math.Abs(float64(v)))
			sum += float64(v)
			if i > 0 && i < SampleRate/1000 {
				steepest = max(steepest, math.Abs(float64(v)-float64(pcm[i-1])))
			}
		}
		name := Sound(s).String()
		if db := 20 * math.Log10(peak/math.MaxInt16); db > -3 || db < -12 {
			t.Errorf("%s: peak %.2f dBFS", name, db)
		}
		if dc := sum / float64(len(pcm)) / peak; math.Abs(dc) > 0.005 {
			t.Errorf("%s: mean is %.4f of the peak", name, dc)
		}
		if pcm[0] != 0 || math.Abs(float64(pcm[len(pcm)-1])) > 8 {
			t.Errorf("%s begins at %d and ends at %d", name, pcm[0], pcm[len(pcm)-1])
		}
		if first := slices.Max(pcm[:SampleRate/2000]); float64(first) > peak/4 { // half a millisecond
			t.Errorf("%s has %d of %v within half a millisecond", name, first, peak)
		}
	}
}

// Left and right differ in pitch by more than a third (an interval of 5/4)
// and in timbre: the second-strongest sine lies elsewhere in relation to
// the first.
func TestSidesDiffer(t *testing.T) {
	v := voices()
	for _, pair := range [][2]Sound{{Left, Right}, {CountLeft, CountRight}} {
		l, r := strongest(v[pair[0]]), strongest(v[pair[1]])
		if r/l < 5.0/4 {
			t.Errorf("%v at %.0f Hz, %v at %.0f Hz", pair[0], l, pair[1], r)
		}
	}
	left, right := v[Left], v[Right]
	if goertzel(left, 1480)/goertzel(left, 740) < 0.05 {
		t.Error("left has no octave")
	}
	if goertzel(right, 2350)/goertzel(right, 1175) > 0.01 || goertzel(right, 3243)/goertzel(right, 1175) < 0.02 {
		t.Error("right rings like left")
	}
}

func TestAudioOfBadPlanPanics(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("no panic")
		}
	}()
	NewAudio(Plan{})
}

func BenchmarkRender20Minutes(b *testing.B) {
	plan, err := Make(Ask{Own: 160_000, Target: 176_000, LengthMS: 20 * 60_000})
	if err != nil {
		b.Fatal(err)
	}
	buf := make([]int16, 8192)
	b.SetBytes(2 * plan.Samples())
	b.ReportAllocs()
	for b.Loop() {
		for a := NewAudio(plan); ; {
			if _, err := a.Read(buf); err == io.EOF {
				break
			}
		}
	}
}

func ExamplePlan_Events() {
	plan, _ := Make(Ask{Target: 180_000, LengthMS: 60_000})
	for _, e := range plan.Events()[:3] {
		fmt.Println(e.Sample, e.Sound)
	}
	// Output:
	// 8820 start
	// 88200 count-left
	// 102900 count-right
}
