package standin

import (
	"math"
	"math/rand/v2"

	"plumbstride/internal/form"
)

// Random draws a plausible runner on a treadmill and a plausible side-on
// camera: any that it gives can be built by NewMotion with the same rng
// going on.
func Random(rng *rand.Rand) (Runner, Camera) {
	for {
		r := randomRunner(rng)
		// Try with more spread than it will have, so that no step fails.
		trial := r
		trial.StepSpread *= 1.7
		if m, err := newMotion(trial, 4, rng, 1, 0.7); err == nil && m.pushesOff() {
			return r, RandomCamera(r, rng)
		}
	}
}

// pushesOff tells whether every foot leaves the ground over its toes: the
// heel part of a real one is turned by some 45° by then (Fukuchi et al. 2017,
// doi 10.7717/peerj.3298, one runner at 2.5 m/s).
func (m *Motion) pushesOff() bool {
	for _, s := range m.steps[2 : len(m.steps)-2] {
		if s.offSole.heel > rad(-33) {
			return false
		}
	}
	return true
}

func randomRunner(rng *rand.Rand) Runner {
	between := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	about := func(v, sd float64) float64 { return v + sd*clamp(rng.NormFloat64(), -2.5, 2.5) }
	pair := func(v, sd float64) Pair { return Pair{about(v, sd), about(v, sd)} }
	r := DefaultRunner()
	r.HeightM, r.MassKg = between(1.5, 2.0), 0
	r.MassKg = between(18.5, 28) * r.HeightM * r.HeightM
	r.SpeedMS = between(2, 4.5)
	r.CadenceSPM = clamp(about(158+6*r.SpeedMS-40*(r.HeightM-1.75), 9), 145, 195)
	step := 60 / r.CadenceSPM
	contact := math.Min(about(0.345-0.034*r.SpeedMS+0.10*(r.HeightM-1.75), 0.012), step-0.035)
	r.ContactS = pair(clamp(contact, 0.19, 0.32), 0.003)
	r.StepTimeAsymmetryPct = about(0, 2)
	r.FootContactDeg = pair(between(-15, 25), 1.5)
	r.HeelGapDeg = []float64{0, between(2, 6)}[rng.IntN(2)]
	r.KneeContactDeg = pair(between(8, 30), 1.5)
	// What is not ahead of the body at contact has to be behind it at toe-off.
	least := math.Max(0.08, r.SpeedMS*contact-0.33*r.HeightM)
	// And who lands far ahead for the speed would leave from under the body,
	// the foot still flat.
	most := math.Min(0.17*r.HeightM, r.SpeedMS*contact-0.25*r.HeightM)
	r.LandingM = pair(between(least, math.Max(least+0.03, most)), 0.008)
	r.TrunkLeanDeg, r.HeadForwardM = between(0, 18), between(-0.01, 0.08)
	r.HeadPitchDeg = between(-15, 8)
	r.KneeSwingDeg = clamp(about(66+11*r.SpeedMS, 8), 82, 122)
	r.KneeToeOffDeg = between(15, 25)
	r.StepWidth, r.ToeOutDeg = between(0.02, 0.12), pair(between(0, 9), 1.5)
	r.ArmDeg, r.ElbowDeg, r.PelvisDeg = between(18, 42), between(75, 110), between(2, 7)
	r.StepSpread, r.StartStride = between(0.3, 1.2), rng.Float64()
	r.Body = Proportions{about(1, 0.02), about(1, 0.02), about(1, 0.02), about(1, 0.03), about(1, 0.06), about(1, 0.05)}
	if rng.IntN(2) == 0 {
		// Real ground forces are a little flatter or steeper than a sine.
		r.BounceM = r.sineBounce() * between(0.92, 1.05)
	}
	return r
}

// sineBounce is the excursion of the centre of mass under a sine-shaped
// force: the flight's arc g·tf²/8 and the sinking in stance of Morin et al.
// 2005.
func (r Runner) sineBounce() float64 {
	tc := (r.ContactS.Left + r.ContactS.Right) / 2
	tf := 60/r.CadenceSPM - tc
	return gravity*tf*tf/8 + gravity*(tf+tc)*tc/(2*math.Pi) - gravity*tc*tc/8
}

// RandomCamera draws a plausible side-on camera for a runner.
func RandomCamera(r Runner, rng *rand.Rand) Camera {
	between := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	c := DefaultCamera()
	c.Facing = []form.Side{form.Left, form.Right}[rng.IntN(2)]
	c.DistanceM, c.HeightM = between(3, 6), between(0.6, 1.3)
	c.RollDeg, c.YawDeg = between(-3, 3), between(-10, 10)
	c.RateHz = []float64{60, 120, 240}[rng.IntN(3)]
	if rng.IntN(2) == 0 {
		c.Width, c.Height = 1920, 1080
	}
	// The runner fills 65 to 85 % of the picture's height.
	tall := r.HeightM / between(0.65, 0.85)
	c.FOVDeg = deg(2 * math.Atan(tall/2/c.DistanceM))
	c.AimYM, c.AimXM = 0.52*r.HeightM+between(-0.04, 0.04), between(-0.1, 0.1)
	c.NoisePx, c.NoiseMemory = between(0.5, 3), between(0, 0.5)
	c.Dropout = []float64{0, 0.01, 0.05}[rng.IntN(3)]
	return c
}
