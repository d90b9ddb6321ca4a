package standin

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// draw plans the steps and solves the motion.
func (m *Motion) draw(rng *rand.Rand, calms []float64) error {
	steps, err := planSteps(m.r, &m.fig, m.seconds, rng)
	if err != nil {
		return err
	}
	m.steps, m.legs = steps, [2][]*stance{}
	m.layGround(rng)
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
// the thigh (radians), a faster fall on the ground (m/s), and a quicker thigh
// as the toe leaves (rad/s).
type trim struct{ peak, late, lift, fall, spring float64 }

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
		case at > 0.15:
			m.trim.peak += 6 * short
		default:
			m.trim.spring += 60 * short
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
			for k := 1; k < parts; k++ {
				u := float64(k) / parts
				t := s.swing.from + u*(s.swing.to-s.swing.from)
				p := m.pose(t)
				keep := math.Min(0.010, 0.12*(s.swing.to-t))
				switch {
				case u > 0.15:
				case m.r.Gait == Running: // the shoe's tip rises by 12 mm in 55 ms
					keep = 0.001 * float64(k*(k+1))
				default:
					keep = 0.001 * float64(k-1)
				}
				if short := keep - p.Limbs[leg].SoleLow; short > worst {
					at, low, worst = u, p.Limbs[leg].SoleLow, short
				}
			}
		}
	}
	return at, low
}

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
	fall := 0.55 + 0.06*m.r.SpeedMS + m.trim.fall
	// At 50 N the foot still moves forward on the belt by half the belt's speed
	// and falls at 0.8 m/s (the same data).
	forward := 0.1 + 0.4*m.r.SpeedMS
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
// spring adds as it leaves; leastSpring keeps slow runners' feet from
// hovering over the belt.
const (
	springThigh = 0.7
	springKnee  = 1.8
	leastSpring = 1.7
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
	top := 0.72 // of the swing: where the thigh is furthest forward
	if m.r.ThighLiftDeg > 0 {
		lift = rad(m.r.ThighLiftDeg)
	}
	if m.r.SpeedMS == 0 { // up and down again
		top, mid, late = 0.50, 0.46, 0.30
	}
	// The shoe leaves a little faster than it rolls. Carried on from heel and
	// metatarsal markers, the tip of a real one rises by 1, 3 and 8 mm in the
	// 10, 20 and 40 ms after the vertical force passed 50 N, and the knee is
	// straightest 10 ms after it (Fukuchi et al. 2017, doi 10.7717/peerj.3298,
	// one runner at 2.5 m/s).
	if m.r.Gait == Running {
		spring := 3.0 // on the spot
		if m.r.SpeedMS > 1 {
			spring = math.Max(m.r.SpeedMS/2.5, leastSpring)
		}
		rate.thigh += springThigh*spring + m.trim.spring
		rate.knee += springKnee * spring
	}
	lift += m.trim.lift
	peak += m.trim.peak
	bent := end.knee + late*(peak-end.knee) + m.trim.late
	w.thigh = newSpline([]float64{0, top, 1}, []float64{s.start.thigh, lift, end.thigh}, rate.thigh*d, rateIn.thigh*d)
	w.knee = newSpline([]float64{0, mid, 0.80, 1}, []float64{s.start.knee, peak, bent, end.knee}, rate.knee*d, rateIn.knee*d)
	w.ankle = newSpline([]float64{0, 0.5, 1}, []float64{s.start.ankle, rad(-4), end.ankle}, rate.ankle*d, rateIn.ankle*d)
	w.toes = newSpline([]float64{0, 0.4, 1}, []float64{s.start.toes, end.toes, end.toes}, rate.toes*d, 0)
	s.swing = w
}
