package standin

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"plumbstride/internal/form"
)

// Value is the true value of one measure of design/measures.md in its unit:
// the mean over the N steps (strides, stances) that lie whole in the clip,
// and their standard deviation.
type Value struct {
	Name, Unit string
	Side       form.Side
	Value, SD  float64
	N          int
}

// Truth is everything that is true of a clip of the invented runner: all
// contacts and toe-offs in it, in time order, and every measure, computed
// from the joints in three dimensions seen exactly from the side at the
// exact times of the events.
type Truth struct {
	Events []form.Event
	Values []Value
}

// Value finds a measure by name, unit and side; an empty unit takes the
// first of that name.
func (t Truth) Value(name, unit string, side form.Side) (Value, bool) {
	for _, v := range t.Values {
		if v.Name == name && v.Side == side && (unit == "" || v.Unit == unit) {
			return v, true
		}
	}
	return Value{}, false
}

// tally collects single values of measures.
type tally struct {
	order []key
	all   map[key][]float64
}

type key struct {
	name, unit string
	side       form.Side
}

func (t *tally) add(name, unit string, side form.Side, v float64) {
	if t.all == nil {
		t.all = map[key][]float64{}
	}
	k := key{name, unit, side}
	if _, ok := t.all[k]; !ok {
		t.order = append(t.order, k)
	}
	t.all[k] = append(t.all[k], v)
}

// sided adds the value to its side and to both.
func (t *tally) sided(name, unit string, side form.Side, v float64) {
	t.add(name, unit, side, v)
	t.add(name, unit, form.Both, v)
}

func (t *tally) values() []Value {
	out := make([]Value, 0, len(t.order))
	for _, k := range t.order {
		xs := t.all[k]
		mean, sq := 0.0, 0.0
		for _, x := range xs {
			mean += x / float64(len(xs))
		}
		for _, x := range xs {
			sq += (x - mean) * (x - mean)
		}
		sd := 0.0
		if len(xs) > 1 {
			sd = math.Sqrt(sq / float64(len(xs)-1))
		}
		out = append(out, Value{Name: k.name, Unit: k.unit, Side: k.side, Value: mean, SD: sd, N: len(xs)})
	}
	return out
}

func sideOf(leg int) form.Side {
	if leg == legLeft {
		return form.Left
	}
	return form.Right
}

// Truth gives the truth of the clip from 0 to the motion's length. near is
// the side turned to the camera, whose mid-stance counts in the stack
// measured for both.
func (m *Motion) Truth(near form.Side) Truth {
	if m.r.Gait == Standing {
		return m.standingTruth()
	}
	var t tally
	m.timesTruth(&t)
	lean := m.strideTruth(&t)
	for k, s := range m.steps {
		if s.on < 0 || s.off >= m.seconds {
			continue
		}
		m.contactTruth(&t, s)
		m.midstanceTruth(&t, s, lean, near)
		m.kneeLiftTruth(&t, s)
		m.frontalTruth(&t, k)
		if k+1 < len(m.steps) && m.steps[k+1].on < m.seconds {
			low, high := math.Inf(1), math.Inf(-1)
			const parts = 240
			for i := range parts + 1 {
				y := m.Pose(s.on + (m.steps[k+1].on-s.on)*float64(i)/parts).Mass.Y
				low, high = math.Min(low, y), math.Max(high, y)
			}
			t.add("vertical_oscillation", "cm", form.Both, 100*(high-low))
		}
	}
	t.add("speed", "m/s", form.Both, m.r.SpeedMS)
	out := Truth{Values: t.values()}
	out.Values = append(out.Values, m.stiffness(out)...)
	out.Values = append(out.Values, frontalDifference(out.Values)...)
	slices.SortStableFunc(out.Values, func(a, b Value) int {
		return cmp.Or(strings.Compare(a.Name, b.Name), strings.Compare(a.Unit, b.Unit), cmp.Compare(a.Side, b.Side))
	})
	out.Events = m.events()
	return out
}

// events lists contacts and toe-offs from 0 to the clip's end.
func (m *Motion) events() []form.Event {
	var out []form.Event
	add := func(kind form.EventKind, leg int, at float64) {
		if at < 0 || at >= m.seconds {
			return
		}
		i := len(out)
		for i > 0 && out[i-1].Time > at {
			i--
		}
		out = append(out, form.Event{})
		copy(out[i+1:], out[i:])
		out[i] = form.Event{Kind: kind, Side: sideOf(leg), Time: at}
	}
	for _, s := range m.steps {
		add(form.Contact, s.leg, s.on)
		add(form.ToeOff, s.leg, s.off)
	}
	return out
}

// timesTruth adds the measures of time.
func (m *Motion) timesTruth(t *tally) {
	var first, last float64
	n := -1
	var step [2][]float64
	for k, s := range m.steps {
		if s.on < 0 || s.on >= m.seconds {
			continue
		}
		if n++; n == 0 {
			first = s.on
		} else {
			step[s.leg] = append(step[s.leg], s.on-m.steps[k-1].on)
		}
		last = s.on
		side := sideOf(s.leg)
		if s.off < m.seconds {
			t.sided("contact_time", "ms", side, 1000*(s.off-s.on))
		}
		if k+1 < len(m.steps) && m.steps[k+1].on < m.seconds && m.r.Gait == Running {
			t.sided("flight_time", "ms", side, 1000*(m.steps[k+1].on-s.off))
		}
		if k+2 < len(m.steps) && m.steps[k+2].on < m.seconds {
			t.sided("duty_factor", "–", side, (s.off-s.on)/(m.steps[k+2].on-s.on))
		}
	}
	if n > 0 {
		t.add("cadence", "steps/min", form.Both, 60*float64(n)/(last-first))
	}
	l, r := mean(step[legLeft]), mean(step[legRight])
	if !math.IsNaN(l) && !math.IsNaN(r) {
		t.add("step_time_asymmetry", "%", form.Both, 100*math.Abs(l-r)/((l+r)/2))
	}
}

func mean(xs []float64) float64 {
	sum := 0.0
	for _, x := range xs {
		sum += x
	}
	return sum / float64(len(xs))
}

// lean is the angle of a→b to the vertical in the side view, degrees,
// forward positive.
func lean(a, b Vec3) float64 { return deg(math.Atan2(b.X-a.X, b.Y-a.Y)) }

// strideTruth adds the means over whole strides, and gives the trunk's lean.
func (m *Motion) strideTruth(t *tally) float64 {
	var total, count float64
	for i, s := range m.legs[legRight] {
		if s.on < 0 || i+1 >= len(m.legs[legRight]) || m.legs[legRight][i+1].on >= m.seconds {
			continue
		}
		const parts = 60
		var trunk, ahead, angle float64
		for k := range parts {
			p := m.Pose(s.on + (m.legs[legRight][i+1].on-s.on)*(float64(k)+0.5)/parts)
			trunk += lean(p.Pelvis, p.Chest) / parts
			ahead += 100 * (p.Head.X - p.Chest.X) / parts
			angle += (lean(p.Chest, p.Head) - lean(p.Pelvis, p.Chest)) / parts
		}
		t.add("trunk_lean", "deg", form.Both, trunk)
		t.add("head_forward", "cm", form.Both, ahead)
		t.add("head_forward", "deg", form.Both, angle)
		total, count = total+trunk, count+1
	}
	return total / count
}

// contactTruth adds what is measured at contact and over one stance.
func (m *Motion) contactTruth(t *tally, s *stance) {
	side := sideOf(s.leg)
	p := m.Pose(s.on)
	l := &p.Limbs[s.leg]
	flat := m.flatFoot(s.leg)
	incline := deg(m.tilt)
	strike := deg(math.Atan2(l.Toe.Y-l.Heel.Y, l.Toe.X-l.Heel.X)) - incline - flat
	t.sided("foot_strike_angle", "deg", side, strike)
	leg := m.fig.thigh + m.fig.shank
	t.sided("landing_distance", "cm", side, 100*(l.Ankle.X-p.Mass.X))
	t.sided("landing_distance", "% leg length", side, 100*(l.Ankle.X-p.Mass.X)/leg)
	t.sided("heel_landing_distance", "cm", side, 100*(l.Heel.X-p.Mass.X))
	t.sided("shank_angle", "deg", side, deg(math.Atan2(l.Ankle.X-l.Knee.X, l.Knee.Y-l.Ankle.Y)))
	t.sided("knee_flexion_contact", "deg", side, deg(flexion(l.Hip, l.Knee, l.Ankle)))
	peak := math.Inf(-1)
	const parts = 200
	for i := range parts + 1 {
		q := m.Pose(s.on + (s.off-s.on)*float64(i)/parts)
		l := &q.Limbs[s.leg]
		peak = math.Max(peak, deg(flexion(l.Hip, l.Knee, l.Ankle)))
	}
	t.sided("knee_flexion_peak", "deg", side, peak)
}

// flatFoot is the side view's angle of heel→toe to the belt, foot flat.
func (m *Motion) flatFoot(leg int) float64 {
	sh := m.fig.shoe
	return deg(math.Atan2(sh.toeY-sh.heelY, sh.length*math.Cos(rad(m.r.ToeOutDeg.of(leg)))))
}

// midstanceTruth adds what is measured in the middle of contact and toe-off.
func (m *Motion) midstanceTruth(t *tally, s *stance, trunkLean float64, near form.Side) {
	side := sideOf(s.leg)
	p := m.Pose((s.on + s.off) / 2)
	l := &p.Limbs[s.leg]
	t.sided("body_lean", "deg", side, lean(l.Ankle, p.Head))
	t.sided("hip_hinge", "deg", side, trunkLean-lean(l.Ankle, p.Pelvis))
	foot := (l.Heel.X + l.Toe.X) / 2
	spread := math.Max(p.Nose.X, math.Max(l.Knee.X, foot)) - math.Min(p.Nose.X, math.Min(l.Knee.X, foot))
	t.add("midstance_stack", "cm", side, 100*spread)
	if side == near {
		t.add("midstance_stack", "cm", form.Both, 100*spread)
	}
}

// stiffness is the sine-wave spring–mass model of Morin et al. 2005, J Appl
// Biomech 21:167–180, from the true mean times, with the leg taken as 0.53 H.
func (m *Motion) stiffness(t Truth) []Value {
	contact, ok1 := t.Value("contact_time", "ms", form.Both)
	flight, ok2 := t.Value("flight_time", "ms", form.Both)
	if !ok1 || !ok2 {
		return nil
	}
	tc, tf, leg := contact.Value/1000, flight.Value/1000, 0.53*m.r.HeightM
	force := m.r.MassKg * gravity * math.Pi / 2 * (tf/tc + 1)
	sink := force*tc*tc/(m.r.MassKg*math.Pi*math.Pi) - gravity*tc*tc/8
	half := m.r.SpeedMS * tc / 2
	squeeze := leg - math.Sqrt(leg*leg-half*half) + sink
	return []Value{
		{Name: "leg_stiffness", Unit: "kN/m", Side: form.Both, Value: force / squeeze / 1000, N: contact.N},
		{Name: "vertical_stiffness", Unit: "kN/m", Side: form.Both, Value: force / sink / 1000, N: contact.N},
	}
}

// standingTruth adds the standing measures, means over the clip.
func (m *Motion) standingTruth() Truth {
	var t tally
	const parts = 200
	for i := range parts {
		p := m.Pose(m.seconds * (float64(i) + 0.5) / parts)
		left, right := &p.Limbs[legLeft], &p.Limbs[legRight]
		ankle := left.Ankle.lerp(right.Ankle, 0.5)
		knee := left.Knee.lerp(right.Knee, 0.5)
		heel, toe := left.Heel.lerp(right.Heel, 0.5), left.Toe.lerp(right.Toe, 0.5)
		t.add("plumb_ear", "cm", form.Both, 100*(p.Head.X-ankle.X))
		t.add("plumb_shoulder", "cm", form.Both, 100*(p.Chest.X-ankle.X))
		t.add("plumb_hip", "cm", form.Both, 100*(p.Pelvis.X-ankle.X))
		t.add("plumb_knee", "cm", form.Both, 100*(knee.X-ankle.X))
		t.add("head_forward", "cm", form.Both, 100*(p.Head.X-p.Chest.X))
		t.add("head_forward", "deg", form.Both, lean(p.Chest, p.Head)-lean(p.Pelvis, p.Chest))
		t.add("trunk_lean_standing", "deg", form.Both, lean(p.Pelvis, p.Chest))
		t.add("weight_over_foot", "%", form.Both, 100*(p.Mass.X-heel.X)/(toe.X-heel.X))
		for leg := range p.Limbs {
			l := &p.Limbs[leg]
			t.sided("knee_flexion_standing", "deg", sideOf(leg), deg(flexion(l.Hip, l.Knee, l.Ankle)))
			t.sided("toe_out", "deg", sideOf(leg), deg(l.ToeOut))
		}
		t.add("stance_width", "–", form.Both, math.Abs(left.Ankle.Z-right.Ankle.Z)/left.Hip.sub(right.Hip).norm())
		level := func(l, r Vec3) float64 { return deg(math.Atan2(l.Y-r.Y, math.Hypot(l.X-r.X, l.Z-r.Z))) }
		t.add("shoulder_level", "deg", form.Both, level(left.Shoulder, right.Shoulder))
		t.add("hip_level", "deg", form.Both, level(left.Hip, right.Hip))
	}
	return Truth{Values: t.values()}
}
