package standin

import (
	"fmt"
	"math"
	"math/rand/v2"

	"plumbstride/internal/form"
)

// Camera is where the invented runner is filmed from, and what goes wrong in
// the filming. The runner's middle stays at X = 0 on a treadmill.
type Camera struct {
	View form.View
	// Facing is the way the runner faces in the picture, side view only.
	Facing form.Side
	// DistanceM is level, from the lens to the line the runner runs on (side)
	// or to the runner's middle (front, back); HeightM is over the belt.
	DistanceM, HeightM float64
	// AimXM and AimYM are the place in the runner's plane that comes to the
	// middle of the picture.
	AimXM, AimYM float64
	// YawDeg is how far off its view the camera stands: a side view is seen a
	// little from the front (+) or the back (−), a front view from the
	// runner's right (+).
	YawDeg float64
	// RollDeg is how far the scene is turned clockwise in the picture.
	RollDeg       float64
	FOVDeg        float64 // vertical field of view
	Width, Height int
	RateHz        float64
	// Sway is how the camera moves: on its own, or along with the runner.
	Sway Sway

	// Flaws of a pose track. NoisePx is the standard deviation of each
	// coordinate; NoiseMemory (0…1) the part of one frame's error that stays
	// in the next.
	NoisePx, NoiseMemory float64
	// Dropout is the part of points that is missing, in runs of a few frames.
	Dropout float64

	// Flaws of the clock. TimeJitterS is the standard deviation of each
	// frame's time about its even place: the stamp is true, the rate is not
	// even. Of all frames, DropFrames are missing and DuplicateFrames show
	// the picture before once more.
	TimeJitterS, DropFrames, DuplicateFrames float64
}

// DefaultCamera stands 4 m to the side at hip height, 1280×720 at 60 Hz, the
// runner facing right.
func DefaultCamera() Camera {
	return Camera{
		View: form.ViewSide, Facing: form.Right, DistanceM: 4, HeightM: 0.95, AimYM: 0.92,
		FOVDeg: 33.4, Width: 1280, Height: 720, RateHz: 60,
	}
}

// Passing gives the camera that stands still while the runner passes it in
// the given time, in the middle of the picture half-way.
func (c Camera) Passing(r Runner, seconds float64) Camera {
	c.AimXM = r.SpeedMS * seconds / 2
	return c
}

// Near is the runner's side that is turned to the camera; Both where neither is.
func (c Camera) Near() form.Side {
	if c.View == form.ViewSide {
		return c.Facing
	}
	return form.Both
}

func (c Camera) check() error {
	switch {
	case c.View != form.ViewSide && c.View != form.ViewFront && c.View != form.ViewBack:
		return fmt.Errorf("invented camera: view %q is not side, front or back", c.View)
	case c.View == form.ViewSide && c.Facing != form.Left && c.Facing != form.Right:
		return fmt.Errorf("invented camera: in a side view the runner faces left or right, not %v", c.Facing)
	case !(c.DistanceM > 0.5 && c.DistanceM < 100):
		return fmt.Errorf("invented camera: distance %.3g m", c.DistanceM)
	case !(c.FOVDeg > 2 && c.FOVDeg < 120):
		return fmt.Errorf("invented camera: field of view %.3g°", c.FOVDeg)
	case c.Width < 16 || c.Height < 16 || c.Width > 8192 || c.Height > 8192:
		return fmt.Errorf("invented camera: picture of %d×%d", c.Width, c.Height)
	case !(c.RateHz >= 1 && c.RateHz <= 1000):
		return fmt.Errorf("invented camera: %.4g frames a second", c.RateHz)
	}
	return nil
}

// Lens is a camera set up: it projects world places to pixels.
type Lens struct {
	eye, right, down, ahead Vec3
	focal                   float64 // pixels
	cx, cy                  float64
}

// Lens sets the camera up. The optical axis goes from the eye through the
// aim; pixels are square, counted from the top left corner, the centre of
// the first one at 0.5, 0.5.
func (c Camera) Lens() Lens {
	side := Vec3{Z: 1}
	if c.Facing == form.Left {
		side.Z = -1
	}
	from, to := side, Vec3{X: 1}
	switch c.View {
	case form.ViewFront:
		from, to = Vec3{X: 1}, Vec3{Z: 1}
	case form.ViewBack:
		from, to = Vec3{X: -1}, Vec3{Z: 1}
	}
	sin, cos := math.Sincos(rad(c.YawDeg))
	out := from.scale(cos).add(to.scale(sin))
	aim := Vec3{X: c.AimXM, Y: c.AimYM}
	l := Lens{
		eye:   Vec3{X: aim.X, Y: c.HeightM}.add(out.scale(c.DistanceM)),
		focal: float64(c.Height) / 2 / math.Tan(rad(c.FOVDeg)/2),
		cx:    float64(c.Width) / 2, cy: float64(c.Height) / 2,
	}
	l.aim(l.eye, aim.sub(l.eye).unit(), rad(c.RollDeg))
	return l
}

// Project gives the pixel of a world place and its depth along the optical
// axis in metres; a depth ≤ 0 is behind the camera and has no pixel.
func (l *Lens) Project(v Vec3) (x, y, depth float64) {
	d := v.sub(l.eye)
	depth = d.dot(l.ahead)
	if depth <= 0 {
		return math.NaN(), math.NaN(), depth
	}
	k := l.focal / depth
	return l.cx + k*d.dot(l.right), l.cy + k*d.dot(l.down), depth
}

// Stamp is one frame of a clip: the time it carries, and the time at which
// its picture was taken (earlier, where a frame is shown twice).
type Stamp struct{ Time, Taken float64 }

// Stamps gives the frames of a clip of the given length with the camera's
// flaws of the clock, drawn from rng (nil: none).
func (c Camera) Stamps(seconds float64, rng *rand.Rand) []Stamp {
	n := int(math.Floor(seconds*c.RateHz + 1e-9))
	stamps := make([]Stamp, 0, n)
	for k := range n {
		t := float64(k) / c.RateHz
		if rng == nil {
			stamps = append(stamps, Stamp{t, t})
			continue
		}
		jitter, dropped, twice := rng.NormFloat64(), rng.Float64() < c.DropFrames, rng.Float64() < c.DuplicateFrames
		t = clamp(t+clamp(jitter*c.TimeJitterS, -0.4/c.RateHz, 0.4/c.RateHz), 0, seconds)
		switch {
		case dropped && k > 0:
		case twice && len(stamps) > 0:
			stamps = append(stamps, Stamp{t, stamps[len(stamps)-1].Taken})
		default:
			stamps = append(stamps, Stamp{t, t})
		}
	}
	return stamps
}
