package standin

import (
	"math"
	"math/rand/v2"
)

// RandomOnTheSpot draws somebody who runs or marches in place, and a camera
// to their side.
func RandomOnTheSpot(rng *rand.Rand) (Runner, Camera) {
	between := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	for {
		drawn, cam := Random(rng)
		r := OnTheSpot()
		r.CadenceSPM, r.ContactS = between(140, 190), Even(between(0.22, 0.28))
		if rng.IntN(2) == 0 {
			r = Marcher()
			r.CadenceSPM = between(95, 130)
			r.ContactS = Even(60/r.CadenceSPM - 0.012)
		}
		r.ContactS = Even(math.Min(r.ContactS.Left, 60/r.CadenceSPM-0.012))
		r.HeightM, r.MassKg, r.Body = drawn.HeightM, drawn.MassKg, drawn.Body
		r.TrunkLeanDeg, r.HeadForwardM, r.HeadPitchDeg = between(-2, 12), drawn.HeadForwardM, drawn.HeadPitchDeg
		r.ThighLiftDeg = between(35, 80)
		r.KneeSwingDeg = r.ThighLiftDeg + between(12, 35)
		r.StepSpread, r.StartStride = between(0, 0.3), rng.Float64()
		if _, err := newMotion(r, 4, rng, 1, 0.7, 0.35); err == nil {
			return r, cam
		}
	}
}

// kneeLiftTruth adds, for somebody on the spot, how high each swing brings
// the thigh, and the knee over where it was in mid-stance.
func (m *Motion) kneeLiftTruth(t *tally, s *stance) {
	if m.r.SpeedMS != 0 || s.swing.to >= m.seconds {
		return
	}
	stand := m.Pose((s.on + s.off) / 2).Limbs[s.leg].Knee.Y
	thigh, up := math.Inf(-1), math.Inf(-1)
	const parts = 200
	for i := range parts + 1 {
		p := m.Pose(s.swing.from + (s.swing.to-s.swing.from)*float64(i)/parts)
		l := &p.Limbs[s.leg]
		thigh = math.Max(thigh, deg(math.Atan2(l.Knee.X-l.Hip.X, l.Hip.Y-l.Knee.Y)))
		up = math.Max(up, l.Knee.Y)
	}
	side := sideOf(s.leg)
	t.sided("knee_lift", "deg", side, thigh)
	t.sided("knee_lift", "cm", side, 100*(up-stand))
}
