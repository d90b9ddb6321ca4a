package standin

import (
	"math"
	"math/rand/v2"

	"plumbstride/internal/form"
)

// RandomStander draws somebody standing, with the faults of posture that
// people have and some that they hardly have, and a plausible hand-held or
// propped camera for a side, front or back view.
func RandomStander(rng *rand.Rand, view form.View) (Runner, Camera) {
	between := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	about := func(v, sd float64) float64 { return v + sd*clamp(rng.NormFloat64(), -2.5, 2.5) }
	for {
		r := Stander()
		r.HeightM = between(1.5, 2.0)
		r.MassKg = between(18.5, 28) * r.HeightM * r.HeightM
		r.TrunkLeanDeg, r.HeadForwardM, r.HeadPitchDeg = between(-7, 9), between(-0.01, 0.08), between(-15, 8)
		r.KneeStandingDeg, r.WeightOverFootPct = between(-5, 14), between(28, 62)
		r.StanceWidth, r.ElbowDeg = between(0.6, 2), between(4, 30)
		r.ToeOutDeg = Pair{between(-8, 22), between(-8, 22)}
		r.ShoulderLevelDeg, r.HipLevelDeg = about(0, 2), about(0, 1.2)
		r.StepSpread = between(0.5, 2)
		r.Body = Proportions{about(1, 0.02), about(1, 0.02), about(1, 0.02), about(1, 0.03), about(1, 0.06), about(1, 0.05)}
		if _, err := NewMotion(r, 1, nil); err == nil {
			return r, randomStandingCamera(r, view, rng)
		}
	}
}

func randomStandingCamera(r Runner, view form.View, rng *rand.Rand) Camera {
	between := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	c := RandomCamera(r, rng)
	c.View = view
	c.RateHz = 30
	c.DistanceM, c.HeightM = between(2.5, 5), between(0.7, 1.5)
	c.YawDeg = clamp(4.5*rng.NormFloat64(), -11, 11)
	c.RollDeg = clamp(1.7*rng.NormFloat64(), -4, 4)
	c.FOVDeg = deg(2 * math.Atan(r.HeightM/between(0.65, 0.85)/2/c.DistanceM))
	if view == form.ViewSide {
		return c
	}
	c.Facing = form.Right
	return c
}
