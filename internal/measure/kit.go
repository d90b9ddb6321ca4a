package measure

import (
	"errors"
	"fmt"
	"math"

	"plumbstride/internal/body"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/geom"
	"plumbstride/internal/signal"
)

// Who is what was stated about the runner beside the height.
type Who struct {
	HeightM float64
	MassKg  float64 // 0 when not stated
	Sex     body.Sex
	Flat    *Flat // of a standing check; nil without one
}

// Find gives the table's row of a name and unit.
func Find(name, unit string) (Def, bool) {
	for _, d := range Table() {
		if d.Name == name && d.Unit == unit {
			return d, true
		}
	}
	return Def{}, false
}

// All gives every measure of the table that the strides yield, and a refusal
// for each that they don't.
func All(g *gait.Gait, who Who) ([]form.Measure, []form.Refusal) {
	k := &kit{g: g, who: who, table: body.DeLeva(who.Sex)}
	k.bias, k.network = biasOf(g.Motion.Track.Network)
	return k.all()
}

// all goes through the table.
func (k *kit) all() ([]form.Measure, []form.Refusal) {
	var measures []form.Measure
	var refused []form.Refusal
	for _, def := range sideTable() {
		sides := []form.Side{form.Both}
		if def.sided {
			sides = []form.Side{form.Left, form.Right}
		}
		for _, s := range sides {
			if def.sided && k.frameRate() < slowestFrameRate {
				refused = append(refused, form.Refusal{Name: def.Name, Side: s, Reason: fmt.Sprintf("the frame rate of %.0f a second is too low; film at 60 or more", k.frameRate())})
				continue
			}
			m, err := form.Measure{}, k.allowed(def)
			if err == nil {
				m, err = def.of(k, def, s)
			}
			if errors.Is(err, errNotAsked) {
				continue
			}
			if err == nil && !(finite(m.Value) && finite(m.SD)) {
				err = errors.New("the points it needs were not seen well enough")
			}
			if err != nil {
				refused = append(refused, form.Refusal{Name: def.Name, Side: s, Reason: err.Error()})
				continue
			}
			if missing := k.missingMass(); missing > 0.001 && usesMass[def.Name] {
				m = widen(m, massShift(missing, m.Unit))
				m.Note = fmt.Sprintf("%.0f %% of the body's mass is not seen; the centre of mass is that of the rest", 100*missing)
			}
			measures = append(measures, m)
		}
	}
	return measures, dedupe(refused)
}

// usesMass are the measures that need the whole-body centre of mass.
var usesMass = map[string]bool{"landing_distance": true, "heel_landing_distance": true, "vertical_oscillation": true}

// missingMass is the share of the body's mass that the mean stride lacks.
func (k *kit) missingMass() float64 {
	var pos body.Positions
	var ok body.Present
	c := k.cycle(form.Left)
	for j := range form.Joint(form.NumJoints) {
		_, ok[j] = inCycle(c, 0)(j)
	}
	_, missing := k.table.CentreOfMass(&pos, &ok)
	return missing
}

// massShift is how far, in the unit, the centre of mass may lie off when a
// share of the mass is not seen: a missing limb's own centre lies some 20 cm
// from the body's.
func massShift(missing float64, unit string) float64 {
	shift := 20 * missing // cm
	if unit == "% leg length" {
		shift *= 100.0 / 85
	}
	return shift
}

// widen adds a standard uncertainty to a measure.
func widen(m form.Measure, sd float64) form.Measure {
	m.SD = math.Hypot(m.SD, sd)
	m.Low, m.High = m.Value-1.96*m.SD, m.Value+1.96*m.SD
	return m
}

// dedupe keeps one refusal a name and side (a measure in two units is
// refused once).
func dedupe(refused []form.Refusal) []form.Refusal {
	var out []form.Refusal
	for _, r := range refused {
		if n := len(out); n > 0 && seen(out, r) {
			continue
		}
		out = append(out, r)
	}
	return out
}

func seen(list []form.Refusal, r form.Refusal) bool {
	for _, o := range list {
		if o.Name == r.Name && o.Side == r.Side {
			return true
		}
	}
	return false
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// kit is what every measure is computed with.
type kit struct {
	g     *gait.Gait
	who   Who
	table body.Table
	bias  biasTable
	// network: one of our networks found the points.
	network bool
}

// place gives a joint's position in metres, or false.
type place func(form.Joint) (geom.Vec, bool)

// shape is a number of one body position: an angle or a distance.
type shape func(place) (float64, bool)

// inCycle is the mean stride's body position at time t from the anchor.
func inCycle(c *gait.Cycle, t float64) place {
	return func(j form.Joint) (geom.Vec, bool) {
		v, _, _, ok := c.At(j, t)
		return v, ok
	}
}

// inClip is the smoothed body position at a time of the clip.
func (k *kit) inClip(t float64) place {
	return func(j form.Joint) (geom.Vec, bool) {
		px, _, ok := k.g.Motion.Spot(j, t)
		return k.g.Plane.Map(j, px, t), ok
	}
}

// estimate is a value with its parts of uncertainty, all in the unit.
type estimate struct {
	value float64
	n     int
	// noise of the key points, timing of the event times the rate of change,
	// spread of the mean over steps.
	noise, timing, spread float64
	// definition is the part of timing that the event's definition adds.
	definition float64
	// reference is the standard uncertainty of what the value is taken from.
	reference float64
	// roll and yaw are by how much the value changes when the level, and the
	// camera's turn, are off by their standard uncertainties; signed, since
	// both sides of a body share them.
	roll, yaw float64
}

// at evaluates a shape at an event of a side's mean stride, offset seconds
// from the anchor with standard uncertainty offsetSD.
func (k *kit) at(c *gait.Cycle, offset, offsetSD float64, f shape) (estimate, bool) {
	v, ok := f(inCycle(c, offset))
	if !ok {
		return estimate{}, false
	}
	e := estimate{value: v, n: len(c.Anchors), noise: pointNoise(c, offset, f)}
	// At a contact the motion breaks: too early and too late count alike.
	const h = 0.004
	for _, d := range []float64{-h, h} {
		if w, ok := f(inCycle(c, offset+d)); ok {
			e.timing = math.Hypot(e.timing, math.Abs(w-v)/h*offsetSD/math.Sqrt2)
		}
	}
	e.spread = k.stepSpread(c, offset, f)
	e.roll, e.yaw = k.viewed(inCycle(c, offset), v, f)
	return e, true
}

// timedBy tells how much of the timing comes of the event's definition: bias
// of the standard uncertainty sd of its time.
func (e estimate) timedBy(bias, sd float64) estimate {
	if sd > 0 {
		e.definition = e.timing * math.Min(bias/sd, 1)
	}
	return e
}

// viewed gives by how much a shape's value v changes when the picture is
// rolled, and the camera turned, by a standard uncertainty.
func (k *kit) viewed(p place, v float64, f shape) (roll, yaw float64) {
	plane := &k.g.Plane
	sin, cos := math.Sincos(geom.Radians(plane.RollSD))
	if w, ok := f(func(j form.Joint) (geom.Vec, bool) {
		m, ok := p(j)
		return geom.Vec{X: cos*m.X - sin*m.Y, Y: sin*m.X + cos*m.Y}, ok
	}); ok {
		roll = w - v
	}
	if w, ok := f(func(j form.Joint) (geom.Vec, bool) {
		m, ok := p(j)
		return plane.Turned(j, m, plane.YawSD), ok
	}); ok {
		yaw = w - v
	}
	return roll, yaw
}

// pointNoise propagates the points' own uncertainty through the shape: each
// coordinate in turn is moved by its standard uncertainty.
func pointNoise(c *gait.Cycle, t float64, f shape) float64 {
	base, _ := f(inCycle(c, t))
	sum := 0.0
	for j := range form.Joint(form.NumJoints) {
		_, _, sd, ok := c.At(j, t)
		if !ok {
			continue
		}
		for _, d := range []geom.Vec{{X: sd}, {Y: sd}} {
			moved := func(i form.Joint) (geom.Vec, bool) {
				v, _, _, ok := c.At(i, t)
				if i == j {
					v = v.Add(d)
				}
				return v, ok
			}
			if v, ok := f(moved); ok {
				sum += (v - base) * (v - base)
			}
		}
	}
	return math.Sqrt(sum)
}

// stepSpread is the standard error of the mean over steps: the spread of the
// shape in the single strides over the root of their number.
func (k *kit) stepSpread(c *gait.Cycle, offset float64, f shape) float64 {
	var values []float64
	for _, a := range c.Anchors {
		if v, ok := f(k.inClip(a + offset)); ok {
			values = append(values, v)
		}
	}
	if len(values) == 0 {
		return 0
	}
	if len(values) < 3 { // two values don't tell a spread
		return fewStepsSpread / math.Sqrt(float64(len(values)))
	}
	return signal.RobustSD(values) / math.Sqrt(float64(len(values)))
}

// fewStepsSpread stands for the spread between steps, degrees or centimetres,
// where fewer than three are seen: within-runner SDs of 1–2° at the knee in
// 46 runners (Fukuchi et al. 2017 and Ferber's data, computed).
const fewStepsSpread = 2.0

// frameRate is the clip's mean rate, Hz.
func (k *kit) frameRate() float64 {
	t := k.g.Motion.Times
	return float64(len(t)-1) / (t[len(t)-1] - t[0])
}

// slowestFrameRate is the rate below which nothing at a contact is measured: the
// foot turns by more than 15° and crosses 15 cm between two frames, and noise is
// told from motion no more.
const slowestFrameRate = 24.0

// give turns an estimate into a Measure: the network's systematic part is
// taken off, and every source of uncertainty goes in.
func (k *kit) give(def Def, s form.Side, e estimate, kind kind) form.Measure {
	b := k.bias.of(def.Name, def.Unit)
	v := e.value - b.offset
	// The spread of single strides holds their noise already.
	chance := math.Pow(math.Max(e.noise, e.spread), 2)
	own := chance + e.timing*e.timing + e.reference*e.reference
	sum := own + b.sd*b.sd
	// How square to the run the runner carries the body, the foot that an
	// event's definition meets, and the proportions come again, too.
	lasting := b.sd*b.sd + e.definition*e.definition + e.yaw*e.yaw
	if kind.scaled {
		scale := math.Pow(v*k.g.Plane.ScaleSD, 2)
		sum, lasting = sum+scale, lasting+scale
	}
	if !kind.level {
		sum += e.roll * e.roll
	}
	sum += e.yaw * e.yaw
	m := form.With95(def.Name, s, def.Unit, v, math.Sqrt(sum), e.n)
	// Few strides tell their own spread badly: Student's t, with the degrees
	// of freedom of Welch and Satterthwaite, the other parts being known.
	if chance > 0 && e.n > 1 {
		half := signal.Student975(sum*sum/(chance*chance)*float64(e.n-1)) * m.SD
		m.Low, m.High = v-half, v+half
	}
	m.Common, m.Lasting = math.Sqrt(sum-own), math.Sqrt(lasting)
	return m
}

// kind says how a measure takes on the plane's uncertainties.
type kind struct {
	scaled bool // a length: the scale's
	level  bool // taken against the ground itself: not the level's
}

// cycle gives a side's mean stride.
func (k *kit) cycle(s form.Side) *gait.Cycle { return k.g.Cycles[s] }

// joint places one point of one side.
func joint(p place, pt form.Point, s form.Side) (geom.Vec, bool) { return p(form.At(pt, s)) }

// mid places the midpoint of a point's sides, or the one side that is there.
func mid(p place, pt form.Point) (geom.Vec, bool) {
	l, okL := p(form.At(pt, form.Left))
	r, okR := p(form.At(pt, form.Right))
	switch {
	case okL && okR:
		return geom.Mid(l, r), true
	case okL:
		return l, true
	default:
		return r, okR
	}
}

// centreOfMass of a body position; the error says what is missing.
func (k *kit) centreOfMass(p place) (geom.Vec, error) {
	var pos body.Positions
	var ok body.Present
	for j := range form.Joint(form.NumJoints) {
		v, seen := p(j)
		pos[j], ok[j] = [2]float64{v.X, v.Y}, seen
	}
	com, missing := k.table.CentreOfMass(&pos, &ok)
	if missing > 0.12 {
		return geom.Vec{}, fmt.Errorf("the centre of mass needs trunk, head and limbs; %.0f %% of the body's mass is not seen", 100*missing)
	}
	return geom.Vec{X: com[0], Y: com[1]}, nil
}

// overStride averages a shape over one whole mean stride of each side.
func (k *kit) overStride(f shape) (estimate, bool) {
	var sum, noise, spread, roll, yaw float64
	n, count := 0, 0
	for _, s := range []form.Side{form.Left, form.Right} {
		c := k.cycle(s)
		for i := range 40 {
			t := (float64(i)/40 - 0.5) * c.StrideS
			v, ok := f(inCycle(c, t))
			if !ok {
				return estimate{}, false
			}
			sum += v
			n++
			if i%10 == 0 {
				noise += math.Pow(pointNoise(c, t, f), 2)
				spread += math.Pow(k.stepSpread(c, t, f), 2)
				r, y := k.viewed(inCycle(c, t), v, f)
				roll, yaw = roll+r, yaw+y
				count++
			}
		}
	}
	// Neighbouring instants share their errors: the mean of a stride is worth
	// about four independent ones.
	e := estimate{value: sum / float64(n), n: len(k.cycle(form.Left).Anchors) + len(k.cycle(form.Right).Anchors)}
	e.noise = math.Sqrt(noise/float64(count)) / 2
	e.spread = math.Sqrt(spread/float64(count)) / 2
	e.roll, e.yaw = roll/float64(count), yaw/float64(count)
	return e, true
}

// atMidstance averages a shape at mid-stance over both sides. How far a
// runner's events are found too early or late is much the same on both.
func (k *kit) atMidstance(f func(form.Side) shape) (estimate, bool) {
	var out estimate
	for _, s := range []form.Side{form.Left, form.Right} {
		c := k.cycle(s)
		e, ok := k.at(c, (c.ContactS+c.ToeOffS)/2, math.Hypot(c.ContactSD, c.ToeOffSD)/2, f(s))
		if !ok {
			return estimate{}, false
		}
		out.value += e.value / 2
		out.n += e.n
		out.noise += e.noise * e.noise / 4
		out.timing += e.timing / 2
		out.roll, out.yaw = out.roll+e.roll/2, out.yaw+e.yaw/2
		out.spread += e.spread * e.spread / 4
	}
	out.noise, out.spread = math.Sqrt(out.noise), math.Sqrt(out.spread)
	c := k.cycle(form.Left)
	return out.timedBy(math.Hypot(c.ContactBias, c.ToeOffBias), math.Hypot(c.ContactSD, c.ToeOffSD)), true
}

// errNotAsked leaves a measure out without a word: it needs a fact that the
// coach did not state.
var errNotAsked = errors.New("not asked")

var errUnseen = errors.New("the points it needs were not seen well enough")
