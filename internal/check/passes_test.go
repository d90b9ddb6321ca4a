package check

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/standin"
)

// passer is a runner over ground with little spread, and a camera with a view
// of some seven metres of their path.
func passer() (standin.Runner, standin.Camera, float64) {
	r := standin.DefaultRunner()
	r.Treadmill, r.StepSpread = false, 0.3
	cam := standin.DefaultCamera()
	cam.Width, cam.Height = 1920, 1080
	cam.DistanceM, cam.FOVDeg, cam.HeightM, cam.NoisePx = 6.5, 36, 1.1, 1
	return r, cam, 2.6
}

// pass films one pass; a change may spoil it.
func pass(t testing.TB, facing form.Side, change func(*standin.Runner, *standin.Camera)) (form.Track, standin.Truth) {
	r, cam, seconds := passer()
	cam.Facing = facing
	if change != nil {
		change(&r, &cam)
	}
	cam = cam.Passing(r, seconds)
	rng := rand.New(rand.NewPCG(7, uint64(facing)))
	tr, truth, err := standin.Track(r, cam, seconds, rng)
	if err != nil {
		t.Fatal(err)
	}
	if !cam.Sway.Still() {
		tr = layTrue(tr, r, cam, seconds, 0.02, rng)
	}
	return tr, truth
}

// join puts passes after each other, with seconds of an empty picture between.
func join(parts ...form.Track) form.Track {
	out := parts[0]
	out.Facing, out.Frames = form.Both, nil
	at := 0.0
	for _, p := range parts {
		for _, f := range p.Frames {
			f.Time += at
			out.Frames = append(out.Frames, f)
		}
		at = out.Frames[len(out.Frames)-1].Time
		for range 60 {
			at += 1 / p.RateHz
			out.Frames = append(out.Frames, form.Frame{Time: at})
		}
	}
	return out
}

// There and back: both passes are found, each side is measured where it is the
// near one, more steps make the times surer, and both sides' truths hold.
func TestPassesThereAndBack(t *testing.T) {
	right, truth := pass(t, form.Right, nil)
	left, back := pass(t, form.Left, nil)
	one, err := checkTrack(t, right, Ask{HeightM: 1.75})
	if err != nil {
		t.Fatal(err)
	}
	o, err := checkTrack(t, join(right, left, right, left), Ask{HeightM: 1.75})
	if err != nil {
		t.Fatal(err)
	}
	if n := len(o.Card.Clip.Passes); n != 4 {
		t.Fatalf("%d passes found of 4", n)
	}
	if !strings.Contains(strings.Join(o.Card.Notes, " "), "2 to the left and 2 to the right") {
		t.Errorf("notes %q", o.Card.Notes)
	}
	a, b := value(t, one, "cadence", "steps/min", form.Both), value(t, o, "cadence", "steps/min", form.Both)
	if b.N < 3*a.N || b.SD > a.SD {
		t.Errorf("cadence of one pass ± %.2f (n %d), of four ± %.2f (n %d)", a.SD, a.N, b.SD, b.N)
	}
	for _, m := range o.Card.Measures {
		want, ok := truth.Value(m.Name, m.Unit, m.Side)
		if m.Side == form.Left {
			want, ok = back.Value(m.Name, m.Unit, m.Side)
		}
		if strings.HasSuffix(m.Name, "_time") || m.Name == "duty_factor" || !ok {
			continue
		}
		if slack := 0.3 * m.SD; want.Value < m.Low-slack || want.Value > m.High+slack {
			t.Errorf("%s %s: %.2f (%.2f…%.2f), truth %.2f", m.Name, m.Side, m.Value, m.Low, m.High, want.Value)
		}
	}
}

// The other way: what was the right side is the left one.
func TestOtherWayMirrorsSides(t *testing.T) {
	tr, _ := pass(t, form.Right, nil)
	mirrored := each(tr, func(s *form.Spot) { s.X = float64(tr.Width) - s.X })
	mirrored.Facing = form.Left
	for i := range mirrored.Frames {
		f := &mirrored.Frames[i]
		for p := form.Eye; p <= form.Toe; p++ {
			l, r := form.At(p, form.Left), form.At(p, form.Right)
			f.Spots[l], f.Spots[r] = f.Spots[r], f.Spots[l]
		}
	}
	a, err := checkTrack(t, tr, Ask{HeightM: 1.75})
	if err != nil {
		t.Fatal(err)
	}
	b, err := checkTrack(t, mirrored, Ask{HeightM: 1.75})
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range a.Card.Measures {
		if o := value(t, b, m.Name, m.Unit, m.Side.Other()); math.Abs(m.Value-o.Value) > 0.05*m.SD+1e-6 {
			t.Errorf("%s %s: %.3f, the other way %.3f (sd %.3f)", m.Name, m.Side, m.Value, o.Value, m.SD)
		}
	}
}

// A camera that follows, or that a hand holds, changes nothing beyond the
// interval of what a still one sees.
func TestMovingCameraChangesNothing(t *testing.T) {
	still, _ := pass(t, form.Right, nil)
	a, err := checkTrack(t, still, Ask{HeightM: 1.75})
	if err != nil {
		t.Fatal(err)
	}
	for name, sway := range map[string]standin.Sway{
		"follows": {Follow: 1}, "held by hand": {ShakeDeg: 0.8, ShakeM: 0.01, Seed: 2}, "both": {Follow: 0.9, ShakeDeg: 0.8, ShakeM: 0.01, Seed: 2},
	} {
		t.Run(name, func(t *testing.T) {
			tr, _ := pass(t, form.Right, func(_ *standin.Runner, c *standin.Camera) { c.Sway = sway })
			o, err := checkTrack(t, tr, Ask{HeightM: 1.75})
			if err != nil {
				t.Fatal(err)
			}
			for _, m := range a.Card.Measures {
				if b := value(t, o, m.Name, m.Unit, m.Side); b.Value < m.Low-0.3*m.SD || b.Value > m.High+0.3*m.SD {
					t.Errorf("%s %s: still %.2f (%.2f…%.2f), moving %.2f", m.Name, m.Side, m.Value, m.Low, m.High, b.Value)
				}
			}
		})
	}
}

func TestUnlikePassesAreSaid(t *testing.T) {
	slow, _ := pass(t, form.Right, nil)
	fast, _ := pass(t, form.Left, func(r *standin.Runner, _ *standin.Camera) {
		r.SpeedMS, r.LandingM = 3.5, standin.Even(0.24)
		r.BounceM = 0
	})
	o, err := checkTrack(t, join(slow, fast), Ask{HeightM: 1.75})
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(strings.Join(o.Card.Notes, " "), "unlike speeds") {
		t.Errorf("notes %q", o.Card.Notes)
	}
}

// A walk past the camera is called a walk; a walk among runs is left out, and
// said; somebody who walks up and then runs is measured where they run.
func TestWalkingPasses(t *testing.T) {
	_, cam, _ := passer()
	w := standin.Walker()
	w.Treadmill = false
	cam = cam.Passing(w, 5)
	walk, _, err := standin.Track(w, cam, 5, rand.New(rand.NewPCG(1, 1)))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := checkTrack(t, walk, Ask{HeightM: 1.75}); err == nil || !strings.Contains(err.Error(), "walking") {
		t.Errorf("a walk past the camera: %v", err)
	}
	run, truth := pass(t, form.Right, nil)
	o, err := checkTrack(t, join(walk, run), Ask{HeightM: 1.75})
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(strings.Join(o.Card.Notes, " "), "it is a walk") {
		t.Errorf("notes %q", o.Card.Notes)
	}
	want, _ := truth.Value("cadence", "", form.Both)
	if got := value(t, o, "cadence", "steps/min", form.Both); math.Abs(got.Value-want.Value) > 1.5 {
		t.Errorf("cadence %.1f, truth %.1f", got.Value, want.Value)
	}
	// Walk, then run on from the same place, without a break.
	mixed := walk
	mixed.Frames = nil
	for _, f := range walk.Frames {
		if h := f.Spot(form.Hip, form.Right); h.Seen() && h.X < 330 {
			mixed.Frames = append(mixed.Frames, f)
		}
	}
	end := mixed.Frames[len(mixed.Frames)-1].Time
	at := math.NaN()
	for _, f := range run.Frames {
		if h := f.Spot(form.Hip, form.Right); h.Seen() && h.X >= 330 {
			if math.IsNaN(at) {
				at = f.Time
			}
			f.Time += end - at + 1/run.RateHz
			mixed.Frames = append(mixed.Frames, f)
		}
	}
	o, err = checkTrack(t, mixed, Ask{HeightM: 1.75})
	if err != nil {
		t.Fatal(err)
	}
	if got := value(t, o, "cadence", "steps/min", form.Both); math.Abs(got.Value-want.Value) > 3 {
		t.Errorf("walked up, then ran: cadence %.1f, truth %.1f", got.Value, want.Value)
	}
	if got := value(t, o, "speed", "m/s", form.Both); math.Abs(got.Value-3) > 0.2 {
		t.Errorf("walked up, then ran: speed %.2f m/s, truth 3", got.Value)
	}
}

// Half the body outside the picture's edge, an empty picture in the middle,
// a pass of two steps: what is whole is used, or the reason is said.
func TestRunnerLeavesThePicture(t *testing.T) {
	run, truth := pass(t, form.Right, nil)
	gone := each(run, func(*form.Spot) {})
	for i := range gone.Frames {
		if at := gone.Frames[i].Time; at > 1.2 && at < 1.5 {
			gone.Frames[i].Spots = [form.NumJoints]form.Spot{}
		}
	}
	o, err := checkTrack(t, gone, Ask{HeightM: 1.75})
	if err != nil {
		t.Fatal(err)
	}
	out := 0
	for _, m := range o.Card.Measures {
		if want, ok := truth.Value(m.Name, m.Unit, m.Side); ok && (want.Value < m.Low || want.Value > m.High) {
			out++
			t.Logf("%s %s: %.2f (%.2f…%.2f), truth %.2f", m.Name, m.Side, m.Value, m.Low, m.High, want.Value)
		}
	}
	if out > 3 {
		t.Errorf("%d true values outside their intervals", out)
	}
	short := run
	short.Frames = run.Frames[:40]
	if _, err := checkTrack(t, short, Ask{HeightM: 1.75}); form.CodeOf(err) != form.CodeClip {
		t.Errorf("two steps: %v", err)
	}
}

// Points that the networks put beyond the picture's edge are not believed.
func TestEdgesCutPasses(t *testing.T) {
	run, _ := pass(t, form.Right, nil)
	parts := gait.Passes(run)
	if len(parts) != 1 {
		t.Fatalf("%d passes", len(parts))
	}
	for _, f := range parts[0].Frames {
		if f.Spot(form.Hip, form.Right).Seen() && !gait.Whole(&f, run.Width) {
			t.Errorf("a frame at %.2f s with the runner cut off is used", f.Time)
		}
	}
	still, _, _ := invented(t, nil)
	if got := gait.Passes(still); len(got) != 1 || len(got[0].Frames) != len(still.Frames) {
		t.Errorf("a runner on a treadmill makes %d passes", len(got))
	}
}
