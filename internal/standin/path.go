package standin

import (
	"fmt"
	"math"
)

// path is where the centre of mass has to be at time t, in the belt's axes:
// X from its mean place, Y over the belt.
func (m *Motion) path(t float64) Vec3 {
	switch m.r.Gait {
	case Standing:
		return m.standing(t)
	case Walking:
		return Vec3{Y: m.walkHeight(t)}
	}
	s := m.steps[current(m.steps, t)]
	if t <= s.off {
		return s.carried(t, gravity*math.Cos(m.tilt))
	}
	// In flight: a parabola, tilted with the belt.
	at := t - s.off
	from := s.carried(s.off, gravity*math.Cos(m.tilt))
	return Vec3{
		X: from.X + s.drift[1]*at - gravity*math.Sin(m.tilt)*at*at/2,
		Y: from.Y + s.leave(gravity*math.Cos(m.tilt))*at - gravity*math.Cos(m.tilt)*at*at/2,
	}
}

// carried is the centre of mass in stance under the vertical force per mass
// a·sin πs + b·sin 3πs + c·sin 2πs, s = 0…1 over contact.
func (s *stance) carried(t, g float64) Vec3 {
	tc := s.off - s.on
	at := t - s.on
	u := math.Pi * at / tc
	k := tc * tc / (math.Pi * math.Pi)
	y := s.yOn + s.v0*at - g*at*at/2 +
		k*(s.a*(u-math.Sin(u))+s.b/9*(3*u-math.Sin(3*u))+s.c/4*(2*u-math.Sin(2*u)))
	w0, w1, dip := s.drift[0], s.drift[1], s.drift[2]
	x := w0*at + (w1-w0)*at*at/(2*tc) - dip*(at/2-tc*math.Sin(2*u)/(4*math.Pi))
	return Vec3{X: x, Y: y}
}

// leave is the vertical speed at toe-off.
func (s *stance) leave(g float64) float64 {
	tc := s.off - s.on
	return s.v0 - g*tc + tc*2/math.Pi*(s.a+s.b/3)
}

// carry works out the ground forces of all stances from the heights at
// contact: impulse and net rise must fit the flights before and after.
func (m *Motion) carry() {
	if m.r.Gait == Walking {
		m.carryWalking()
		return
	}
	g, gx := gravity*math.Cos(m.tilt), gravity*math.Sin(m.tilt)
	n := len(m.steps)
	flight := func(k int) float64 {
		if k < 0 || k+1 >= n {
			return 60/m.r.CadenceSPM - (m.r.ContactS.Left+m.r.ContactS.Right)/2
		}
		return m.steps[k+1].on - m.steps[k].off
	}
	height := func(k int) float64 { return m.steps[min(max(k, 0), n-1)].yOn }
	for k, s := range m.steps {
		tf := flight(k)
		s.yOff = (height(k)+height(k+1))/2 + liftOff(tf)
	}
	for k, s := range m.steps {
		before, after := flight(k-1), flight(k)
		tc := s.off - s.on
		rose := s.yOn - m.steps[max(k-1, 0)].yOff
		s.v0 = rose/before - g*before/2
		v1 := (height(k+1)-s.yOff)/after + g*after/2
		s.a = (v1 - s.v0 + g*tc) / (tc * 2 / math.Pi * (1 + m.bend/3))
		s.b = m.bend * s.a
		s.c = 2 * math.Pi * ((s.yOff-s.yOn-s.v0*tc+g*tc*tc/2)/(tc*tc) - s.a/math.Pi - s.b/(3*math.Pi))
		ease := 0.02 * m.r.SpeedMS
		w0, w1 := ease-gx*before/2, ease+gx*after/2
		s.drift = [3]float64{w0, w1, w0 + w1 + 2*ease*after/tc}
	}
}

// liftOff is how much higher the centre of mass is at toe-off than at
// contact, the leg being longer: a third of what flight time tf allows, at
// most 18 mm (Cavagna 2006, J Exp Biol 209:4051–4060, for the asymmetry of
// landing and take-off; sizes from memory).
func liftOff(tf float64) float64 { return math.Min(0.018, gravity*tf*tf/6) }

// bendForce chooses the share of sin 3πs in the ground force that gives the
// runner's bounce. The force must not pull: the share lies in −1/3…1.
func (m *Motion) bendForce() error {
	if m.r.Gait != Running || m.r.BounceM == 0 {
		return nil
	}
	tc := (m.r.ContactS.Left + m.r.ContactS.Right) / 2
	tf := 60/m.r.CadenceSPM - tc
	bounce := func(share float64) float64 {
		s := stance{off: tc, yOff: liftOff(tf)}
		v1 := gravity*tf/2 - s.yOff/tf
		s.v0 = -gravity*tf/2 - s.yOff/tf
		s.a = (v1 - s.v0 + gravity*tc) / (tc * 2 / math.Pi * (1 + share/3))
		s.b = share * s.a
		s.c = 2 * math.Pi * ((s.yOff-s.v0*tc+gravity*tc*tc/2)/(tc*tc) - s.a/math.Pi - s.b/(3*math.Pi))
		low, high := 0.0, 0.0
		for i := range 401 {
			y := s.carried(tc*float64(i)/400, gravity).Y
			low, high = math.Min(low, y), math.Max(high, y)
		}
		return math.Max(high, s.yOff+v1*v1/(2*gravity)) - low
	}
	low, high := -0.3, 0.6
	least, most := bounce(high), bounce(low)
	if m.r.BounceM < least || m.r.BounceM > most {
		return fmt.Errorf("invented runner: with this cadence and contact time the bounce is %.1f to %.1f cm, not %.1f cm",
			100*least, 100*most, 100*m.r.BounceM)
	}
	for range 60 {
		mid := (low + high) / 2
		if bounce(mid) > m.r.BounceM {
			low = mid
		} else {
			high = mid
		}
	}
	m.bend = (low + high) / 2
	return nil
}

// Walking: the centre of mass goes like a pendulum on its head between its lowest height
// in the middle of double support and its highest in the middle of single
// support.

// walkNodes gives the times of the low after contact k and the high after it.
func (m *Motion) walkNodes(k int) (low, high float64) {
	n := len(m.steps)
	end := m.steps[k].on
	if k > 0 {
		end = m.steps[k-1].off
	} else {
		end += m.steps[0].off - m.steps[1].on
	}
	next := m.steps[min(k+1, n-1)].on
	if k+1 >= n {
		next = m.steps[k].on + 60/m.r.CadenceSPM
	}
	return m.steps[k].on + 0.3*(end-m.steps[k].on), (end + next) / 2
}

func (m *Motion) walkTop(k int) float64 {
	k = max(k, 0)
	return (m.steps[k].yLow+m.steps[min(k+1, len(m.steps)-1)].yLow)/2 + m.r.BounceM
}

func (m *Motion) walkHeight(t float64) float64 {
	k := current(m.steps, t)
	low, high := m.walkNodes(k)
	// between goes from the top at a to the low at b (or back, a > b), like
	// an inverted pendulum with its corner rounded off: w² near the top.
	between := func(a, b, top, low float64) float64 {
		w := clamp((t-a)/(b-a), 0, 1)
		w *= w
		return top + (low-top)*w*(1.235+w*(0.53-0.765*w))
	}
	s := m.steps[k]
	switch {
	case t < low:
		before := low - 60/m.r.CadenceSPM/2
		if k > 0 {
			_, before = m.walkNodes(k - 1)
		}
		return between(before, low, m.walkTop(k-1), s.yLow)
	case t < high || k+1 >= len(m.steps):
		return between(high, low, m.walkTop(k), s.yLow)
	default:
		next, _ := m.walkNodes(k + 1)
		return between(high, next, m.walkTop(k), m.steps[k+1].yLow)
	}
}

// carryWalking moves the lows so that the height at each contact is the one
// its leg needs.
func (m *Motion) carryWalking() {
	for range 30 {
		for _, s := range m.steps {
			s.yLow += s.yOn - m.walkHeight(s.on)
		}
	}
}

// possible tells whether the solved motion is one that legs can make: nobody
// is pulled off the ground, no leg is too short, no foot sinks in.
func (m *Motion) possible() error {
	reach := m.fig.thigh + m.fig.shank
	least := 1e-4 // m
	if m.r.SpeedMS == 0 {
		least = 5e-4
	}
	for t := 0.0; t <= m.seconds; t += 1.0 / 240 {
		p := m.pose(t)
		for leg := range p.Limbs {
			l := &p.Limbs[leg]
			if l.Down && l.Ankle.sub(l.Hip).norm() > 0.9995*reach {
				return fmt.Errorf("invented runner: at %.3f s the leg is too short to reach the ground; shorten contact or landing, or bend the knee more", t)
			}
			if flexion(l.Hip, l.Knee, l.Ankle) < rad(0.3) {
				return fmt.Errorf("invented runner: at %.3f s the knee would bend backward", t)
			}
			if l.SoleLow < -least {
				return fmt.Errorf("invented runner: at %.3f s the foot sinks into the ground by %.1f mm", t, -1000*l.SoleLow)
			}
		}
	}
	return nil
}
