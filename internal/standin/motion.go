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
	calm    float64 // part of each change that is taken at once in solving
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

// draw plans the steps and solves the motion.
func (m *Motion) draw(rng *rand.Rand, calms []float64) error {
	steps, err := planSteps(m.r, &m.fig, m.seconds, rng)
	if err != nil {
		return err
	}
	m.steps, m.legs = steps, [2][]*stance{}
	for _, s := range steps {
		m.legs[s.leg] = append(m.legs[s.leg], s)
	}
	for _, m.calm = range calms {
		m.guess()
		if err = m.settle(); err == nil {
			break
		}
	}
	return err
}

// trim is what the swing needs beyond the ordinary to keep the foot off the
// ground: more knee flexion at its peak and late in the swing, more lift of
// the thigh (radians), and a faster fall on the ground (m/s).
type trim struct{ peak, late, lift, fall float64 }

// settle solves the motion, and bends the swinging leg more until no foot
// scuffs the ground.
func (m *Motion) settle() error {
	const tries = 14
	for range tries {
		if err := m.solve(2e-3, int(30/m.calm)); err != nil {
			return err
		}
		at, low := m.scuff()
		if at < 0 {
			if err := m.solve(1e-6, int(60/m.calm)); err != nil {
				return err
			}
			return m.possible()
		}
		short := clamp(0.012-low, 0.002, 0.03)
		switch {
		case at > 0.85:
			m.trim.fall += 6 * short
			m.trim.late += 1.5 * short
		case at > 0.5:
			m.trim.late += 5 * short
			m.trim.lift += 1.5 * short
		default:
			m.trim.peak += 6 * short
		}
		for leg := range m.legs {
			for i, s := range m.legs[leg] {
				m.buildSwing(leg, i, s.rateOut, s.rateIn)
			}
		}
	}
	return fmt.Errorf("invented runner: the swinging foot can't be kept off the ground")
}

// scuff finds the swing's place (0…1) where a foot comes lowest over the
// ground against what it should keep, and how low; −1 where none is too low.
func (m *Motion) scuff() (at, low float64) {
	at, worst := -1.0, 0.0
	for leg := range m.legs {
		for i, s := range m.legs[leg] {
			if i == 0 || i+1 >= len(m.legs[leg]) {
				continue
			}
			const parts = 24
			for k := 2; k < parts; k++ {
				u := float64(k) / parts
				t := s.swing.from + u*(s.swing.to-s.swing.from)
				p := m.pose(t)
				keep := math.Min(0.010, 0.12*(s.swing.to-t))
				if u < 0.15 {
					keep = 0.001
				}
				if short := keep - p.Limbs[leg].SoleLow; short > worst {
					at, low, worst = u, p.Limbs[leg].SoleLow, short
				}
			}
		}
	}
	return at, low
}

// Runner gives the runner the motion was built from.
func (m *Motion) Runner() Runner { return m.r }

// guess fills in ordinary angles, so that there is a pose to start from.
func (m *Motion) guess() {
	m.trim = trim{}
	reach := m.fig.thigh + m.fig.shank
	for _, s := range m.steps {
		s.rateOut = legAngles{}
		s.offSole = sole{heel: rad(-52), toe: rad(-22)}
		s.yOn = 0.95*reach + 0.16*m.r.HeightM
		s.yLow = s.yOn - 0.01
		s.start = legAngles{thigh: rad(-22), knee: rad(m.r.KneeToeOffDeg), ankle: rad(-15), toes: rad(30)}
		s.end = legAngles{thigh: rad(22), knee: s.knee}
		s.foot = Vec3{X: s.landing, Z: outward(s.leg) * m.r.StepWidth / 2}
	}
	m.carry()
	for leg := range m.legs {
		for i := range m.legs[leg] {
			m.buildSwing(leg, i, legAngles{}, legAngles{})
		}
	}
}

// solve makes contact heights, toe-off angles and swings agree with the path
// of the centre of mass, by repeated substitution, until no height (m) and no
// angle (rad) changes by more than within.
func (m *Motion) solve(within float64, rounds int) error {
	change := 0.0
	for range rounds {
		change = 0
		for k := range m.steps {
			change = math.Max(change, m.solveContact(k))
		}
		m.carry()
		for leg := range m.legs {
			for i := range m.legs[leg] {
				change = math.Max(change, m.solveSwing(leg, i))
			}
		}
		if change < within {
			return nil
		}
	}
	return fmt.Errorf("invented runner: no motion fits these numbers together (still off by %.2g)", change)
}

// solveContact finds how high the centre of mass is at contact k, so that
// landing distance and knee flexion come out as planned, and puts the foot
// there. It gives the change of the height.
func (m *Motion) solveContact(k int) float64 {
	s := m.steps[k]
	if k < 2 { // before the plan's first stride there is no whole pose
		s.yOn, s.foot = m.steps[k+2].yOn, m.steps[k+2].foot
		return 0
	}
	target := m.path(s.on)
	toeOut := rad(m.r.ToeOutDeg.of(s.leg))
	ankle := m.fig.shoe.points(m.fig.shoe.grounded(s.contact), s.contact).ankle
	inPlane := s.knee
	p := m.frame(s.on)
	p.Pelvis = Vec3{target.X, target.Y - 0.05, m.sway(s.on)}
	p.Limbs[s.leg].Ankle = s.foot.add(Vec3{X: ankle.U, Y: ankle.Y})
	m.assemble(&p, s)
	for range 40 {
		ahead := (s.landing - math.Sin(m.tilt)*(p.Mass.Y-ankle.Y)) / math.Cos(m.tilt)
		out := outward(s.leg) * (m.r.StepWidth/2 + (ankle.U-m.restU())*math.Sin(toeOut))
		place := Vec3{target.X + ahead, ankle.Y, out}
		l := &p.Limbs[s.leg]
		a, _ := m.fig.bendTo(l, place, 1)
		m.fig.placeFoot(l, s.contact, toeOut, s.leg)
		inPlane = s.knee + a.knee - flexion(l.Hip, l.Knee, l.Ankle)
		reach := math.Sqrt(m.fig.thigh*m.fig.thigh + m.fig.shank*m.fig.shank + 2*m.fig.thigh*m.fig.shank*math.Cos(inPlane))
		dx, dz := l.Hip.X-place.X, l.Hip.Z-place.Z
		up := math.Sqrt(math.Max(reach*reach-dx*dx-dz*dz, 1e-4))
		s.foot = Vec3{place.X - ankle.U*math.Cos(toeOut), 0, place.Z - outward(s.leg)*ankle.U*math.Sin(toeOut)}
		step := Vec3{target.X - p.Mass.X, place.Y + up - l.Hip.Y, 0}
		if step.norm() < 1e-11 {
			break
		}
		m.shift(&p, step)
	}
	change := math.Abs(p.Mass.Y - s.yOn)
	s.yOn += m.calm * (p.Mass.Y - s.yOn)
	return change
}

// restU is how far the ankle lies from the flat foot's ball, along the foot.
func (m *Motion) restU() float64 { return m.fig.shoe.ankleU - m.fig.shoe.ballU }

// solveSwing finds the toe-off's sole and both ends of the swing after stance
// i of the leg. It gives the largest change of an angle.
func (m *Motion) solveSwing(leg, i int) float64 {
	s := m.legs[leg][i]
	m.solveToeOff(s)
	const h = 1e-4
	at := func(t float64) legAngles {
		p := m.pose(t)
		return m.anglesOf(&p, leg)
	}
	end, before, earlier := at(s.off), at(s.off-h), at(s.off-2*h)
	rate := end.scale(1.5).sub(before.scale(2)).sub(earlier.scale(-0.5)).scale(1 / h)
	change := 0.0
	if i > 0 {
		change = largest(end.sub(s.start))
	}
	s.start = end
	var rateIn legAngles
	if i+1 < len(m.legs[leg]) {
		next := m.legs[leg][i+1]
		landing := at(next.on)
		change = math.Max(change, largest(landing.sub(next.end)))
		next.end = landing
		rateIn = m.approach(next)
	}
	if s.rateOut != (legAngles{}) {
		rate = s.rateOut.mix(rate, 0.7*m.calm)
	}
	s.rateOut, s.rateIn = rate, rateIn
	m.buildSwing(leg, i, rate, rateIn)
	return change
}

func largest(a legAngles) float64 {
	return math.Max(math.Max(math.Abs(a.thigh), math.Abs(a.knee)), math.Max(math.Abs(a.ankle), math.Abs(a.toes)))
}

// solveToeOff turns the foot at toe-off so that the knee has the planned
// flexion there, as far as a foot can.
func (m *Motion) solveToeOff(s *stance) {
	p := m.pose(s.off)
	l := p.Limbs[s.leg]
	want := rad(m.r.KneeToeOffDeg)
	low, high := rad(-80), rad(-28)
	for range 50 {
		mid := (low + high) / 2
		trial := *s
		trial.offSole = sole{heel: mid, toe: toeAtOff(mid)}
		a, ok := m.fig.bendTo(&l, m.stanceAnkle(&trial, s.off), 1)
		if !ok || a.knee < want {
			high = mid // raise the heel: bring the ankle nearer to the hip
		} else {
			low = mid
		}
	}
	heel := (low + high) / 2
	s.offSole = sole{heel: heel, toe: toeAtOff(heel)}
}

// toeAtOff is the toe part's turn at toe-off that goes with the heel part's.
func toeAtOff(heel float64) float64 { return math.Min(-0.30, 0.45*heel) }

// approach gives the rates of the leg's angles just before contact s: the
// sole comes down and forward on the belt, turning as it will after contact.
func (m *Motion) approach(s *stance) legAngles {
	const h = 1e-3
	turn := (s.sole(s.on+h/8).heel - s.contact.heel) / (h / 8)
	pts := m.fig.shoe.points(m.fig.shoe.grounded(s.contact), s.contact)
	touch := pts.ball
	if s.contact.heel > 0 {
		touch = pts.heelEdge
	}
	arm := pts.ankle.sub(touch)
	fall := 0.45 + 0.04*m.r.SpeedMS + m.trim.fall
	forward := 0.1 + 0.15*m.r.SpeedMS
	if m.r.Gait == Walking {
		fall, forward = 0.25+m.trim.fall, 0.15
	}
	v := Vec3{forward - m.r.SpeedMS - turn*arm.Y, -fall + turn*arm.U, 0}
	now := m.pose(s.on)
	hips := m.path(s.on).sub(m.path(s.on - h)) // in h, near enough
	end := m.anglesOf(&now, s.leg)
	l := now.Limbs[s.leg]
	l.Hip = l.Hip.sub(hips)
	a, _ := m.fig.bendTo(&l, l.Ankle.sub(v.scale(h)), 1)
	a.ankle = (s.contact.heel - turn*h) - (a.thigh - a.knee)
	a.toes = end.toes
	return end.sub(a).scale(1 / h)
}

// anglesOf reads a leg's angles off a pose that still has the belt's axes.
func (m *Motion) anglesOf(p *Pose, leg int) legAngles {
	l := p.Limbs[leg]
	a, _ := m.fig.bendTo(&l, l.Ankle, 1)
	a.ankle = l.HeelPitch - (a.thigh - a.knee)
	a.toes = l.ToePitch - l.HeelPitch
	return a
}

// springThigh and springKnee are the rates, rad/s at 2.5 m/s, that the toe's
// spring adds as it leaves.
const (
	springThigh = 2.2
	springKnee  = 5.4
)

// buildSwing lays the splines from the stance's start angles to the next
// stance's end angles with the given rates (radians per second).
func (m *Motion) buildSwing(leg, i int, rate, rateIn legAngles) {
	s := m.legs[leg][i]
	stride := m.r.stepTimes()
	w := swing{from: s.off, to: s.on + stride.Left + stride.Right}
	end := s.end
	end.toes = 0
	if i+1 < len(m.legs[leg]) {
		next := m.legs[leg][i+1]
		w.to, end = next.on, next.end
		w.z1 = m.stanceAnkle(next, next.on).Z
	} else {
		w.z1 = m.stanceAnkle(s, s.on).Z
	}
	w.z0 = m.stanceAnkle(s, s.off).Z
	d := w.to - w.from
	lift := math.Max(rad(20+5*m.r.SpeedMS), end.thigh+rad(7))
	peak, mid, late := rad(m.r.KneeSwingDeg), 0.42, 0.34
	if m.r.Gait == Walking {
		lift, mid, late = end.thigh+rad(3), 0.36, 0.30
	}
	// The loaded forefoot springs off: where the vertical force has fallen to
	// 50 N, the toe's rolling point already rises at 0.3 m/s (Fukuchi et al.
	// 2017, doi 10.7717/peerj.3298, one runner at 2.5 m/s).
	if m.r.Gait == Running {
		spring := math.Max(m.r.SpeedMS/2.5, 1)
		rate.thigh += springThigh * spring
		rate.knee += springKnee * spring
	}
	lift += m.trim.lift
	peak += m.trim.peak
	bent := end.knee + late*(peak-end.knee) + m.trim.late
	w.thigh = newSpline([]float64{0, 0.72, 1}, []float64{s.start.thigh, lift, end.thigh}, rate.thigh*d, rateIn.thigh*d)
	w.knee = newSpline([]float64{0, mid, 0.80, 1}, []float64{s.start.knee, peak, bent, end.knee}, rate.knee*d, rateIn.knee*d)
	w.ankle = newSpline([]float64{0, 0.5, 1}, []float64{s.start.ankle, rad(-4), end.ankle}, rate.ankle*d, rateIn.ankle*d)
	w.toes = newSpline([]float64{0, 0.4, 1}, []float64{s.start.toes, end.toes, end.toes}, rate.toes*d, 0)
	s.swing = w
}

// current finds the last stance of a time-ordered list that began by t.
func current(list []*stance, t float64) int {
	return max(0, sort.Search(len(list), func(i int) bool { return list[i].on > t })-1)
}

// Pose gives the figure at time t, 0 to the motion's length.
func (m *Motion) Pose(t float64) Pose {
	p := m.pose(t)
	shift := 0.0
	if !m.r.Treadmill {
		shift = m.r.SpeedMS * t
	}
	p.eachPoint(func(v *Vec3) {
		v.X += shift
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
	}
	return p
}

// assemble places every point from p's pelvis and turns. A leg that is down
// stands on its sole; the leg of fixed, if given, is left where it is.
func (m *Motion) assemble(p *Pose, fixed *stance) {
	f, t := &m.fig, p.Time
	ph := m.phase(t)
	drop := 0.0
	var upper, elbow [2]float64
	for leg := range upper {
		wave := math.Cos(ph + math.Pi*float64(1-leg)) // +1 at the same side's contact
		upper[leg] = rad(-8-m.r.ArmDeg*0.25) - rad(m.r.ArmDeg)*wave - m.tilt
		elbow[leg] = rad(m.r.ElbowDeg) + rad(0.3*m.r.ArmDeg)*wave
		if m.r.Gait == Standing {
			upper[leg] = rad(-4)
		}
	}
	if m.r.Gait != Standing {
		drop = -rad(4) * math.Sin(ph-0.3) // the swing side's hip is the lower one
	}
	f.placeHips(p, drop)
	n := math.Sqrt(f.neck*f.neck - m.r.HeadForwardM*m.r.HeadForwardM)
	head := Vec3{m.r.HeadForwardM, n, 0}.aboutZ(-m.tilt)
	f.placeArms(p, upper, elbow, head.X, p.HeadPitch)
	for leg := range p.Limbs {
		l := &p.Limbs[leg]
		toeOut := rad(m.r.ToeOutDeg.of(leg))
		if m.r.Gait == Standing {
			m.standLeg(l, leg, toeOut)
			continue
		}
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
