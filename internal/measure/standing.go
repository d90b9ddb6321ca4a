package measure

import (
	"errors"
	"fmt"
	"math"

	"plumbstride/internal/body"
	"plumbstride/internal/form"
	"plumbstride/internal/geom"
	"plumbstride/internal/stand"
)

// standDef is what a measure of the standing check is made of beside its
// words: the views it is seen from, its number as a shape of one body
// position, and what else makes it uncertain.
type standDef struct {
	views []form.View
	of    func(*standKit, form.Side) shape
	// extra is a further standard uncertainty in the unit; may be nil.
	extra func(*standKit, form.Side) float64
	// note is what a reader must know about the value; may be nil.
	note func(*standKit) string
	// ratio: a length over another, uncertain by a factor up and down.
	ratio bool
	// level: of a pair that what both sides share does not tilt; it would be
	// told by the slope that each side's own uncertainty has made.
	level bool
}

// FindStanding gives the row of StandingTable of a name and unit.
func FindStanding(name, unit string) (Def, bool) {
	for _, d := range StandingTable() {
		if d.Name == name && d.Unit == unit {
			return d, true
		}
	}
	return Def{}, false
}

// Standing gives every measure of StandingTable that the pose's view yields,
// and a refusal for each that its points don't. What can only be seen from
// another view is left out.
func Standing(p *stand.Pose, who Who) ([]form.Measure, []form.Refusal) {
	k := newStandKit(p, who)
	var measures []form.Measure
	var refused []form.Refusal
	for _, def := range StandingTable() {
		if !k.sees(def) {
			continue
		}
		sides := []form.Side{form.Both}
		if def.sided {
			sides = []form.Side{form.Left, form.Right}
		}
		for _, s := range sides {
			m, err := k.measure(def, s)
			if err != nil {
				refused = append(refused, form.Refusal{Name: def.Name, Side: s, Reason: err.Error()})
				continue
			}
			measures = append(measures, m)
		}
	}
	return measures, dedupe(refused)
}

// standKit is what every standing measure is computed with.
type standKit struct {
	p     *stand.Pose
	who   Who
	table body.Table
	at    positions
	there [form.NumJoints]bool
	// noise is each joint's own standard uncertainty, metres: the points'
	// scatter and how differently a network places a joint on one body or
	// another.
	noise [form.NumJoints]geom.Vec
	// hand is what is not known of how a network places a point on all
	// bodies, metres; both sides move together.
	hand map[form.Point]geom.Vec
	// scale and zero lead back to the pose: place = (at + zero)/scale.
	scale float64
	zero  geom.Vec
}

type positions [form.NumJoints]geom.Vec

func newStandKit(p *stand.Pose, who Who) *standKit {
	k := &standKit{p: p, who: who, table: body.DeLeva(who.Sex), hand: map[form.Point]geom.Vec{}}
	put := placingOf(p.Network)
	scale := 1.0
	for range 6 { // the leg is what the stated height says once its points are in place
		k.correct(put, scale)
		if leg := k.leg(); leg > 0 {
			scale *= p.LegM / leg
		}
	}
	for j := range form.Joint(form.NumJoints) {
		own := put.ownOf(p.View) * who.HeightM
		k.noise[j] = geom.Vec{X: math.Hypot(scale*p.Places[j].Noise.X, own), Y: math.Hypot(scale*p.Places[j].Noise.Y, own)}
	}
	for pt, b := range put.of(p.View) {
		k.hand[pt] = geom.Vec{X: b.sdAlong, Y: b.sdUp}.Scale(who.HeightM / 100)
	}
	return k
}

// correct takes a network's placing off the points, the middle of the ankles
// at zero again.
func (k *standKit) correct(put placing, scale float64) {
	table := put.of(k.p.View)
	for j := range form.Joint(form.NumJoints) {
		place := k.p.Places[j]
		k.there[j] = place.Seen
		b := table[j.Point()]
		off := b.near
		if k.p.View == form.ViewSide {
			if j.Side() != k.p.Near {
				off = b.far
			}
		} else if j.Side() == form.Right {
			off.X = -off.X // outward
		}
		k.at[j] = place.At.Scale(scale).Sub(off.Scale(k.who.HeightM / 100))
	}
	k.scale = scale
	k.zero, _ = mid(k.place(&k.at), form.Ankle)
	for j := range k.at {
		k.at[j] = k.at[j].Sub(k.zero)
	}
}

// leg is thigh and shank as they stand: of the near leg from the side, the
// mean of both else.
func (k *standKit) leg() float64 {
	sum, n := 0.0, 0.0
	for _, s := range []form.Side{form.Left, form.Right} {
		if k.p.View == form.ViewSide && s != k.p.Near {
			continue
		}
		h, ok1 := joint(k.place(&k.at), form.Hip, s)
		q, ok2 := joint(k.place(&k.at), form.Knee, s)
		a, ok3 := joint(k.place(&k.at), form.Ankle, s)
		if ok1 && ok2 && ok3 {
			sum, n = sum+q.Sub(h).Norm()+a.Sub(q).Norm(), n+1
		}
	}
	if n == 0 {
		return 0
	}
	return sum / n
}

// StandingSpot gives where the middle of a point's two sides lies in the
// picture, a network's placing taken off; ok is false where it was not seen.
func StandingSpot(p *stand.Pose, who Who, pt form.Point) (px geom.Vec, ok bool) {
	k := newStandKit(p, who)
	v, ok := mid(k.place(&k.at), pt)
	if !ok {
		return geom.Vec{}, false
	}
	return p.Pixel(v.Add(k.zero).Scale(1 / k.scale)), true
}

func (k *standKit) place(at *positions) place {
	return func(j form.Joint) (geom.Vec, bool) { return at[j], k.there[j] }
}

func (k *standKit) sees(def Def) bool {
	for _, v := range def.standing.views {
		if v == k.p.View {
			return true
		}
	}
	return false
}

func (k *standKit) measure(def Def, s form.Side) (form.Measure, error) {
	f := def.standing.of(k, s)
	v, ok := f(k.place(&k.at))
	if !ok || !finite(v) {
		return form.Measure{}, errors.New("the points it needs were not seen well enough")
	}
	at, unit := v, 1.0 // what the parts are told of, and how much of the unit that is
	if def.standing.ratio {
		plain := f
		f = func(p place) (float64, bool) {
			w, ok := plain(p)
			return math.Log(w), ok && w > 0
		}
		at, unit = math.Log(v), v
	}
	hand := 0.0
	if !def.standing.level {
		hand = k.handVariance(f, at)
	}
	sum := k.pointVariance(f, at) + hand + k.planeVariance(f, at)
	if def.standing.extra != nil {
		sum += math.Pow(def.standing.extra(k, s)/unit, 2)
	}
	if !finite(sum) {
		return form.Measure{}, errUnseen
	}
	m := form.With95(def.Name, s, def.Unit, v, unit*math.Sqrt(sum), k.p.Frames)
	m.Lasting = unit * math.Sqrt(hand)
	if def.standing.ratio {
		factor := math.Exp(1.96 * math.Sqrt(sum))
		m.Low, m.High = v/factor, v*factor
	}
	if def.standing.note != nil {
		m.Note = def.standing.note(k)
	}
	return m, nil
}

// either is the square of a shape's slope times a standard uncertainty: the
// positions change by a small part of it one way and the other.
func (k *standKit) either(f shape, v float64, change func(at *positions, way float64)) float64 {
	const part = 0.2
	on := k.moved(f, v, func(at *positions) { change(at, part) })
	back := k.moved(f, v, func(at *positions) { change(at, -part) })
	return math.Pow((on-back)/(2*part), 2)
}

// moved is the change of a shape's value v when the positions change.
func (k *standKit) moved(f shape, v float64, change func(at *positions)) float64 {
	at := k.at
	change(&at)
	w, ok := f(k.place(&at))
	if !ok {
		return 0
	}
	return w - v
}

// pointVariance moves each joint's coordinates by their own uncertainty.
func (k *standKit) pointVariance(f shape, v float64) float64 {
	sum := 0.0
	for j := range k.at {
		if !k.there[j] {
			continue
		}
		sum += k.either(f, v, func(at *positions, way float64) { at[j].X += way * k.noise[j].X })
		sum += k.either(f, v, func(at *positions, way float64) { at[j].Y += way * k.noise[j].Y })
	}
	return sum
}

// handVariance moves both sides of each point by what is not known of a
// network's placing: forward and up from the side, outward and up from the
// front.
func (k *standKit) handVariance(f shape, v float64) float64 {
	sum := 0.0
	for pt, sd := range k.hand {
		l, r := form.At(pt, form.Left), form.At(pt, form.Right)
		other := 1.0
		if k.p.View != form.ViewSide {
			other = -1
		}
		sum += k.either(f, v, func(at *positions, way float64) {
			at[l].X, at[r].X = at[l].X+way*sd.X, at[r].X+way*other*sd.X
		})
		sum += k.either(f, v, func(at *positions, way float64) {
			at[l].Y, at[r].Y = at[l].Y+way*sd.Y, at[r].Y+way*sd.Y
		})
	}
	return sum
}

// planeVariance turns everything by the level's uncertainty, stretches it by
// the scale's, foreshortens it by the yaw's, and brings what is higher than
// the leg, which the scale is taken from, nearer by the tilt's.
func (k *standKit) planeVariance(f shape, v float64) float64 {
	s, c := math.Sincos(geom.Radians(k.p.RollSD))
	level := k.moved(f, v, func(at *positions) {
		for j, p := range at {
			at[j] = geom.Vec{X: p.X*c - p.Y*s, Y: p.X*s + p.Y*c}
		}
	})
	scale := k.moved(f, v, func(at *positions) {
		for j, p := range at {
			at[j] = p.Scale(1 + k.p.ScaleSD)
		}
	})
	turn := math.Cos(geom.Radians(k.p.YawDeg)) / math.Cos(geom.Radians(math.Abs(k.p.YawDeg)+k.p.YawSD))
	yaw := k.moved(f, v, func(at *positions) {
		for j, p := range at {
			at[j].X = p.X * turn
		}
	})
	tilt := 0.0
	if k.p.View == form.ViewSide && k.p.DistanceM > 0 {
		nearer, hips := math.Sin(geom.Radians(k.p.TiltSD))/k.p.DistanceM, k.p.LegM
		tilt = k.moved(f, v, func(at *positions) {
			for j, p := range at { // the lens looks at about the hips
				size := 1 + nearer*(p.Y-hips/2)
				at[j] = geom.Vec{X: p.X * size, Y: hips + (p.Y-hips)*size}
			}
		})
	}
	return level*level + scale*scale + yaw*yaw + tilt*tilt
}

// Flat is the angle of heel→toe to the ground with the foot flat, degrees, as
// a network sees it from the side, and its standard uncertainty, by
// form.Side: the reference for the running check's foot strike angle. Seen
// tells which feet were seen.
type Flat struct {
	Deg, SD [3]float64
	Seen    [3]bool
	// Network names what found the points: the reference holds for points of
	// the same kind (alike).
	Network string
	// Legs is the same by the leg network's points, which lie elsewhere on the
	// shoe than a whole-body network's; nil where it had no say.
	Legs *Flat
}

// alike gives the reference whose points are of the same kind as a network's;
// nil where there is none.
func (f *Flat) alike(network string) *Flat {
	for ; f != nil; f = f.Legs {
		_, his := biasOf(f.Network)
		_, ours := biasOf(network)
		if his == ours && legPoints(f.Network) == legPoints(network) {
			return f
		}
	}
	return nil
}

// FlatFeet gives both feet's flat angles from a side view of somebody
// standing; nil from another view or where neither foot was seen.
func FlatFeet(p *stand.Pose) *Flat {
	if p.View != form.ViewSide {
		return nil
	}
	flat := &Flat{Network: p.Network}
	any := false
	for _, s := range []form.Side{form.Left, form.Right} {
		heel, toe := p.Places[form.At(form.Heel, s)], p.Places[form.At(form.Toe, s)]
		if !heel.Seen || !toe.Seen || toe.At.X-heel.At.X < 0.05 {
			continue
		}
		long := toe.At.Sub(heel.At).Norm()
		noise := geom.Degrees(math.Hypot(heel.Noise.Y, toe.Noise.Y) / long)
		sd := math.Hypot(noise, math.Hypot(p.RollSD, turnedFootSD))
		if s != p.Near {
			sd = math.Hypot(sd, farFootSD)
		}
		flat.Deg[s], flat.SD[s], flat.Seen[s] = geom.Slope(heel.At, toe.At), sd, true
		any = true
	}
	if !any {
		return nil
	}
	return flat
}

// turnedFootSD is what a foot turned out more or less than when running does
// to its angle in the picture: seen from hip height at 4 m, 8° of toe-out lean
// it by 0.24·tan 8°. farFootSD is what the near leg's being in the way adds.
const (
	turnedFootSD = 1.9
	farFootSD    = 1.5
)

// levelNote says what an unknown level costs.
func levelNote(k *standKit) string {
	if k.p.LevelKnown {
		return ""
	}
	return fmt.Sprintf("the camera's level is not known (no uprights in the background), so it is counted with %.1f degrees more or less: state it (--level), or film in front of a door frame", 1.96*k.p.RollSD)
}
