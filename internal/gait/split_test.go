package gait

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/standin"
	"plumbstride/internal/track"
)

// Somebody walks and then runs in one clip, or the other way round: the
// running is measured, the walking said.
func TestWalkingAndRunningInOneClip(t *testing.T) {
	walk, run := standin.Walker(), standin.DefaultRunner()
	cam := standin.DefaultCamera()
	cam.NoisePx = 1
	rng := rand.New(rand.NewPCG(5, 6))
	film := func(r standin.Runner, seconds float64) (form.Track, standin.Truth) {
		tr, truth, err := standin.Track(r, cam, seconds, rng)
		if err != nil {
			t.Fatal(err)
		}
		return tr, truth
	}
	w, _ := film(walk, 5)
	r, truth := film(run, 6)
	join := func(a, b form.Track) form.Track {
		out := a
		out.Frames = append([]form.Frame(nil), a.Frames...)
		start := a.Frames[len(a.Frames)-1].Time + 1/a.RateHz
		for _, f := range b.Frames {
			f.Time += start
			out.Frames = append(out.Frames, f)
		}
		return out
	}
	cadence, _ := truth.Value("cadence", "steps/min", form.Both)
	for name, tr := range map[string]form.Track{"walk, run": join(w, r), "run, walk": join(r, w)} {
		g, err := Analyse(track.Smooth(tr), Facts{HeightM: run.HeightM})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		first, last := g.Motion.Times[0], g.Motion.Times[len(g.Motion.Times)-1]
		t.Logf("%s: %.2f to %.2f s of %.1f, cadence %.2f (truth %.2f), speed %.2f", name, first, last, tr.Frames[len(tr.Frames)-1].Time, 120/g.StrideS, cadence.Value, g.SeenSpeedMS)
		low, high := 5.0, 11.0
		if strings.HasPrefix(name, "run") {
			low, high = 0, 6
		}
		if first < low-0.3 || last > high+0.3 || last-first < 4 {
			t.Errorf("%s: measured from %.2f to %.2f s; the running is from %g to %g", name, first, last, low, high)
		}
		if math.Abs(120/g.StrideS-cadence.Value) > 1 {
			t.Errorf("%s: cadence %.2f, truth %.2f", name, 120/g.StrideS, cadence.Value)
		}
		if !strings.Contains(strings.Join(g.Notes, " "), "walked") {
			t.Errorf("%s: the walking isn't said: %q", name, g.Notes)
		}
	}
	if _, err := Analyse(track.Smooth(w), Facts{HeightM: run.HeightM}); !errors.Is(err, ErrWalking) {
		t.Errorf("a walk alone: %v", err)
	}
	g, err := Analyse(track.Smooth(r), Facts{HeightM: run.HeightM})
	if err != nil || len(g.Motion.Times) != len(r.Frames) {
		t.Errorf("a run alone: %v", err)
	}
}
