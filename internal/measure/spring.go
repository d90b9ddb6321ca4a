package measure

import (
	"errors"
	"math"

	"plumbstride/internal/body"
	"plumbstride/internal/form"
)

// gravity is the standard acceleration of free fall, m/s².
const gravity = 9.81

// Spring is the runner as a mass on a spring during contact.
type Spring struct {
	PeakForceN            float64
	CentreDropM, LegDropM float64
	VerticalNM, LegNM     float64 // stiffness, N/m
}

// SineSpring gives the sine-wave spring–mass model of Morin et al. 2005
// (J Appl Biomech 21:167–180, doi 10.1123/jab.21.2.167) from mass (kg), speed
// (m/s), contact and flight time (s) and leg length (m):
//
//	Fmax  = m·g·(π/2)·(tf/tc + 1)
//	Δyc   = Fmax·tc²/(m·π²) − g·tc²/8
//	ΔL    = L − √(L² − (v·tc/2)²) + Δyc
//	kvert = Fmax/Δyc,  kleg = Fmax/ΔL
//
// Stiffness is 0.7–6.9 % below a force platform's (same paper). ok is false
// without flight, and where the leg could not span the contact.
func SineSpring(massKg, speedMS, contactS, flightS, legM float64) (s Spring, ok bool) {
	half := speedMS * contactS / 2
	if !(massKg > 0 && contactS > 0 && flightS > 0 && half < legM) {
		return Spring{}, false
	}
	s.PeakForceN = massKg * gravity * math.Pi / 2 * (flightS/contactS + 1)
	s.CentreDropM = s.PeakForceN*contactS*contactS/(massKg*math.Pi*math.Pi) - gravity*contactS*contactS/8
	s.LegDropM = legM - math.Sqrt(legM*legM-half*half) + s.CentreDropM
	s.VerticalNM = s.PeakForceN / s.CentreDropM
	s.LegNM = s.PeakForceN / s.LegDropM
	return s, true
}

// stiffnessOf gives leg or vertical stiffness in kN/m, its uncertainty by
// moving each input by its own.
func stiffnessOf(pick func(Spring) float64) func(*kit, Def, form.Side) (form.Measure, error) {
	return func(k *kit, def Def, s form.Side) (form.Measure, error) {
		if k.who.MassKg <= 0 {
			return form.Measure{}, errNotAsked
		}
		if k.g.Slope() {
			return form.Measure{}, errors.New("the model does not hold on an incline (Meyer et al. 2023, doi 10.1055/a-2044-4805)")
		}
		l, r := k.cycle(form.Left), k.cycle(form.Right)
		contact := (l.ToeOffS - l.ContactS + r.ToeOffS - r.ContactS) / 2
		step := k.g.StrideS / 2
		contactSD := math.Hypot(math.Hypot(l.ContactSD, l.ToeOffSD), math.Hypot(r.ContactSD, r.ToeOffSD)) / 2
		in := [4]float64{k.g.SpeedMS, contact, body.LegLength(k.who.HeightM), k.who.MassKg}
		of := func(v [4]float64) float64 {
			spring, ok := SineSpring(v[3], v[0], v[1], step-v[1], v[2])
			if !ok {
				return math.NaN()
			}
			return pick(spring) / 1000
		}
		base := of(in)
		sum := math.Pow(0.04*base, 2) // the model against a force platform
		for i, sd := range [4]float64{k.g.SpeedSD, contactSD, 0.03 * in[2], 0.02 * in[3]} {
			moved := in
			moved[i] += sd
			sum += math.Pow(of(moved)-base, 2)
		}
		return form.With95(def.Name, s, def.Unit, base, math.Sqrt(sum), len(l.Anchors)+len(r.Anchors)), nil
	}
}
