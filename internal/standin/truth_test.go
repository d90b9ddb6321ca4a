package standin

import (
	"math"
	"math/rand/v2"
	"testing"

	"plumbstride/internal/form"
)

func value(t *testing.T, tr Truth, name, unit string, side form.Side) float64 {
	t.Helper()
	v, ok := tr.Value(name, unit, side)
	if !ok {
		t.Fatalf("no %s (%s) for %v", name, unit, side)
	}
	return v.Value
}

// The truth of a runner like a clock is what the runner was made with.
func TestTruthIsWhatWasAskedFor(t *testing.T) {
	r := DefaultRunner()
	r.ContactS, r.KneeContactDeg = Pair{0.26, 0.25}, Pair{14, 18}
	r.FootContactDeg, r.LandingM = Pair{11, -5}, Pair{0.20, 0.18}
	r.StepTimeAsymmetryPct, r.SpeedMS = 3, 2.6
	for _, incline := range []float64{0, 3} {
		r.InclineDeg = incline
		tr := mustMove(t, r, 6, nil).Truth(form.Right)
		for _, c := range []struct {
			name, unit string
			side       form.Side
			want, tol  float64
		}{
			{"cadence", "steps/min", form.Both, 170, 0.2}, // an odd number of uneven steps
			{"speed", "m/s", form.Both, 2.6, 0},
			{"contact_time", "ms", form.Left, 260, 1e-9},
			{"contact_time", "ms", form.Right, 250, 1e-9},
			{"step_time_asymmetry", "%", form.Both, 3, 1e-9},
			{"knee_flexion_contact", "deg", form.Left, 14, 1e-3},
			{"knee_flexion_contact", "deg", form.Right, 18, 1e-3},
			{"foot_strike_angle", "deg", form.Left, 11, 1e-6},
			{"foot_strike_angle", "deg", form.Right, -5, 1e-6},
			{"landing_distance", "cm", form.Left, 20, 1e-3},
			{"landing_distance", "cm", form.Right, 18, 1e-3},
			{"trunk_lean", "deg", form.Both, 7, 0.05},
			{"head_forward", "cm", form.Both, 3, 1e-9},
		} {
			near(t, c.name+" "+c.side.String(), value(t, tr, c.name, c.unit, c.side), c.want, c.tol)
		}
	}
}

// The bounce that was asked for comes out, and without asking it is what the
// sine-shaped force gives: flight's arc g·tf²/8 and sinking of Morin et al.
// 2005 (0.0123 + 0.0600 m at 0.25 s and 0.10 s: worked row of the formulas),
// and at most the lift-off's 18 mm more.
func TestBounce(t *testing.T) {
	r := DefaultRunner()
	for _, want := range []float64{0.070, 0.075, 0.080} {
		r.BounceM = want
		tr := mustMove(t, r, 4, nil).Truth(form.Right)
		near(t, "bounce", value(t, tr, "vertical_oscillation", "cm", form.Both), 100*want, 0.05)
	}
	r.BounceM, r.CadenceSPM, r.ContactS = 0, 60/0.35, Even(0.25)
	near(t, "sine bounce", r.sineBounce(), 0.01226+0.05997, 5e-5)
	got := value(t, mustMove(t, r, 4, nil).Truth(form.Right), "vertical_oscillation", "cm", form.Both)
	if got < 7.22 || got > 7.22+1.8 {
		t.Errorf("bounce under a sine force %.2f cm, want 7.22 to 9.02", got)
	}
}

// Identities of any gait: contact and flight make a step, speed times step
// time a step's length, duty factor is contact over stride.
func TestIdentities(t *testing.T) {
	for _, m := range everyone(t) {
		if m.r.Gait == Standing {
			continue
		}
		tr := m.Truth(form.Right)
		for i := 1; i < len(tr.Events); i++ {
			if tr.Events[i].Time < tr.Events[i-1].Time {
				t.Fatalf("events out of order: %v", tr.Events)
			}
		}
		var last form.Event
		for _, e := range tr.Events {
			if e.Kind != form.Contact {
				continue
			}
			if last.Kind != "" && e.Side != last.Side.Other() {
				t.Fatalf("two contacts of the %v foot running", e.Side)
			}
			if last.Kind != "" {
				a, b := m.Pose(last.Time), m.Pose(e.Time)
				from, to := a.Limbs[last.Side-1].Ankle, b.Limbs[e.Side-1].Ankle
				travel := m.r.SpeedMS * (e.Time - last.Time)
				if !m.r.Treadmill {
					travel = 0
				}
				// Step length less what the two legs' landings differ by.
				step := to.sub(from).aboutZ(-m.tilt).X + travel
				land := to.sub(b.Mass).sub(from.sub(a.Mass)).aboutZ(-m.tilt).X
				near(t, "step length", step-land, m.r.SpeedMS*(e.Time-last.Time), 1e-6)
			}
			last = e
		}
		if m.r.Gait == Walking {
			if _, ok := tr.Value("flight_time", "ms", form.Both); ok {
				t.Error("a walker in flight")
			}
			if d := value(t, tr, "duty_factor", "–", form.Both); d <= 0.5 {
				t.Errorf("a walker's duty factor is %.3f", d)
			}
			continue
		}
		cadence := value(t, tr, "cadence", "steps/min", form.Both)
		sum := value(t, tr, "contact_time", "ms", form.Both) + value(t, tr, "flight_time", "ms", form.Both)
		near(t, "contact + flight", sum, 60000/cadence, 60000/cadence*0.02)
		if d := value(t, tr, "duty_factor", "–", form.Both); d >= 0.5 {
			t.Errorf("a runner's duty factor is %.3f", d)
		}
	}
}

// Contact is the moment at which the sole first touches: just before it the
// foot is in the air and comes down, just after it stays.
func TestContactIsTheFirstTouch(t *testing.T) {
	for _, m := range everyone(t) {
		for _, s := range m.steps {
			if s.on < 0.02 || s.off > 2.97 {
				continue
			}
			low := func(t float64) float64 { p := m.Pose(t); return p.Limbs[s.leg].SoleLow }
			if a, b := low(s.on-0.010), low(s.on-0.004); !(a > b && b > 0) {
				t.Errorf("%+v: before contact at %.3f s the sole is %.2g and %.2g m up", m.r, s.on, a, b)
			}
			near(t, "sole just after contact", low(s.on+1e-6), 0, 1e-6)
			near(t, "sole just before toe-off", low(s.off-1e-6), 0, 1e-6)
			if b := low(s.off + 0.010); b < 2e-5 {
				t.Errorf("%+v: after toe-off at %.3f s the sole is %.2g m up", m.r, s.off, b)
			}
		}
	}
}

// The sine-wave spring–mass model: 70 kg, 3 m/s, contact 0.25 s, flight
// 0.10 s, leg 0.93 m gives 10.870 and 25.180 kN/m (the formulas of Morin et
// al. 2005 worked by hand with g = 9.81).
func TestStiffness(t *testing.T) {
	r := DefaultRunner()
	r.MassKg, r.HeightM = 70, 0.93/0.53
	r.ContactS, r.CadenceSPM = Even(0.25), 60/0.35
	tr := mustMove(t, r, 3, nil).Truth(form.Right)
	near(t, "leg", value(t, tr, "leg_stiffness", "kN/m", form.Both), 10.870, 0.01)
	near(t, "vertical", value(t, tr, "vertical_stiffness", "kN/m", form.Both), 25.180, 0.01)
}

// Standing still, the measures are what was asked for.
func TestStanding(t *testing.T) {
	for _, knee := range []float64{-4, 0.5, 3, 12} {
		r := Stander()
		r.KneeStandingDeg, r.WeightOverFootPct, r.StanceWidth, r.TrunkLeanDeg = knee, 45, 1.3, 4
		r.ToeOutDeg = Pair{7, 11}
		r.ShoulderLevelDeg, r.HipLevelDeg = -2, 0
		tr := mustMove(t, r, 2, nil).Truth(form.Both)
		near(t, "knee", value(t, tr, "knee_flexion_standing", "deg", form.Both), knee, 0.05)
		near(t, "weight", value(t, tr, "weight_over_foot", "%", form.Both), 45, 0.5)
		near(t, "width", value(t, tr, "stance_width", "–", form.Both), 1.3, 1e-9)
		near(t, "trunk", value(t, tr, "trunk_lean_standing", "deg", form.Both), 4, 1e-9)
		near(t, "toe-out", value(t, tr, "toe_out", "deg", form.Right), 11, 1e-9)
		near(t, "head", value(t, tr, "head_forward", "cm", form.Both), 3, 1e-9)
		near(t, "shoulders", value(t, tr, "shoulder_level", "deg", form.Both), -2, 1e-9)
	}
}

// With one hip higher, the other knee gives: nothing is torn apart.
func TestStandingOnOneHip(t *testing.T) {
	for _, hip := range []float64{-3, 2} {
		r := Stander()
		r.KneeStandingDeg, r.HipLevelDeg = 1, hip
		m := mustMove(t, r, 1, nil)
		near(t, "hips", value(t, m.Truth(form.Both), "hip_level", "deg", form.Both), hip, 1e-9)
		for _, l := range m.Pose(0.5).Limbs {
			near(t, "thigh", l.Knee.sub(l.Hip).norm(), m.fig.thigh, 1e-9)
			near(t, "shank", l.Ankle.sub(l.Knee).norm(), m.fig.shank, 1e-6)
		}
	}
}

// Random runners look like people: knees give to 30–75° in stance, nobody
// bounces 14 cm, the figure stays on its treadmill.
func TestRandomRunnersArePlausible(t *testing.T) {
	for _, m := range crowd() {
		tr := m.Truth(form.Right)
		if v := value(t, tr, "knee_flexion_peak", "deg", form.Both); v < 30 || v > 75 {
			t.Errorf("peak knee flexion in stance %.1f°: %+v", v, m.r)
		}
		if v := value(t, tr, "vertical_oscillation", "cm", form.Both); v < 3 || v > 14 {
			t.Errorf("bounce %.1f cm: %+v", v, m.r)
		}
		for tm := 0.0; tm < 3; tm += 0.05 {
			if p := m.Pose(tm); math.Abs(p.Mass.X) > 0.06 {
				t.Fatalf("the centre of mass is %.2f m from its place: %+v", p.Mass.X, m.r)
			}
		}
	}
}

func BenchmarkTruth(b *testing.B) {
	m := mustMove(b, DefaultRunner(), 10, nil)
	for b.Loop() {
		m.Truth(form.Right)
	}
}

func BenchmarkRandom(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	for b.Loop() {
		Random(rng)
	}
}
