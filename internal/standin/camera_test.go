package standin

import (
	"math"
	"math/rand/v2"
	"testing"

	"plumbstride/internal/form"
)

// Projections computed by hand: a picture 720 high with a field of view of
// 2·atan(0.3) has a focal length of 360/0.3 = 1200 px; at 4 m, 1 m is 300 px.
func TestProjection(t *testing.T) {
	flat := DefaultCamera()
	flat.DistanceM, flat.HeightM, flat.AimYM = 4, 1, 1
	flat.FOVDeg = deg(2 * math.Atan(0.3))
	with := func(change func(*Camera)) Camera { c := flat; change(&c); return c }
	sin3, cos3 := math.Sincos(rad(3))
	for _, c := range []struct {
		what        string
		cam         Camera
		at          Vec3
		x, y, depth float64
	}{
		{"aim", flat, Vec3{0, 1, 0}, 640, 360, 4},
		{"a metre up", flat, Vec3{0, 2, 0}, 640, 60, 4},
		{"a metre ahead", flat, Vec3{1, 1, 0}, 940, 360, 4},
		{"a metre nearer is 4/3 as large", flat, Vec3{1, 1, 1}, 1040, 360, 3},
		{"facing left, ahead is left", with(func(c *Camera) { c.Facing = form.Left }), Vec3{1, 1, 0}, 340, 360, 4},
		{"facing left, the left side is near", with(func(c *Camera) { c.Facing = form.Left }), Vec3{1, 1, -1}, 240, 360, 3},
		{"rolled 3°, the scene turns clockwise", with(func(c *Camera) { c.RollDeg = 3 }), Vec3{0, 2, 0}, 640 + 300*sin3, 360 - 300*cos3, 4},
		{"from the front, the right side is left", with(func(c *Camera) { c.View = form.ViewFront }), Vec3{0, 1, 1}, 340, 360, 4},
		{"from the back, the right side is right", with(func(c *Camera) { c.View = form.ViewBack }), Vec3{0, 1, 1}, 940, 360, 4},
		// 90° off side-on is the front.
		{"yaw 90°", with(func(c *Camera) { c.YawDeg = 90 }), Vec3{0, 1, 1}, 340, 360, 4},
		{"yaw 90° facing left", with(func(c *Camera) { c.YawDeg, c.Facing = 90, form.Left }), Vec3{0, 1, 1}, 340, 360, 4},
		// Eye 0.5 m over the aim at 4 m: the axis goes down by atan(1/8).
		{"from above", with(func(c *Camera) { c.HeightM = 1.5 }), Vec3{0, 1, 0}, 640, 360, math.Hypot(4, 0.5)},
	} {
		lens := c.cam.Lens()
		x, y, depth := lens.Project(c.at)
		near(t, c.what+", x", x, c.x, 1e-9)
		near(t, c.what+", y", y, c.y, 1e-9)
		near(t, c.what+", depth", depth, c.depth, 1e-9)
	}
	lens := flat.Lens()
	if x, _, depth := lens.Project(Vec3{0, 1, 5}); depth >= 0 || !math.IsNaN(x) {
		t.Errorf("behind the camera: x %g, depth %g", x, depth)
	}
}

// A runner who passes a still camera comes through the middle half-way.
func TestPassing(t *testing.T) {
	r := DefaultRunner()
	r.Treadmill = false
	cam := DefaultCamera().Passing(r, 2)
	tr, _, err := Track(r, cam, 2, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range tr.Frames {
		if hip := f.Spot(form.Hip, form.Right); math.Abs(f.Time-1) < 1e-9 {
			near(t, "hip half-way", hip.X, 640, 30)
		}
	}
	if tr.Frames[0].Spot(form.Hip, form.Right).Seen() {
		t.Error("the runner is in the picture from the start")
	}
}

// Noise, gaps and the clock have the sizes that were asked for.
func TestFlaws(t *testing.T) {
	cam := DefaultCamera()
	clean, _, err := Track(DefaultRunner(), cam, 10, nil)
	if err != nil {
		t.Fatal(err)
	}
	cam.NoisePx, cam.NoiseMemory, cam.Dropout = 2, 0.4, 0.05
	flawed, _, err := Track(DefaultRunner(), cam, 10, rand.New(rand.NewPCG(1, 1)))
	if err != nil {
		t.Fatal(err)
	}
	var sq, product, last float64
	var seen, missing, pairs int
	for j := range form.Joint(form.NumJoints) {
		known := false
		for i := range flawed.Frames {
			s, c := flawed.Frames[i].Spots[j], clean.Frames[i].Spots[j]
			if !s.Seen() {
				missing, known = missing+1, false
				continue
			}
			d := s.X - c.X
			if known {
				product, pairs = product+d*last, pairs+1
			}
			sq, seen, last, known = sq+d*d, seen+1, d, true
		}
	}
	near(t, "noise", math.Sqrt(sq/float64(seen)), 2, 0.06)
	near(t, "memory", product/float64(pairs)/4, 0.4, 0.03)
	near(t, "gaps", float64(missing)/float64(seen+missing), 0.05, 0.008)

	cam.RateHz, cam.TimeJitterS, cam.DropFrames, cam.DuplicateFrames = 100, 0.001, 0.1, 0.2
	stamps := cam.Stamps(50, rand.New(rand.NewPCG(2, 2)))
	near(t, "frames left", float64(len(stamps)), 4500, 80)
	again, jitter := 0, 0.0
	for i, s := range stamps {
		if i > 0 && s.Time <= stamps[i-1].Time {
			t.Fatalf("frame %d is not after the one before", i)
		}
		if s.Taken != s.Time {
			again++
		}
		jitter += math.Pow(math.Remainder(s.Time, 0.01), 2)
	}
	near(t, "shown twice", float64(again)/float64(len(stamps)), 0.2, 0.025)
	near(t, "jitter", math.Sqrt(jitter/float64(len(stamps))), 0.001, 1e-4)
	if n := len(DefaultCamera().Stamps(2, nil)); n != 120 {
		t.Errorf("2 s at 60 Hz are %d frames", n)
	}
}

// A hidden joint is less sure than one in sight.
func TestConfidence(t *testing.T) {
	tr, _, err := Track(DefaultRunner(), DefaultCamera(), 2, nil)
	if err != nil {
		t.Fatal(err)
	}
	var nearKnee, farHip float64
	for _, f := range tr.Frames {
		nearKnee += f.Spot(form.Knee, form.Right).Confidence / float64(len(tr.Frames))
		farHip += f.Spot(form.Hip, form.Left).Confidence / float64(len(tr.Frames))
	}
	if nearKnee < 0.9 || farHip > 0.7 {
		t.Errorf("near knee %.2f, far hip %.2f", nearKnee, farHip)
	}
}

// Cameras that can't be are refused.
func TestImpossibleCameras(t *testing.T) {
	for name, change := range map[string]func(*Camera){
		"no view":     func(c *Camera) { c.View = "" },
		"no facing":   func(c *Camera) { c.Facing = form.Both },
		"no distance": func(c *Camera) { c.DistanceM = 0 },
		"no picture":  func(c *Camera) { c.Width = 0 },
		"no rate":     func(c *Camera) { c.RateHz = math.NaN() },
		"no lens":     func(c *Camera) { c.FOVDeg = 0 },
	} {
		cam := DefaultCamera()
		change(&cam)
		if _, _, err := Track(DefaultRunner(), cam, 1, nil); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func BenchmarkTrack(b *testing.B) {
	m := mustMove(b, DefaultRunner(), 10, nil)
	cam := DefaultCamera()
	rng := rand.New(rand.NewPCG(1, 2))
	for b.Loop() {
		m.Track(cam, rng)
	}
}
