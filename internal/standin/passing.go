package standin

import (
	"math"
	"math/rand/v2"

	"plumbstride/internal/form"
)

// RandomPass draws a runner over ground and a side-on camera past which they
// run: a telephone with its usual field of view, at some metres, so that six
// to twelve steps are seen. With follow the camera turns along with the
// runner, a little behind or ahead of them; with shake it is held by hand.
// The runner is in the middle half-way through the clip's seconds.
func RandomPass(rng *rand.Rand, follow, shake bool) (r Runner, cam Camera, seconds float64) {
	between := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	r, cam = Random(rng)
	r.Treadmill = false
	cam.DistanceM, cam.HeightM = between(4, 7), between(0.8, 1.4)
	cam.RollDeg, cam.YawDeg = between(-2, 2), between(-8, 8)
	cam.Width, cam.Height = 1920, 1080
	cam.RateHz = []float64{60, 120}[rng.IntN(2)]
	cam.FOVDeg = between(35, 42) // of the picture's height: 59 to 69° of its width
	cam.AimYM, cam.AimXM = between(0.8, 1.1), 0
	cam.NoisePx = between(0.5, 2)
	half := cam.DistanceM * math.Tan(rad(cam.FOVDeg)/2) * 16 / 9
	if follow {
		cam.DistanceM = between(5, 9)
		cam.FOVDeg = deg(2 * math.Atan(r.HeightM/between(0.6, 0.8)/2/cam.DistanceM))
		cam.Sway.Follow = between(0.85, 1.1)
		half = cam.DistanceM * math.Tan(rad(between(25, 40)))
	}
	if shake {
		cam.Sway.ShakeDeg, cam.Sway.ShakeM = between(0.3, 1.2), between(0.005, 0.02)
		cam.Sway.Seed = rng.Uint64()
	}
	seconds = 2 * half / r.SpeedMS
	if cam.Facing == form.Both {
		cam.Facing = form.Right
	}
	return r, cam.Passing(r, seconds), seconds
}
