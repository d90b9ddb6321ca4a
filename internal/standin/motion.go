package standin

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
)

// Motion is the runner in motion over a span of time. It is read-only once
// made, so any number of goroutines may ask it for poses.
type Motion struct {
	r       Runner
	fig     figure
	seconds float64
	steps   []*stance    // in time order
	legs    [2][]*stance // the same, by leg
	bend    float64      // share of the sin 3πs part in the ground force
	tilt    float64      // incline, radians
	height  float64      // standing: height of the centre of mass
	trim    trim
	uneven  []float64 // height of the ground under each step, metres
	calm    float64   // part of each change that is taken at once in solving
}

// NewMotion builds the motion for the times 0 to seconds, drawing the spread
// from step to step from rng (nil: none). An error says which numbers no
// figure can run with.
func NewMotion(r Runner, seconds float64, rng *rand.Rand) (*Motion, error) {
	// Steps that no leg can make are drawn again.
	return newMotion(r, seconds, rng, 8, 0.7, 0.35)
}

func newMotion(r Runner, seconds float64, rng *rand.Rand, draws int, calms ...float64) (*Motion, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	if !(seconds > 0 && seconds <= 3600) {
		return nil, fmt.Errorf("invented runner: a clip of %g s can't be made", seconds)
	}
	m := &Motion{r: r, fig: newFigure(r), seconds: seconds, tilt: rad(r.InclineDeg)}
	if r.Gait == Standing {
		return m, m.stand()
	}
	if err := m.bendForce(); err != nil {
		return nil, err
	}
	if rng == nil || r.StepSpread == 0 {
		draws = 1
	}
	var err error
	for range draws {
		if err = m.draw(rng, calms); err == nil {
			return m, nil
		}
	}
	return nil, err
}

// Runner gives the runner the motion was built from.
func (m *Motion) Runner() Runner { return m.r }

// current finds the last stance of a time-ordered list that began by t.
func current(list []*stance, t float64) int {
	return max(0, sort.Search(len(list), func(i int) bool { return list[i].on > t })-1)
}

// Pose gives the figure at time t, 0 to the motion's length.
func (m *Motion) Pose(t float64) Pose {
	p := m.pose(t)
	shift, rise := m.travel(t), m.rise(t)
	p.eachPoint(func(v *Vec3) {
		v.X += shift
		v.Y += rise
		*v = v.aboutZ(m.tilt)
	})
	p.TrunkLean -= m.tilt
	p.HeadPitch += m.tilt
	p.Pitch = m.tilt
	return p
}

// pose is Pose in the belt's own axes, the belt level.
func (m *Motion) pose(t float64) Pose {
	target := m.path(t)
	p := m.frame(t)
	p.Pelvis = Vec3{target.X, target.Y - 0.05, m.sway(t)}
	// Secant steps: raising the pelvis by 1 raises the centre of mass by a
	// little less where a foot stays on the ground.
	gain, last, moved := Vec3{1, 1, 0}, Vec3{}, Vec3{}
	m.assemble(&p, nil)
	for range 30 {
		off := target.sub(p.Mass)
		if math.Abs(off.X)+math.Abs(off.Y) < 1e-11 {
			return p
		}
		if d := last.X - off.X; math.Abs(d) > 1e-12 && moved.X != 0 {
			gain.X = clamp(moved.X/d, 0.5, 2)
		}
		if d := last.Y - off.Y; math.Abs(d) > 1e-12 && moved.Y != 0 {
			gain.Y = clamp(moved.Y/d, 0.5, 2)
		}
		last, moved = off, Vec3{gain.X * off.X, gain.Y * off.Y, 0}
		m.shift(&p, moved)
	}
	return p
}

// shift moves the body by d (X and Y); feet that are down stay, and their
// knees follow.
func (m *Motion) shift(p *Pose, d Vec3) {
	for _, v := range []*Vec3{&p.Pelvis, &p.Chest, &p.Head, &p.Nose} {
		*v = v.add(d)
	}
	for leg := range p.Limbs {
		l := &p.Limbs[leg]
		for _, v := range []*Vec3{&l.Hip, &l.Shoulder, &l.Elbow, &l.Wrist, &l.Knuckle, &l.Eye, &l.Ear} {
			*v = v.add(d)
		}
		if l.Down {
			m.fig.bendTo(l, l.Ankle, m.bendSign())
			continue
		}
		for _, v := range []*Vec3{&l.Knee, &l.Ankle, &l.Heel, &l.Ball, &l.Toe, &l.HeelEdge, &l.Tip} {
			*v = v.add(d)
		}
		l.SoleLow += d.Y
	}
	p.Mass = p.centreOfMass()
}

// bendSign is −1 for somebody who stands with the knees bent backward.
func (m *Motion) bendSign() float64 {
	if m.r.Gait == Standing && m.r.KneeStandingDeg < 0 {
		return -1
	}
	return 1
}

// frame gives the turns of pelvis, trunk and head at time t, nothing placed.
func (m *Motion) frame(t float64) Pose {
	ph := m.phase(t)
	wave := math.Cos(ph)
	p := Pose{Time: t, BeltM: m.r.SpeedMS * t}
	p.TrunkLean = rad(m.r.TrunkLeanDeg) + m.tilt
	p.HeadPitch = rad(m.r.HeadPitchDeg) - m.tilt
	if m.r.Gait != Standing {
		// At right contact the pelvis's right side is ahead, the shoulders' behind.
		p.PelvisYaw = rad(m.r.PelvisDeg) * wave
		p.ChestYaw = -rad(0.27*m.r.ArmDeg) * wave
		p.TrunkLean += rad(1.2) * math.Cos(2*ph-0.6)
		p.TrunkSide = m.r.TrunkSideDeg.swing(ph)
	}
	return p
}

// assemble places every point from p's pelvis and turns. A leg that is down
// stands on its sole; the leg of fixed, if given, is left where it is.
func (m *Motion) assemble(p *Pose, fixed *stance) {
	f, t := &m.fig, p.Time
	ph := m.phase(t)
	drop := rad(m.r.HipLevelDeg)
	var upper, elbow [2]float64
	for leg := range upper {
		wave := math.Cos(ph + math.Pi*float64(1-leg)) // +1 at the same side's contact
		upper[leg] = rad(-8-m.r.ArmDeg*0.25) - rad(m.r.ArmDeg)*wave - m.tilt
		elbow[leg] = rad(m.r.ElbowDeg) - rad(0.4*m.r.ArmDeg)*wave // the hand rises in front
		if m.r.Gait == Standing {
			upper[leg] = rad(-4)
		}
	}
	if m.r.Gait != Standing {
		drop -= m.r.PelvicDropDeg.swing(ph) // the swing side's hip is the lower one
	}
	f.placeHips(p, drop)
	n := math.Sqrt(f.neck*f.neck - m.r.HeadForwardM*m.r.HeadForwardM)
	head := Vec3{m.r.HeadForwardM, n, 0}.aboutZ(-m.tilt)
	p.ChestRoll = rad(m.r.ShoulderLevelDeg)
	f.placeArms(p, upper, elbow, head.X, p.HeadPitch)
	for leg := range p.Limbs {
		l := &p.Limbs[leg]
		toeOut := rad(m.r.ToeOutDeg.of(leg))
		if m.r.Gait == Standing {
			m.standLeg(l, leg, toeOut)
			continue
		}
		l.inward = -outward(leg) * rad(m.r.KneeInDeg.of(leg))
		s := m.legs[leg][current(m.legs[leg], t)]
		l.Down = t <= s.off || fixed != nil && fixed.leg == leg
		switch {
		case fixed != nil && fixed.leg == leg:
			f.bendTo(l, l.Ankle, 1)
			f.placeFoot(l, fixed.contact, toeOut, leg)
		case l.Down:
			f.bendTo(l, m.stanceAnkle(s, t), 1)
			f.placeFoot(l, s.sole(t), toeOut, leg)
		default:
			a, z := s.swing.at(t)
			f.hang(l, a, z)
			heel := a.ankle + a.thigh - a.knee
			f.placeFoot(l, sole{heel, heel + a.toes}, toeOut, leg)
		}
	}
	p.Mass = p.centreOfMass()
}

// stanceAnkle gives the ankle of a foot on the belt at time t.
func (m *Motion) stanceAnkle(s *stance, t float64) Vec3 {
	a := s.sole(t)
	ankle := m.fig.shoe.points(m.fig.shoe.grounded(a), a).ankle
	sin, cos := math.Sincos(rad(m.r.ToeOutDeg.of(s.leg)))
	return Vec3{s.foot.X + ankle.U*cos - m.r.SpeedMS*(t-s.on), ankle.Y, s.foot.Z + outward(s.leg)*ankle.U*sin}
}

// phase is the place in the stride, radians, continuous: a right contact is
// a multiple of 2π, a left contact π further.
func (m *Motion) phase(t float64) float64 {
	if m.r.Gait == Standing {
		return 0
	}
	k := min(current(m.steps, t), len(m.steps)-2)
	rate := func(i int) float64 { // radians per second at contact i
		lo, hi := max(0, i-1), min(len(m.steps)-1, i+1)
		return math.Pi * float64(hi-lo) / (m.steps[hi].on - m.steps[lo].on)
	}
	a, b := m.steps[k].on, m.steps[k+1].on
	start := math.Pi * float64(k) // step 0 is a right contact
	return hermite(a, b, start, start+math.Pi, rate(k), rate(k+1), t)
}

// sway is the pelvis's way to the side of the standing leg, metres.
func (m *Motion) sway(t float64) float64 {
	if m.r.Gait == Standing {
		return 0
	}
	return 0.10 * m.r.StepWidth * math.Sin(m.phase(t))
}

// flexion is 180° less the angle hip–knee–ankle in the side view, radians,
// negative where the knee is bent backward.
func flexion(hip, knee, ankle Vec3) float64 {
	a := math.Atan2(knee.X-hip.X, hip.Y-knee.Y)
	b := math.Atan2(ankle.X-knee.X, knee.Y-ankle.Y)
	return math.Remainder(a-b, 2*math.Pi)
}
