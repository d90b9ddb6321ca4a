package standin

import (
	"math"
	"math/rand/v2"
	"testing"

	"plumbstride/internal/form"
)

// A camera that follows keeps the runner near the middle, one that doesn't
// sees them cross the picture; a camera that stands still is the same lens at
// all times.
func TestCameraFollowsTheRunner(t *testing.T) {
	r := DefaultRunner()
	r.Treadmill = false
	cam := DefaultCamera().Passing(r, 2)
	if cam.LensAt(1.3, 2) != cam.Lens() {
		t.Error("a camera on a tripod moves")
	}
	across := func(cam Camera) float64 {
		tr, _, err := Track(r, cam, 2, nil)
		if err != nil {
			t.Fatal(err)
		}
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, f := range tr.Frames {
			if s := f.Spot(form.Hip, form.Right); s.Seen() {
				lo, hi = math.Min(lo, s.X), math.Max(hi, s.X)
			}
		}
		return hi - lo
	}
	still := across(cam)
	cam.Sway.Follow = 1
	if followed := across(cam); still < 700 || followed > 100 {
		t.Errorf("the runner crosses %.0f px of a still picture and %.0f px of one that follows", still, followed)
	}
}

// The shake has the standard deviation asked for, over a long time.
func TestShakeIsAsStated(t *testing.T) {
	s := Sway{ShakeDeg: 1, Seed: 4}
	var sum, sq float64
	const n = 20000
	for i := range n {
		v := s.waves(float64(i) / 50)[0]
		sum += v / n
		sq += v * v / n
	}
	if math.Abs(sum) > 0.1 || math.Abs(math.Sqrt(sq)-1) > 0.1 {
		t.Errorf("mean %.3f, standard deviation %.3f; want 0 and 1", sum, math.Sqrt(sq))
	}
}

// Uneven ground lifts the whole runner: angles and distances stay what they
// were, the feet stand still on different heights.
func TestUnevenGroundChangesNoAngle(t *testing.T) {
	r := DefaultRunner()
	r.Treadmill, r.StepSpread = false, 0
	level, err := NewMotion(r, 3, rand.New(rand.NewPCG(1, 1)))
	if err != nil {
		t.Fatal(err)
	}
	r.UnevenM = 0.02
	rough, err := NewMotion(r, 3, rand.New(rand.NewPCG(1, 1)))
	if err != nil {
		t.Fatal(err)
	}
	heights := map[float64]bool{}
	for at := 0.0; at < 3; at += 0.01 {
		a, b := level.Pose(at), rough.Pose(at)
		d := b.Mass.Y - a.Mass.Y
		for leg := range a.Limbs {
			p, q := a.Limbs[leg].Toe, b.Limbs[leg].Toe
			if math.Abs(q.Y-p.Y-d) > 1e-9 || math.Abs(q.X-p.X) > 1e-9 {
				t.Fatalf("at %.2f s the toe is not moved with the body", at)
			}
			if b.Limbs[leg].Down {
				heights[math.Round(d*1e6)] = true
			}
		}
	}
	if len(heights) < 6 {
		t.Errorf("only %d heights of the ground", len(heights))
	}
}

// On the spot: the feet stay under the body, the thighs rise as planned.
func TestOnTheSpot(t *testing.T) {
	for name, r := range map[string]Runner{"running": OnTheSpot(), "marching": Marcher()} {
		m, err := NewMotion(r, 4, nil)
		if err != nil {
			t.Fatal(name, err)
		}
		truth := m.Truth(form.Right)
		lift, ok := truth.Value("knee_lift", "deg", form.Both)
		if !ok || math.Abs(lift.Value-r.ThighLiftDeg) > 2 {
			t.Errorf("%s: the thigh rises to %.1f°, planned %.1f°", name, lift.Value, r.ThighLiftDeg)
		}
		first := m.Pose(0).Pelvis.X
		for at := 0.0; at < 4; at += 0.05 {
			if p := m.Pose(at); math.Abs(p.Pelvis.X-first) > 0.1 {
				t.Fatalf("%s: the hips go %.2f m", name, p.Pelvis.X-first)
			}
		}
	}
}

func TestRandomPassesAndSpotsCanBeBuilt(t *testing.T) {
	for seed := range uint64(12) {
		rng := rand.New(rand.NewPCG(seed, 1))
		r, cam, seconds := RandomPass(rng, seed%2 == 0, seed%3 == 0)
		if _, _, err := Track(r, cam, seconds, rng); err != nil {
			t.Errorf("pass %d: %v", seed, err)
		}
		r, cam = RandomOnTheSpot(rng)
		if _, _, err := Track(r, cam, 4, rng); err != nil {
			t.Errorf("spot %d: %v", seed, err)
		}
	}
}
