package standin

import (
	"math"
	"math/rand/v2"
	"sync"
	"testing"

	"plumbstride/internal/form"

	"pgregory.net/rapid"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.6g, want %.6g ± %g", what, got, want, tolerance)
	}
}

func mustMove(t testing.TB, r Runner, seconds float64, rng *rand.Rand) *Motion {
	t.Helper()
	m, err := NewMotion(r, seconds, rng)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// crowd is a dozen random runners in motion for 3 s, built once.
var crowd = sync.OnceValue(func() []*Motion {
	var out []*Motion
	for seed := range uint64(12) {
		rng := rand.New(rand.NewPCG(seed, 99))
		r, _ := Random(rng)
		m, err := NewMotion(r, 3, rng)
		if err != nil {
			panic(err)
		}
		out = append(out, m)
	}
	return out
})

// everyone is the crowd and the figures with names.
func everyone(t *testing.T) []*Motion {
	list := append([]*Motion{}, crowd()...)
	demo, _, _, _ := Demo()
	spot := DefaultRunner()
	spot.SpeedMS, spot.LandingM, spot.FootContactDeg = 0, Even(0.04), Even(-6)
	hill := DefaultRunner()
	hill.InclineDeg, hill.TrunkLeanDeg, hill.SpeedMS, hill.LandingM = 4, 10, 2.4, Even(0.19)
	ground := DefaultRunner()
	ground.Treadmill = false
	for _, r := range []Runner{DefaultRunner(), Walker(), Stander(), demo, spot, hill, ground} {
		list = append(list, mustMove(t, r, 3, nil))
	}
	return list
}

// Bones don't stretch: the distance of neighbouring joints is the figure's.
func TestSegmentsKeepTheirLength(t *testing.T) {
	for _, m := range everyone(t) {
		f := m.fig
		for tm := 0.0; tm <= 3; tm += 0.0173 {
			p := m.Pose(tm)
			near(t, "trunk", p.Chest.sub(p.Pelvis).norm(), f.trunk, 1e-9)
			near(t, "neck", p.Head.sub(p.Chest).norm(), f.neck, 1e-9)
			for i := range p.Limbs {
				l := &p.Limbs[i]
				near(t, "thigh", l.Knee.sub(l.Hip).norm(), f.thigh, 1e-9)
				near(t, "shank", l.Ankle.sub(l.Knee).norm(), f.shank, 1e-9)
				near(t, "upper arm", l.Elbow.sub(l.Shoulder).norm(), f.upperArm, 1e-9)
				near(t, "forearm", l.Wrist.sub(l.Elbow).norm(), f.fore, 1e-9)
				near(t, "hip to pelvis", l.Hip.sub(p.Pelvis).norm(), f.hipHalf, 1e-9)
				near(t, "heel to ankle", l.Heel.sub(l.Ankle).norm(), math.Hypot(f.shoe.ankleU, f.shoe.ankleY-f.shoe.heelY), 1e-9)
				near(t, "ball to toe", l.Toe.sub(l.Ball).norm(), math.Hypot(f.shoe.length-f.shoe.ballU, f.shoe.toeY), 1e-9)
			}
			if t.Failed() {
				t.Fatalf("%+v at %.3f s", m.r, tm)
			}
		}
	}
}

// In stance the lowest point of the sole touches the ground and moves with
// it; in swing the whole sole is off the ground.
func TestFootDoesNotSlip(t *testing.T) {
	for _, m := range everyone(t) {
		if m.r.Gait == Standing {
			continue
		}
		const h = 1e-5
		for tm := 0.01; tm <= 2.98; tm += 0.0037 {
			p, q := m.Pose(tm-h), m.Pose(tm+h)
			for leg := range p.Limbs {
				a, b := &p.Limbs[leg], &q.Limbs[leg]
				if a.Down != b.Down {
					continue
				}
				if !a.Down {
					if a.SoleLow < -1e-6 {
						t.Fatalf("%+v: swinging foot %.2g m under the ground at %.3f s", m.r, a.SoleLow, tm)
					}
					continue
				}
				near(t, "height of the sole in stance", a.SoleLow, 0, 1e-6)
				// The point of the sole that touches at tm, carried by the foot.
				touch := func(l *Limb, toePitch float64) Vec3 {
					v := m.fig.shoe.arcAt(clamp(-toePitch, 0, m.fig.shoe.arcMax)).turned(l.ToePitch)
					if toePitch > 0 {
						return l.HeelEdge
					}
					forward := Vec3{math.Cos(l.ToeOut), 0, outward(leg) * math.Sin(l.ToeOut)}
					return l.Ball.add(forward.scale(v.U).add(Vec3{Y: v.Y}).aboutZ(m.tilt))
				}
				mid := m.Pose(tm).Limbs[leg].ToePitch
				if mid > 0 != (a.ToePitch > 0) || mid > 0 != (b.ToePitch > 0) {
					continue // the heel comes flat in between
				}
				v := touch(b, mid).sub(touch(a, mid)).scale(1 / (2 * h)).aboutZ(-m.tilt)
				belt := -m.r.SpeedMS
				if !m.r.Treadmill {
					belt = 0
				}
				near(t, "speed of the touching point, m/s", v.X, belt, 2e-4)
				near(t, "sideways speed of the touching point, m/s", v.Z, 0, 2e-4)
			}
			if t.Failed() {
				t.Fatalf("%+v at %.3f s", m.r, tm)
			}
		}
	}
}

// In flight the centre of mass falls freely (g = 9.80665 m/s², straight
// down), and in stance the ground never pulls.
func TestCentreOfMassObeysGravity(t *testing.T) {
	for _, m := range everyone(t) {
		if m.r.Gait != Running {
			continue
		}
		const h = 1e-3
		for tm := 0.01; tm <= 2.98; tm += 0.0021 {
			p, q, r := m.Pose(tm-h), m.Pose(tm), m.Pose(tm+h)
			acc := p.Mass.add(r.Mass).sub(q.Mass.scale(2)).scale(1 / (h * h))
			air := func(p *Pose) bool { return !p.Limbs[0].Down && !p.Limbs[1].Down }
			switch {
			case air(&p) && air(&q) && air(&r):
				near(t, "acceleration in flight, upward", acc.Y, -gravity, 1e-3)
				near(t, "acceleration in flight, forward", acc.X, 0, 1e-3)
			case acc.Y < -gravity-2.5:
				t.Errorf("the ground pulls with %.2f m/s² at %.3f s", acc.Y+gravity, tm)
			}
			if t.Failed() {
				t.Fatalf("%+v", m.r)
			}
		}
	}
}

// The segment table: de Leva 1996, mean of men (sum 1.0000) and women (0.9999).
func TestSegmentMasses(t *testing.T) {
	sum := segHead.mass + segTrunk.mass
	for _, s := range []segment{segUpperArm, segForearm, segHand, segThigh, segShank, segFoot} {
		sum += 2 * s.mass
	}
	near(t, "sum of the masses", sum, 0.99995, 1e-9)
}

// A runner with the sides exchanged, half a stride on, is the mirror image.
func TestMirror(t *testing.T) {
	r := DefaultRunner()
	r.ContactS, r.KneeContactDeg = Pair{0.26, 0.25}, Pair{14, 18}
	r.FootContactDeg, r.LandingM = Pair{10, -5}, Pair{0.20, 0.18}
	other := r
	swap := func(p *Pair) { p.Left, p.Right = p.Right, p.Left }
	for _, p := range []*Pair{&other.ContactS, &other.KneeContactDeg, &other.FootContactDeg, &other.LandingM} {
		swap(p)
	}
	other.StartStride = 0.5
	a, b := mustMove(t, r, 2, nil), mustMove(t, other, 2, nil)
	for tm := 0.0; tm < 2; tm += 0.031 {
		p, q := a.Pose(tm), b.Pose(tm)
		for j := range form.Joint(form.NumJoints) {
			k := j
			if j != 0 {
				k = form.At(j.Point(), j.Side().Other())
			}
			v, w := p.Joint(j), q.Joint(k)
			w.Z = -w.Z
			if d := v.sub(w).norm(); d > 1e-3 { // the swing is trimmed until no foot scuffs, each motion by itself
				t.Fatalf("%v at %.3f s is %.2g m from its mirror image", j, tm, d)
			}
		}
	}
}

// The same generator gives the same motion; another one another.
func TestReproducible(t *testing.T) {
	r := DefaultRunner()
	r.StepSpread = 1
	a := mustMove(t, r, 2, rand.New(rand.NewPCG(3, 4))).Pose(1.234)
	b := mustMove(t, r, 2, rand.New(rand.NewPCG(3, 4))).Pose(1.234)
	c := mustMove(t, r, 2, rand.New(rand.NewPCG(5, 4))).Pose(1.234)
	if a != b {
		t.Error("the same generator gave another pose")
	}
	if a == c {
		t.Error("another generator gave the same pose")
	}
}

// Numbers that no figure can run with are refused, not bent.
func TestImpossibleRunners(t *testing.T) {
	for name, change := range map[string]func(*Runner){
		"no height":         func(r *Runner) { r.HeightM = 0 },
		"not a number":      func(r *Runner) { r.TrunkLeanDeg = math.NaN() },
		"no flight":         func(r *Runner) { r.ContactS = Even(0.36) },
		"leg too short":     func(r *Runner) { r.SpeedMS, r.ContactS = 6, Even(0.30) },
		"bounce too large":  func(r *Runner) { r.BounceM = 0.18 },
		"walking on a hop":  func(r *Runner) { r.Gait = Walking },
		"reaches the stars": func(r *Runner) { r.LandingM = Even(0.59) },
	} {
		r := DefaultRunner()
		change(&r)
		if m, err := NewMotion(r, 1, nil); err == nil || m != nil {
			t.Errorf("%s: no error", name)
		}
	}
	if _, err := NewMotion(DefaultRunner(), 0, nil); err == nil {
		t.Error("a clip of 0 s: no error")
	}
}

// The sole meets the ground with the angle that was asked for, and stands on it.
func TestContactSole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := newShoe(rapid.Float64Range(1.3, 2.2).Draw(t, "height"), rapid.Float64Range(0.9, 1.1).Draw(t, "scale"))
		want := rapid.Float64Range(-25, 35).Draw(t, "strike")
		yaw := rad(rapid.Float64Range(0, 12).Draw(t, "yaw"))
		a := s.contactSole(rad(want), yaw)
		p := s.points(s.grounded(a), a)
		sagittal := func(p footPoints) float64 {
			d := p.toe.sub(p.heel)
			return deg(math.Atan2(d.Y, d.U*math.Cos(yaw)))
		}
		got := sagittal(p) - sagittal(s.points(vec2{}, sole{}))
		if math.Abs(got-want) > 1e-6 {
			t.Fatalf("angle %.6f°, want %.6f°", got, want)
		}
		if low := s.lowest(p, a); math.Abs(low) > 1e-9 {
			t.Fatalf("the sole is %g m over the ground", low)
		}
	})
}

// A clamped cubic spline gives back any cubic, whatever its knots.
func TestSplineIsExactOnCubics(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		coefficient := rapid.Float64Range(-3, 3)
		a, b, c, d := coefficient.Draw(t, "a"), coefficient.Draw(t, "b"), coefficient.Draw(t, "c"), coefficient.Draw(t, "d")
		f := func(x float64) float64 { return a + x*(b+x*(c+x*d)) }
		slope := func(x float64) float64 { return b + x*(2*c+x*3*d) }
		x := []float64{0}
		for range rapid.IntRange(1, 5).Draw(t, "knots") {
			x = append(x, x[len(x)-1]+rapid.Float64Range(0.1, 2).Draw(t, "gap"))
		}
		y := make([]float64, len(x))
		for i := range x {
			y[i] = f(x[i])
		}
		end := x[len(x)-1]
		s := newSpline(x, y, slope(0), slope(end))
		at := end * rapid.Float64Range(0, 1).Draw(t, "at")
		if math.Abs(s.at(at)-f(at)) > 1e-6*(1+math.Abs(f(at))) {
			t.Fatalf("at %g: %g, want %g", at, s.at(at), f(at))
		}
	})
}

func BenchmarkMotion(b *testing.B) {
	for b.Loop() {
		mustMove(b, DefaultRunner(), 10, nil)
	}
}

func BenchmarkPose(b *testing.B) {
	m := mustMove(b, DefaultRunner(), 10, nil)
	for i := 0; b.Loop(); i++ {
		m.Pose(float64(i%7000) / 1000)
	}
}
