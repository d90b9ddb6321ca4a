package standin

import (
	"math"
	"math/rand/v2"

	"plumbstride/internal/form"
)

// swing gives, at a phase of the stride, a turn that has its largest size
// about mid-stance: the right leg's amplitude there (+), the left leg's (−),
// radians.
func (p Pair) swing(phase float64) float64 {
	wave := math.Sin(phase - 0.3)
	return rad((p.Left+p.Right)/2)*wave + rad((p.Right-p.Left)/2)*wave*wave
}

// turnKnee turns the knee about the line from hip to ankle by l.inward.
func (l *Limb) turnKnee() {
	if l.inward == 0 {
		return
	}
	axis := l.Ankle.sub(l.Hip).unit()
	v := l.Knee.sub(l.Hip)
	along := axis.scale(axis.dot(v))
	off := v.sub(along)
	sin, cos := math.Sincos(l.inward)
	l.Knee = l.Hip.add(along).add(off.scale(cos)).add(axis.cross(off).scale(sin))
}

// frontalTruth adds what is measured from behind at mid-stance: everything
// seen along the line of progression, which is the pelvis's mean path.
func (m *Motion) frontalTruth(t *tally, k int) {
	s := m.steps[k]
	side := sideOf(s.leg)
	p := m.Pose((s.on + s.off) / 2)
	l, other := &p.Limbs[s.leg], &p.Limbs[1-s.leg]
	out := outward(s.leg)
	t.add("foot_to_line", "cm", side, 100*out*l.Ankle.Z)
	if k+1 < len(m.steps) {
		next := m.steps[k+1]
		if at := (next.on + next.off) / 2; next.off < m.seconds {
			q := m.Pose(at)
			t.add("step_width", "cm", form.Both, 100*(out*l.Ankle.Z-out*q.Limbs[next.leg].Ankle.Z))
		}
	}
	d := l.Hip.sub(other.Hip)
	t.add("pelvic_drop", "deg", side, deg(math.Atan2(d.Y, math.Abs(d.Z))))
	t.add("trunk_side_lean", "deg", side, deg(math.Atan2(out*(p.Chest.Z-p.Pelvis.Z), p.Chest.Y-p.Pelvis.Y)))
	t.add("knee_projection", "cm", side, -out*100*offLine(l.Hip, l.Ankle, l.Knee))
	thigh := math.Atan2(l.Knee.Z-l.Hip.Z, l.Hip.Y-l.Knee.Y)
	shank := math.Atan2(l.Ankle.Z-l.Knee.Z, l.Knee.Y-l.Ankle.Y)
	t.add("knee_projection", "deg", side, deg(out*(shank-thigh)))
}

// offLine is how far c lies to the right of the line a–b seen from behind,
// metres; a is the upper end.
func offLine(a, b, c Vec3) float64 {
	dy, dz := b.Y-a.Y, b.Z-a.Z
	return ((c.Y-a.Y)*dz - (c.Z-a.Z)*dy) / math.Hypot(dy, dz)
}

// frontalDifference adds the difference of the sides' mean pelvic drops.
func frontalDifference(values []Value) []Value {
	find := func(s form.Side) (v Value, ok bool) {
		for _, v := range values {
			if v.Name == "pelvic_drop" && v.Side == s {
				return v, true
			}
		}
		return Value{}, false
	}
	l, okL := find(form.Left)
	r, okR := find(form.Right)
	if !okL || !okR {
		return nil
	}
	return []Value{{
		Name: "pelvic_drop_difference", Unit: "deg", Side: form.Both, Value: l.Value - r.Value,
		SD: math.Hypot(l.SD, r.SD), N: l.N + r.N,
	}}
}

// BehindCamera stands 4 m behind the runner at hip height, 1280×720 at 60 Hz.
func BehindCamera() Camera {
	c := DefaultCamera()
	c.View, c.Facing = form.ViewBack, form.Both
	return c
}

// RandomBehind draws a plausible runner on a treadmill, with the pelvis, the
// trunk and the knees going their own ways in the frontal plane, and a
// plausible camera behind: any that it gives can be built by NewMotion with
// the same rng going on.
func RandomBehind(rng *rand.Rand) (Runner, Camera) {
	for {
		r := randomRunner(rng)
		about := func(v, sd float64) float64 { return v + sd*clamp(rng.NormFloat64(), -2.5, 2.5) }
		// Sizes about those of Bramah et al. 2018, doi
		// 10.1177/0363546518793657 (from memory); the sides differ.
		even := about(5, 2)
		r.PelvicDropDeg = Pair{about(even, 1.2), about(even, 1.2)}
		even = about(2.5, 2)
		r.TrunkSideDeg = Pair{about(even, 1), about(even, 1)}
		even = about(6, 7)
		r.KneeInDeg = Pair{about(even, 3), about(even, 3)}
		r.StepWidth = about(0.05, 0.04) // a few cross over
		trial := r
		trial.StepSpread *= 1.7
		if _, err := newMotion(trial, 4, rng, 1, 0.7); err == nil {
			c := RandomCamera(r, rng)
			c.View, c.Facing = form.ViewBack, form.Both
			if rng.IntN(2) == 0 { // held upright
				c.Width, c.Height = c.Height, c.Width
			}
			c.AimXM = 0
			return r, c
		}
	}
}

// DemoBehind gives a clip from behind of the demo's runner as one whose left
// knee goes inward and whose feet land on one line: the frontal plane of Demo.
func DemoBehind() (r Runner, cam Camera, scene Scene, seconds float64) {
	r, _, scene, seconds = Demo()
	r.StepWidth, r.KneeInDeg = 0.005, Pair{18, 2}
	r.PelvicDropDeg, r.TrunkSideDeg = Pair{7, 4}, Pair{3, 1}
	cam = BehindCamera()
	cam.AimYM, cam.YawDeg = 0.87, 2
	return r, cam, scene, seconds
}
