package standin

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// stance is one time of a foot on the ground and the swing that follows it.
// The upper half is the plan; the lower half is solved by Motion.
type stance struct {
	leg     int
	on, off float64 // contact and toe-off, seconds
	landing float64 // ankle ahead of the centre of mass at contact, metres
	knee    float64 // flexion at contact, radians
	contact sole
	gap     float64 // heel kept up in mid-stance, radians

	offSole sole
	foot    Vec3 // where the ball is at contact with the foot flat
	yOn     float64
	yOff    float64
	a, b, c float64 // ground force: sin πs, sin 3πs, sin 2πs parts, m/s²
	v0      float64 // vertical speed of the centre of mass at contact
	drift   [3]float64
	yLow    float64 // walking: lowest height of the centre of mass
	start   legAngles
	end     legAngles
	swing   swing
	rateOut legAngles // at the start and the end of the swing, radians per second
	rateIn  legAngles
}

// swing is a leg's way through the air: splines over 0…1 of its duration.
type swing struct {
	from, to                 float64
	z0, z1                   float64
	thigh, knee, ankle, toes spline
}

func (w *swing) at(t float64) (legAngles, float64) {
	u := clamp((t-w.from)/(w.to-w.from), 0, 1)
	a := legAngles{w.thigh.at(u), w.knee.at(u), w.ankle.at(u), w.toes.at(u)}
	ease := u * u * (3 - 2*u)
	return a, w.z0 + (w.z1-w.z0)*ease
}

// lead is how far, in strides, the plan reaches beyond the clip at both ends.
const lead = 2

// planSteps lays out contacts and toe-offs from lead strides before 0 to lead
// strides after seconds, with the runner's spread drawn from rng (nil: none).
func planSteps(r Runner, f *figure, seconds float64, rng *rand.Rand) ([]*stance, error) {
	spread := func(sd float64) float64 {
		if rng == nil || r.StepSpread == 0 {
			return 0
		}
		return clamp(rng.NormFloat64(), -2.5, 2.5) * sd * r.StepSpread
	}
	times := r.stepTimes()
	stride := times.Left + times.Right
	t := -(r.StartStride - math.Floor(r.StartStride) + lead) * stride
	var steps []*stance
	for leg := legRight; t < seconds+lead*stride; leg = 1 - leg {
		if n := len(steps); n > 0 {
			t += times.of(leg) * (1 + spread(0.010))
		}
		strike := rad(r.FootContactDeg.of(leg) + spread(1.5))
		s := &stance{
			leg: leg, on: t,
			off:     t + r.ContactS.of(leg)*(1+spread(0.012)),
			landing: r.LandingM.of(leg) + spread(0.007),
			knee:    rad(math.Max(1.5, r.KneeContactDeg.of(leg)+spread(1.5))),
			contact: f.shoe.contactSole(strike, rad(r.ToeOutDeg.of(leg))),
		}
		if s.contact.heel < 0 {
			s.gap = math.Min(rad(r.HeelGapDeg), -0.6*s.contact.heel)
		}
		steps = append(steps, s)
	}
	for k := 1; k < len(steps); k++ {
		flight := steps[k].on - steps[k-1].off
		if r.Gait == Running && flight < 0.008 {
			return nil, fmt.Errorf("invented runner: contact of %.3f s at %.0f steps/min leaves no flight", steps[k-1].off-steps[k-1].on, r.CadenceSPM)
		}
		if r.Gait == Walking && flight > -0.02 {
			return nil, fmt.Errorf("invented runner: walking needs both feet down between steps; contact of %.3f s at %.0f steps/min does not give it", steps[k-1].off-steps[k-1].on, r.CadenceSPM)
		}
	}
	return steps, nil
}

// sole gives how the foot stands at time t between contact and toe-off:
// down from the heel (or the ball), flat, up over the ball, off over the tip.
func (s *stance) sole(t float64) sole {
	contact := s.off - s.on
	at := t - s.on
	rest := -s.gap
	down := 0.035 + 0.14*math.Abs(s.contact.heel)
	if s.contact.heel < 0 {
		down = 0.28 * contact
	}
	down = math.Min(down, 0.3*contact)
	out := sole{heel: rest}
	if at < down {
		u := 1 - at/down
		out.heel = rest + (s.contact.heel-rest)*u*u
		out.toe = math.Max(out.heel, 0)
	}
	// rise goes 0 → 1 with slope 0 at the start and 1.5 at the end.
	rise := func(from float64) float64 {
		u := clamp((at/contact-from)/(1-from), 0, 1)
		return u * u * (1.5 - 0.5*u)
	}
	out.heel += (s.offSole.heel - rest) * rise(heelRise)
	out.toe += s.offSole.toe * rise(toeRise)
	return out
}

// Heel and toes begin to leave the ground at these parts of contact time.
const (
	heelRise = 0.45
	toeRise  = 0.62
)
