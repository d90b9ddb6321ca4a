package standin

import (
	"fmt"
	"math"
)

// stand finds the height of the centre of mass at which the knees have the
// standing flexion.
func (m *Motion) stand() error {
	f, r := &m.fig, m.r
	knee := rad(r.KneeStandingDeg)
	reach := math.Sqrt(f.thigh*f.thigh + f.shank*f.shank + 2*f.thigh*f.shank*math.Cos(knee))
	m.height = 0.97*reach + f.shoe.ankleY + 0.05
	for range 200 {
		// The leg under the higher hip is the straighter one.
		p := m.pose(0)
		leg := legLeft
		if m.r.HipLevelDeg < 0 {
			leg = legRight
		}
		miss := flexion(p.Limbs[leg].Hip, p.Limbs[leg].Knee, p.Limbs[leg].Ankle) - knee
		d := p.Limbs[leg].Ankle.sub(p.Limbs[leg].Hip)
		gap := reach - d.norm()
		if math.Abs(gap) < 1e-12 && math.Abs(miss) < 1e-3 {
			return nil
		}
		m.height += gap
	}
	return fmt.Errorf("invented runner: nobody stands with %.1f° at the knee and the weight at %.0f %% of the foot", r.KneeStandingDeg, r.WeightOverFootPct)
}

// standing is the centre of mass of somebody standing still: over the given
// part of the foot, swaying by a millimetre or two.
func (m *Motion) standing(t float64) Vec3 {
	sh := m.fig.shoe
	x := sh.length*m.r.WeightOverFootPct/100 - sh.ankleU
	sway := 0.0015 * (math.Sin(2*math.Pi*0.31*t) + 0.6*math.Sin(2*math.Pi*0.83*t)) * m.r.StepSpread
	return Vec3{X: x + sway, Y: m.height}
}

// standLeg puts a leg under its hip with the foot flat, the ankle at X = 0.
func (m *Motion) standLeg(l *Limb, leg int, toeOut float64) {
	f := &m.fig
	half := m.r.StanceWidth * f.hipHalf
	f.bendTo(l, Vec3{0, f.shoe.ankleY, outward(leg) * half}, m.bendSign())
	f.placeFoot(l, sole{}, toeOut, leg)
	l.Down = true
}
