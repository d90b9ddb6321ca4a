package standin

import "math/rand/v2"

// Guest is somebody invented who comes to the demo's clinic: how they run
// now, and how they ran eight weeks ago, where they were there then.
type Guest struct {
	// Name says that nobody is meant.
	Name string
	// Wanted is what the check should put first: an area, "" for nothing to
	// change, or "refused".
	Wanted string
	Now    Runner
	Before *Runner
	Look   Look
	// Back: came again at the end of their season.
	Back bool
}

// Clinic gives the invented guests of the demo's shop: different faults, some
// with a check eight weeks before, one whom nothing needs changing, and one
// who walks, so that the clip is refused.
func Clinic() []Guest {
	slow, _, _, _ := Demo()
	return []Guest{
		guest(1, "Ada Invented", "", slow, func(r *Runner) {
			r.CadenceSPM, r.ContactS, r.LandingM = 163, Pair{0.262, 0.259}, Pair{0.215, 0.212}
			r.FootContactDeg, r.KneeContactDeg = Pair{14, 13.5}, Pair{14, 15}
		}, &slow),
		guest(2, "Bram Invented", "", sound(), func(r *Runner) { r.HeightM, r.MassKg = 1.81, 76 }, nil),
		guest(3, "Cleo Invented", "bounce", sound(), func(r *Runner) {
			r.HeightM, r.MassKg, r.SpeedMS, r.CadenceSPM, r.ContactS, r.BounceM = 1.66, 57, 2.9, 168, Even(0.225), 0.105
		}, highBounce()),
		guest(4, "Dario Invented", "lean", sound(), func(r *Runner) { r.TrunkLeanDeg, r.HeadPitchDeg = 17, -8 }, nil),
		guest(5, "Edda Invented", "cadence", sound(), func(r *Runner) {
			r.HeightM, r.MassKg, r.SpeedMS, r.CadenceSPM, r.ContactS, r.LandingM = 1.63, 55, 2.6, 152, Even(0.285), Even(0.21)
		}, nil),
		guest(6, "Falk Invented", "symmetry", sound(), func(r *Runner) {
			r.HeightM, r.StepTimeAsymmetryPct, r.ContactS = 1.84, 9, Pair{0.262, 0.236}
		}, nil),
		guest(7, "Greta Invented", "landing", sound(), func(r *Runner) {
			r.HeightM, r.MassKg, r.SpeedMS, r.CadenceSPM, r.ContactS = 1.68, 61, 3.1, 171, Even(0.25)
			r.LandingM, r.FootContactDeg, r.KneeContactDeg = Even(0.26), Even(24), Even(6)
		}, nil),
		guest(8, "Hugo Invented", "alignment", sound(), func(r *Runner) { r.HeightM, r.MassKg, r.HeadForwardM, r.HeadPitchDeg = 1.78, 82, 0.12, -18 }, nil),
		guest(9, "Ines Invented", "", sound(), func(r *Runner) {
			r.HeightM, r.MassKg, r.SpeedMS, r.CadenceSPM, r.ContactS, r.BounceM = 1.7, 58, 3.5, 178, Even(0.225), 0.07
			r.FootContactDeg, r.LandingM = Even(4), Even(0.2)
		}, nil),
		guest(10, "Jonas Invented", "", sound(), func(r *Runner) {
			r.HeightM, r.MassKg, r.SpeedMS, r.CadenceSPM, r.ContactS, r.LandingM = 1.75, 70, 2.8, 170, Even(0.255), Even(0.18)
		}, lowBeat()),
		guest(11, "Kaja Invented", "refused", Walker(), nil, nil),
		guest(12, "Mika Invented", "lean", sound(), func(r *Runner) { r.HeightM, r.MassKg, r.TrunkLeanDeg = 1.72, 66, 19 }, nil),
	}
}

// Season gives the invented guests of an earlier season: a dozen who run with
// few steps a minute and some ten with nothing to change. Two in three of those
// who were there come back; quicker steps are what most of them learnt.
func Season() []Guest {
	names := []string{
		"Alma", "Björn", "Carla", "Dunja", "Emil", "Fatma", "Gero", "Hanne", "Igor", "Jule", "Kemal", "Livia", "Milan", "Nele", "Oskar",
		"Paula", "Quirin", "Rosa", "Samir", "Tilda", "Uwe", "Vera", "Wim", "Xenia",
	}
	rng := rand.New(rand.NewPCG(2026, 1000))
	out := make([]Guest, 0, len(names))
	for i, name := range names {
		now, first := sound(), sound()
		if i < 14 {
			first = *lowBeat()
			first.CadenceSPM, first.BounceM = first.CadenceSPM+2.5*rng.NormFloat64(), 0.095
		} else {
			first.CadenceSPM, first.BounceM = first.CadenceSPM+4*rng.NormFloat64(), 0.085
		}
		now = first
		if i < 14 {
			now.BounceM, now.CadenceSPM = 0.088, now.CadenceSPM*(1.045+0.02*rng.NormFloat64())
			now.LandingM = Even(first.LandingM.Left * 0.93)
			now.ContactS = Even(first.ContactS.Left * 0.97)
		}
		g := guest(uint64(100+i), name+" Invented", "", now, func(r *Runner) { r.HeightM, r.MassKg = first.HeightM+0.05*rng.NormFloat64(), first.MassKg }, &first)
		g.Back = i%3 != 2
		out = append(out, g)
	}
	return out
}

// sound is a runner with nothing to change.
func sound() Runner {
	r := DefaultRunner()
	r.StepSpread, r.LandingM, r.FootContactDeg = 0.6, Even(0.18), Even(9)
	return r
}

// lowBeat is a runner with few steps a minute and long ones.
func lowBeat() *Runner {
	r := sound()
	r.HeightM, r.MassKg, r.SpeedMS, r.CadenceSPM, r.ContactS, r.LandingM = 1.75, 70, 2.8, 153, Even(0.275), Even(0.235)
	r.KneeContactDeg = Even(12)
	return &r
}

// highBounce is a runner who goes up and down a lot.
func highBounce() *Runner {
	r := sound()
	r.SpeedMS, r.CadenceSPM, r.ContactS, r.BounceM = 2.9, 164, Even(0.225), 0.109
	return &r
}

func guest(seed uint64, name, wanted string, r Runner, change func(*Runner), before *Runner) Guest {
	if change != nil {
		change(&r)
	}
	g := Guest{Name: name, Wanted: wanted, Now: r, Look: lookOf(seed)}
	g.Now.Name = name
	if before != nil {
		b := *before
		b.Name, b.HeightM, b.MassKg, b.Body = name, r.HeightM, r.MassKg, r.Body
		g.Before = &b
	}
	return g
}

// lookOf dresses a guest, the same every time.
func lookOf(seed uint64) Look { return RandomLook(rand.New(rand.NewPCG(2026, seed))) }
