package measure

import (
	"errors"
	"fmt"
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/geom"
	"plumbstride/internal/signal"
)

// Behind gives every measure that a clip from behind yields, cadence among
// them, and a refusal for each that it doesn't.
func Behind(b *gait.Back) ([]form.Measure, []form.Refusal) {
	bias, network := backBiasOf(b.Motion.Track.Network)
	return (&backKit{b: b, bias: bias, network: network}).all()
}

// all gives every measure and refusal.
func (k *backKit) all() ([]form.Measure, []form.Refusal) {
	var measures []form.Measure
	refused := untimed()
	defs := append([]Def{cadenceBehind()}, backTable()...)
	for _, def := range defs {
		sides := []form.Side{form.Both}
		if def.sided {
			sides = []form.Side{form.Left, form.Right}
		}
		for _, s := range sides {
			m, err := def.behind(k, def, s)
			if err == nil && !(finite(m.Value) && finite(m.SD)) {
				err = errUnseen
			}
			if err != nil {
				refused = append(refused, form.Refusal{Name: def.Name, Side: s, Reason: err.Error()})
				continue
			}
			measures = append(measures, m)
		}
	}
	return measures, dedupe(refused)
}

// untimed refuses what a clip from behind can't time.
func untimed() []form.Refusal {
	const reason = "from behind, the foot comes straight towards the camera and hides its own toes: the moments of contact and toe-off can't be seen well enough; film from the side for them"
	var out []form.Refusal
	for _, name := range []string{"contact_time", "flight_time", "duty_factor"} {
		out = append(out, form.Refusal{Name: name, Side: form.Both, Reason: reason})
	}
	return out
}

// backKit is what every measure from behind is computed with.
type backKit struct {
	b       *gait.Back
	bias    biasTable
	network bool
}

// standing is one mid-stance: where the joints are, and which leg stands.
type standing struct {
	at   func(form.Point, form.Side) (geom.Vec, bool)
	side form.Side
	// later is at some time after mid-stance, for a point that the ground
	// carries back.
	later func(form.Point, form.Side, float64) (geom.Vec, bool)
}

// out is +1 where the standing leg's outer side is to the right.
func (s standing) out() float64 {
	if s.side == form.Left {
		return -1
	}
	return 1
}

// frontal is a number of one mid-stance: an angle or a distance.
type frontal func(standing) (float64, bool)

// term is a side's mean in a measure, with its sign.
type term struct {
	side form.Side
	sign float64
}

// mean evaluates a shape in every mid-stance of a side: the mean without
// outliers, its standard error, and the number of steps.
func (k *backKit) mean(f frontal, s form.Side, off gait.Off, later float64) (mean, se float64, n int) {
	var values []float64
	speed := k.b.SpeedMS
	if speed <= 0 {
		speed = usualSpeedMS
	}
	for _, t := range k.b.Middles[s] {
		at := func(p form.Point, side form.Side) (geom.Vec, bool) { return k.b.At(form.At(p, side), t+later, off) }
		carried := func(p form.Point, side form.Side, d float64) (geom.Vec, bool) {
			back := off
			back.AnkleM -= speed * (d + later)
			return k.b.At(form.At(p, side), t+later+d, back)
		}
		if v, ok := f(standing{at, s, carried}); ok {
			values = append(values, v)
		}
	}
	if len(values) == 0 {
		return math.NaN(), math.NaN(), 0
	}
	centre := signal.Median(values)
	// Of ten steps half may be alike by chance: the robust spread alone would
	// throw out good ones.
	away := 0.0
	for _, v := range values {
		away += math.Abs(v-centre) / float64(len(values))
	}
	limit := 4 * math.Max(math.Max(signal.RobustSD(values), away), 0.05)
	kept := values[:0]
	for _, v := range values {
		if len(values) < 4 || math.Abs(v-centre) <= limit {
			kept = append(kept, v)
		}
	}
	mean, sd := signal.MeanSD(kept)
	if len(kept) < 3 { // two values don't tell a spread
		return mean, fewStepsSpread / math.Sqrt(float64(len(kept))), len(kept)
	}
	return mean, student(len(kept)-1) * sd / math.Sqrt(float64(len(kept))), len(kept)
}

// student is how much wider than the normal distribution's the 95 % interval
// of Student's t is.
func student(degrees int) float64 { return signal.Student975(float64(degrees)) / 1.959964 }

// sum adds up side means with one change of what is supposed.
func (k *backKit) sum(f frontal, terms []term, off gait.Off, later float64) (value, se float64, n int) {
	for _, t := range terms {
		m, e, steps := k.mean(f, t.side, off, later)
		value += t.sign * m
		se = math.Hypot(se, e)
		n += steps
	}
	return value, se, n
}

// shift is half of what a sum of side means changes by from one change of
// what is supposed to its opposite.
func (k *backKit) shift(f frontal, terms []term, off gait.Off) float64 {
	more, _, _ := k.sum(f, terms, off, 0)
	less, _, _ := k.sum(f, terms, off.Opposite(), 0)
	return (more - less) / 2
}

// give makes a measure: the network's part is taken off, and every source
// of uncertainty goes in. What roll, direction of view and the joints' places
// ahead do to the value is found by trying.
func (k *backKit) give(def Def, s form.Side, f frontal, extra float64, terms ...term) (form.Measure, error) {
	value, se, n := k.sum(f, terms, gait.Off{}, 0)
	if !finite(value) || n < len(terms) {
		return form.Measure{}, errUnseen
	}
	bias := k.bias.of(def.Name, def.Unit)
	parts := []float64{se, extra, bias.sd}
	for _, off := range k.b.Doubts() {
		parts = append(parts, k.shift(f, terms, off))
	}
	for _, t := range terms {
		parts = append(parts, k.shift(f, []term{t}, k.b.SideDoubt()))
	}
	early, _, _ := k.sum(f, terms, gait.Off{}, -k.b.MiddleSD)
	late, _, _ := k.sum(f, terms, gait.Off{}, k.b.MiddleSD)
	parts = append(parts, (late-early)/2)
	value -= bias.offset
	if def.Unit == "cm" {
		parts = append(parts, value*k.b.ScaleSD)
	}
	sd := 0.0
	for _, p := range parts {
		if finite(p) {
			sd = math.Hypot(sd, p)
		}
	}
	m := form.With95(def.Name, s, def.Unit, value, sd, n)
	if m.Lasting = bias.sd; def.Unit == "cm" {
		m.Lasting = math.Hypot(bias.sd, value*k.b.ScaleSD)
	}
	return m, nil
}

// cadenceBehind is the row of cadence, read from behind.
func cadenceBehind() Def {
	def, _ := Find("cadence", "steps/min")
	def.View = form.ViewBack
	def.behind = func(k *backKit, def Def, s form.Side) (form.Measure, error) {
		v, check := 120/k.b.StrideS, 120/k.b.StrideCheckS
		steps := k.b.Steps()
		if math.Abs(v-check) > 0.02*v*math.Max(1, 8/float64(steps)) {
			return form.Measure{}, fmt.Errorf("two independent ways of counting disagree (%.1f and %.1f steps/min): the steps are too irregular or too few", v, check)
		}
		span := float64(max(steps-1, 1)) * k.b.StrideS / 2
		sd := v * k.beatSD() * math.Sqrt2 / span
		return form.With95(def.Name, s, def.Unit, v, math.Max(sd, 0.1), steps), nil
	}
	return def
}

// beatSD is the spread of single mid-stances about an even beat, seconds.
func (k *backKit) beatSD() float64 {
	var dev []float64
	for _, s := range []form.Side{form.Left, form.Right} {
		m := k.b.Middles[s]
		for i := 1; i < len(m); i++ {
			strides := math.Round((m[i] - m[i-1]) / k.b.StrideS)
			dev = append(dev, (m[i]-m[i-1]-strides*k.b.StrideS)/math.Sqrt2)
		}
	}
	if len(dev) < 3 {
		return 0.015
	}
	return math.Max(signal.RobustSD(dev), 0.004)
}

// onLine is how far the standing ankle lies outside the line of running, cm.
// The foot stands still to the side, and is seen best once the other one has
// passed it: the mean over the time from mid-stance on.
func onLine(p standing) (float64, bool) {
	sum := 0.0
	for _, later := range footLater {
		a, ok := p.later(form.Ankle, p.side, later)
		if !ok {
			return 0, false
		}
		sum += 100 * p.out() * a.X
	}
	return sum / float64(len(footLater)), true
}

// footLater are the times after mid-stance, seconds, at which the standing
// foot's place is read; usualSpeedMS is how fast it goes back meanwhile where
// the speed is not known.
var footLater = [...]float64{0, 0.02, 0.04}

const usualSpeedMS = 3.0

func stepWidth(k *backKit, def Def, s form.Side) (form.Measure, error) {
	return k.give(def, s, onLine, 0, term{form.Left, 1}, term{form.Right, 1})
}

func footToLine(k *backKit, def Def, s form.Side) (form.Measure, error) {
	m, err := k.give(def, s, onLine, 0, term{s, 1})
	if err != nil {
		return m, err
	}
	crossing := 0.5 * math.Erfc(m.Value/m.SD/math.Sqrt2)
	m.Classes = map[string]float64{"crosses over": crossing, "own side": 1 - crossing}
	switch {
	case crossing >= 0.8:
		m.Class = "crosses over"
	case crossing <= 0.2:
		m.Class = "own side"
	default:
		m.Class = "may cross over"
	}
	return m, nil
}

// drop is how far the free hip lies under the standing one, degrees.
func drop(p standing) (float64, bool) {
	here, ok1 := p.at(form.Hip, p.side)
	there, ok2 := p.at(form.Hip, p.side.Other())
	return geom.Degrees(math.Atan2(here.Y-there.Y, math.Abs(here.X-there.X))), ok1 && ok2
}

// turningSD is what the pelvis's own turning looks like, degrees of drop: 4°
// of it under a camera that stands 3.5° over or under the hips (1 m ± 0.25 m
// high, 4 m away; common practice, no source).
const turningSD = 0.25

const turningNote = "From one camera, a pelvis that turns looks a little like one that drops."

// errLevelHips is why no pelvic drop is given from our networks' points.
var errLevelHips = errors.New("the networks' hip points don't follow the pelvis from behind: on drawn runners whose pelvis dropped by 1 to 8° they stayed about level, whatever it did. A track of body points from markers, or set by hand, gives it")

func pelvicDrop(k *backKit, def Def, s form.Side) (form.Measure, error) {
	if k.network {
		return form.Measure{}, errLevelHips
	}
	m, err := k.give(def, s, drop, turningSD, term{s, 1})
	m.Note = turningNote
	if err == nil && !k.b.RollSeen {
		m.Note += " The camera's level was taken from the runner's own body; a tilt that is left adds to one side and takes from the other."
	}
	return m, err
}

func pelvicDropDifference(k *backKit, def Def, s form.Side) (form.Measure, error) {
	if k.network {
		return form.Measure{}, errLevelHips
	}
	return k.give(def, s, drop, math.Sqrt2*turningSD, term{form.Left, 1}, term{form.Right, -1})
}

// kneeOff is how far the knee lies inside the line hip–ankle, cm.
func kneeOff(p standing) (float64, bool) {
	hip, ok1 := p.at(form.Hip, p.side)
	knee, ok2 := p.at(form.Knee, p.side)
	ankle, ok3 := p.at(form.Ankle, p.side)
	line, at := ankle.Sub(hip), knee.Sub(hip)
	if !ok1 || !ok2 || !ok3 || line.Norm() < 0.1 {
		return 0, false
	}
	// Positive to the right of the line, which goes down.
	right := (line.X*at.Y - line.Y*at.X) / line.Norm()
	return -100 * p.out() * right, true
}

// kneeBend is the frontal-plane projection angle, degrees.
func kneeBend(p standing) (float64, bool) {
	hip, ok1 := p.at(form.Hip, p.side)
	knee, ok2 := p.at(form.Knee, p.side)
	ankle, ok3 := p.at(form.Ankle, p.side)
	if !ok1 || !ok2 || !ok3 {
		return 0, false
	}
	thigh := math.Atan2(knee.X-hip.X, hip.Y-knee.Y)
	shank := math.Atan2(ankle.X-knee.X, knee.Y-ankle.Y)
	return p.out() * geom.Degrees(shank-thigh), true
}

const kneeNote = "From one camera, a thigh that turns looks like a knee that moves sideways: it says where the knee is seen, not why."

func kneeProjection(k *backKit, def Def, s form.Side) (form.Measure, error) {
	m, err := k.give(def, s, kneeOff, 0, term{s, 1})
	m.Note = kneeNote
	return m, err
}

func kneeAngle(k *backKit, def Def, s form.Side) (form.Measure, error) {
	m, err := k.give(def, s, kneeBend, 0, term{s, 1})
	m.Note = kneeNote
	return m, err
}

func trunkSideLean(k *backKit, def Def, s form.Side) (form.Measure, error) {
	return k.give(def, s, func(p standing) (float64, bool) {
		hl, ok1 := p.at(form.Hip, form.Left)
		hr, ok2 := p.at(form.Hip, form.Right)
		sl, ok3 := p.at(form.Shoulder, form.Left)
		sr, ok4 := p.at(form.Shoulder, form.Right)
		up := geom.Mid(sl, sr).Sub(geom.Mid(hl, hr))
		return p.out() * geom.Degrees(math.Atan2(up.X, up.Y)), ok1 && ok2 && ok3 && ok4 && up.Y > 0
	}, 0, term{s, 1})
}
