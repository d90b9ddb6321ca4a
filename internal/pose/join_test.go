package pose

import (
	"context"
	"math"
	"testing"

	"plumbstride/internal/form"
)

// legsBody makes a sure body with its left leg at x and its right at y.
func legsBody(left, right float64) body {
	b := body{presence: 0.9}
	for i := range b.points {
		b.points[i] = landmark{x: 0.5, y: 0.5, visible: 0.9, present: 0.9, peak: 0.9}
	}
	for i := legFirst; i <= legLast; i += 2 {
		b.points[i].x, b.points[i+1].x = left, right
	}
	return b
}

func TestJoin(t *testing.T) {
	ankle := landmarkOf[form.At(form.Ankle, form.Left)]
	a, b := legsBody(0.30, 0.70), legsBody(0.32, 0.70)
	if got := join(a, b).points[ankle].x; math.Abs(got-0.31) > 1e-12 {
		t.Errorf("two looks at 0.30 and 0.32 give %.3f, want their mean", got)
	}
	// Legs the other way round: the surer look says which is which.
	b = legsBody(0.70, 0.32)
	for i := legFirst; i <= legLast; i++ {
		b.points[i].visible = 0.3
	}
	for _, got := range []body{join(a, b), join(b, a)} {
		if l, r := got.points[ankle].x, got.points[ankle+1].x; math.Abs(l-0.31) > 1e-12 || math.Abs(r-0.70) > 1e-12 {
			t.Errorf("exchanged legs give %.3f and %.3f, want 0.31 and 0.70", l, r)
		}
	}
	// One point far off: the surer look has it, and no mean is made.
	b = legsBody(0.30, 0.70)
	b.points[ankle].x, b.points[ankle].peak = 0.45, 0.2
	for _, got := range []body{join(a, b), join(b, a)} {
		if x := got.points[ankle].x; x != 0.30 {
			t.Errorf("a stray point gives %.3f, want 0.30", x)
		}
	}
	// Nobody in one look.
	b.presence = 0.1
	for _, got := range []body{join(a, b), join(b, a)} {
		if got.presence != a.presence || got.points[ankle].x != 0.30 {
			t.Errorf("with nobody in one look: presence %.2f", got.presence)
		}
	}
}

func TestMirrored(t *testing.T) {
	b := body{}
	for i := range b.points {
		b.points[i].x, b.points[i].y = float64(i)/64, 0.3
		b.world[i] = [3]float64{float64(i), 1, 2}
	}
	m := b.mirrored()
	// Left and right eye are 2 and 5, left and right heel 29 and 30.
	for i, j := range map[int]int{0: 0, 2: 5, 5: 2, 7: 8, 29: 30, 30: 29, hipCentre: hipCentre, bodySize: bodySize} {
		if got, want := m.points[i].x, 1-float64(j)/64; got != want || m.world[i] != [3]float64{-float64(j), 1, 2} {
			t.Errorf("landmark %d is at %.2f (%v), want that of %d mirrored, %.2f", i, got, m.world[i], j, want)
		}
	}
	if again := m.mirrored(); again != b {
		t.Error("twice mirrored is not the same")
	}
}

func TestFindTwice(t *testing.T) {
	s := newStage(1, theRunner)
	once := find(t, s, Options{})
	s = newStage(1, theRunner)
	twice := find(t, s, Options{Twice: true})
	follows(t, twice, theRunner, 1)
	for i := range once.Track.Frames {
		a, b := once.Track.Frames[i].Spots[0], twice.Track.Frames[i].Spots[0]
		if math.Hypot(a.X-b.X, a.Y-b.Y) > 0.5 {
			t.Errorf("frame %d: the nose is at %.2f, %.2f, looked at twice at %.2f, %.2f", i, a.X, a.Y, b.X, b.Y)
		}
	}
	better, err := Refine(context.Background(), s, once, []int{10}, Options{Twice: true})
	if err != nil {
		t.Fatal(err)
	}
	// "heavy" sees all 4 of 256 pixels to the right; in the mirror image that
	// is to the left, and the mean is where the runner is.
	a, b := once.Track.Frames[10].Spots[0], better.Track.Frames[10].Spots[0]
	if math.Abs(a.X-b.X) > 0.5 || better.Net[10] != "heavy" {
		t.Errorf("looked at twice by %q, the nose is at %.2f, want %.2f", better.Net[10], b.X, a.X)
	}
}
