package pose

import (
	"context"
	"errors"
	"math"
	"testing"

	"plumbstride/internal/form"
)

// find runs Find on a stage and checks what holds for every clip.
func find(t *testing.T, s *stage, o Options) *Result {
	t.Helper()
	done := 0
	o.Progress = func(n int) {
		if n != done+1 {
			t.Errorf("progress went from %d to %d", done, n)
		}
		done = n
	}
	r, err := Find(context.Background(), s, s, s.frames, o)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Track.Frames) != s.frames || len(r.Net) != s.frames || len(r.Regions) != s.frames || len(r.Depth) != s.frames || done != s.frames {
		t.Fatalf("%d frames gave %d in the track, progress to %d", s.frames, len(r.Track.Frames), done)
	}
	missing := 0
	for i, f := range r.Track.Frames {
		if want := float64(i) / s.fps; f.Time != want || r.Index[i] != i {
			t.Fatalf("frame %d has time %.3f and index %d", i, f.Time, r.Index[i])
		}
		if !f.Spots[0].Seen() {
			missing++
		}
		if f.Spots[0].Seen() != (r.Net[i] != "") {
			t.Errorf("frame %d is seen: %t, but its network is %q", i, f.Spots[0].Seen(), r.Net[i])
		}
	}
	if missing != r.NoPersonFrames {
		t.Errorf("%d frames without the runner, %d said", missing, r.NoPersonFrames)
	}
	if s.out != 0 {
		t.Errorf("%d frames were not given back", s.out)
	}
	if s.most > mostPending+2 {
		t.Errorf("%d frames were held at a time", s.most)
	}
	if s.opened.Load() != s.closed.Load() {
		t.Errorf("%d sessions opened, %d closed", s.opened.Load(), s.closed.Load())
	}
	return r
}

// follows checks that the track is one actor's: where it is seen, its hips
// are at the actor's centre, and it is seen in at least a share of frames.
func follows(t *testing.T, r *Result, a actor, least float64) {
	t.Helper()
	seen := 0
	for i := range r.Track.Frames {
		f := &r.Track.Frames[i]
		hip := f.Spot(form.Hip, form.Left)
		if !hip.Seen() {
			continue
		}
		seen++
		x, y := a.at(f.Time)
		// Behind somebody, a part of the block is hidden.
		if math.Abs(hip.X-x) > 0.15*a.tall || math.Abs(hip.Y-y) > 0.06*a.tall {
			t.Errorf("frame %d: the hip is at %.0f, %.0f, the runner at %.0f, %.0f", i, hip.X, hip.Y, x, y)
		}
	}
	if share := float64(seen) / float64(len(r.Track.Frames)); share < least {
		t.Errorf("the runner was seen in %.2f of the frames, want %.2f", share, least)
	}
}

func newStage(seconds float64, actors ...actor) *stage {
	return &stage{width: 640, height: 360, fps: 30, frames: int(seconds * 30), actors: actors}
}

var theRunner = actor{grey: 60, tall: 170, at: func(t float64) (float64, float64) {
	return 320 + 5*math.Sin(t), 180 + 6*math.Sin(2*math.Pi*2.8*t)
}, stride: running}

func TestFindOneRunner(t *testing.T) {
	r := find(t, newStage(3, theRunner), Options{})
	follows(t, r, theRunner, 1)
	if r.Persons != 1 || r.NoPersonFrames != 0 || r.CutOff.Any != 0 {
		t.Errorf("persons %d, frames without %d, cut off %+v", r.Persons, r.NoPersonFrames, r.CutOff)
	}
	if r.Track.Network != "full" || r.Net[5] != "full" || math.Abs(r.Track.RateHz-30) > 1e-6 || r.Track.Width != 640 {
		t.Errorf("network %q, %q, rate %.2f, width %d", r.Track.Network, r.Net[5], r.Track.RateHz, r.Track.Width)
	}
}

func TestFindRunnerPassing(t *testing.T) {
	passing := theRunner
	passing.at = func(t float64) (float64, float64) { return 80 + 240*t, 180 }
	r := find(t, newStage(2, passing), Options{})
	follows(t, r, passing, 1)
	leaving := theRunner
	leaving.at = func(t float64) (float64, float64) { return 320 + 300*t, 180 }
	r = find(t, newStage(2, leaving), Options{})
	follows(t, r, leaving, 0.4)
	if r.NoPersonFrames == 0 {
		t.Error("the runner left, but no frames are without them")
	}
}

func TestFindChoosesTheRunner(t *testing.T) {
	bystander := func(x, tall float64) actor { return actor{grey: 120, tall: tall, at: still(x, 175)} }
	crossing := actor{grey: 120, tall: 230, stride: walking, at: func(t float64) (float64, float64) { return 30 + 130*t, 175 }}
	fast := crossing
	fast.at = func(t float64) (float64, float64) { return 640 - 300*t, 175 }
	turning := crossing
	turning.at = func(t float64) (float64, float64) { return 30 + math.Min(280, 130*t), 175 } // stops before the runner
	late := theRunner
	late.seen = func(t float64) bool { return t > 1.5 }
	beside := actor{grey: 120, tall: 150, stride: running, at: still(560, 180)}
	tests := []struct {
		name    string
		seconds float64
		actors  []actor // the runner first or last: behind or in front
		runner  actor
		least   float64
		persons int
	}{
		{"larger and nearer bystander", 3, []actor{theRunner, bystander(520, 250)}, theRunner, 1, 2},
		{"bystander in the middle", 3, []actor{withPlace(theRunner, 150), bystander(330, 200)}, withPlace(theRunner, 150), 1, 2},
		{"passes in front", 4.5, []actor{theRunner, crossing}, theRunner, 0.75, 2},
		{"passes in front, fast", 3, []actor{theRunner, fast}, theRunner, 0.75, 2},
		{"passes behind", 4.5, []actor{crossing, theRunner}, theRunner, 0.95, 2},
		{"stops behind", 4.5, []actor{turning, theRunner}, theRunner, 0.95, 2},
		{"runner comes late", 5, []actor{late, bystander(520, 250)}, late, 0.6, 2},
		{"two run, one further off", 3, []actor{theRunner, beside}, theRunner, 1, 2},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := find(t, newStage(tt.seconds, tt.actors...), Options{})
			follows(t, r, tt.runner, tt.least)
			if r.Persons != tt.persons {
				t.Errorf("%d people followed, want %d", r.Persons, tt.persons)
			}
		})
	}
}

func withPlace(a actor, x float64) actor {
	at := a.at
	a.at = func(t float64) (float64, float64) {
		dx, y := at(t)
		return x + dx - 320, y
	}
	return a
}

// A runner hidden for more than a second is the same person afterwards.
func TestFindRunnerAgain(t *testing.T) {
	hidden := theRunner
	hidden.seen = func(t float64) bool { return t < 1.5 || t > 3 }
	r := find(t, newStage(5, hidden), Options{})
	follows(t, r, hidden, 0.6)
	if r.Persons != 1 {
		t.Errorf("%d people followed, want 1", r.Persons)
	}
	for i, f := range r.Track.Frames {
		if f.Time > 1.55 && f.Time < 2.95 && f.Spots[0].Seen() {
			t.Errorf("frame %d shows the hidden runner", i)
		}
	}
}

func TestFindScales(t *testing.T) {
	s := newStage(2, theRunner)
	r, err := Find(context.Background(), s, scaled{s, 2.5}, 0, Options{Sessions: 1})
	if err != nil {
		t.Fatal(err)
	}
	x, y := theRunner.at(r.Track.Frames[30].Time)
	hip := r.Track.Frames[30].Spot(form.Hip, form.Left)
	if math.Abs(hip.X-2.5*x) > 5 || math.Abs(hip.Y-2.5*y) > 5 || r.Track.Width != 1600 || r.Track.Height != 900 {
		t.Errorf("hip at %.0f, %.0f of %d × %d, want %.0f, %.0f of 1600 × 900", hip.X, hip.Y, r.Track.Width, r.Track.Height, 2.5*x, 2.5*y)
	}
}

func TestFindNobody(t *testing.T) {
	for _, s := range []*stage{newStage(2), newStage(0, theRunner)} {
		_, err := Find(context.Background(), s, s, 0, Options{})
		if form.CodeOf(err) != form.CodeClip {
			t.Errorf("%d frames with nobody: %v, want an error about the clip", s.frames, err)
		}
	}
}

func TestFindFails(t *testing.T) {
	for _, o := range []Options{{Follow: "absent"}, {Measure: "absent"}} {
		s := newStage(2, theRunner)
		if _, err := Find(context.Background(), s, s, 0, o); err == nil {
			t.Errorf("%+v: no error", o)
		}
		if s.opened.Load() != s.closed.Load() || s.out != 0 {
			t.Errorf("%+v: %d sessions left open, %d frames kept", o, s.opened.Load()-s.closed.Load(), s.out)
		}
	}
	s := newStage(3, theRunner)
	s.failAfter = 20
	if _, err := Find(context.Background(), s, s, 0, Options{}); err == nil {
		t.Error("a network broke and nobody said so")
	}
	ctx, cancel := context.WithCancelCause(context.Background())
	why := errors.New("the coach gave up")
	s = newStage(3, theRunner)
	_, err := Find(ctx, s, s, 0, Options{Progress: func(done int) {
		if done == 10 {
			cancel(why)
		}
	}})
	if !errors.Is(err, why) {
		t.Errorf("stopped after ten frames: %v, want %v", err, why)
	}
}

func TestRefine(t *testing.T) {
	s := newStage(2, theRunner)
	r := find(t, s, Options{})
	before := r.Track.Frames[20]
	chosen := []int{20, 21, 40, 20}
	better, err := Refine(context.Background(), s, r, chosen, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if r.Track.Frames[20] != before || r.Net[20] != "full" {
		t.Error("the result given in was changed")
	}
	for i := range better.Track.Frames {
		refined := i == 20 || i == 21 || i == 40
		moved := better.Track.Frames[i].Spot(form.Hip, form.Left).X - r.Track.Frames[i].Spot(form.Hip, form.Left).X
		if refined != (better.Net[i] == "heavy") || refined != (moved > 1) || !refined && moved != 0 {
			t.Errorf("frame %d: network %q, moved by %.2f px", i, better.Net[i], moved)
		}
	}
	if _, err := Refine(context.Background(), s, r, []int{60}, Options{}); err == nil {
		t.Error("a frame that is not there was taken")
	}
	r.Forget()
	if same, err := Refine(context.Background(), s, r, chosen, Options{}); err != nil || same.Net[20] != "full" {
		t.Errorf("with the crops gone: network %q, %v", same.Net[20], err)
	}
}

// With room for ten crops all frames are measured all the same, and ten can
// be looked at again.
func TestFindWithLittleMemory(t *testing.T) {
	s := newStage(2, theRunner)
	r := find(t, s, Options{KeepBytes: 10 * newPicture(cropSize).bytes()})
	follows(t, r, theRunner, 1)
	kept := 0
	for _, c := range r.crops {
		if c.Kept() {
			kept++
		}
	}
	if kept != 10 {
		t.Errorf("%d crops kept, want 10", kept)
	}
}
