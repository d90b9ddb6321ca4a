package measure

import (
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/geom"
)

// landingOf gives the distance of a point of the foot ahead of the centre of
// mass at contact, in cm or as a share of the leg.
func landingOf(pt form.Point, share bool) func(*kit, Def, form.Side) (form.Measure, error) {
	return func(k *kit, def Def, s form.Side) (form.Measure, error) {
		c := k.cycle(s)
		if _, err := k.centreOfMass(inCycle(c, c.ContactS)); err != nil {
			return form.Measure{}, err
		}
		unit := 100.0
		if share {
			unit = 100 / k.g.LegM
		}
		f := func(p place) (float64, bool) {
			foot, ok := joint(p, pt, s)
			com, err := k.centreOfMass(p)
			return unit * (foot.X - com.X), ok && err == nil
		}
		e, ok := k.at(c, c.ContactS, c.ContactSD, f)
		if !ok {
			return form.Measure{}, errUnseen
		}
		return k.give(def, s, e.timedBy(c.ContactBias, c.ContactSD), kind{scaled: !share}), nil
	}
}

func shankAngle(k *kit, def Def, s form.Side) (form.Measure, error) {
	c := k.cycle(s)
	f := func(p place) (float64, bool) {
		knee, ok1 := joint(p, form.Knee, s)
		ankle, ok2 := joint(p, form.Ankle, s)
		return -geom.Lean(ankle, knee), ok1 && ok2
	}
	e, ok := k.at(c, c.ContactS, c.ContactSD, f)
	if !ok {
		return form.Measure{}, errUnseen
	}
	return k.give(def, s, e.timedBy(c.ContactBias, c.ContactSD), kind{}), nil
}

// kneeFlexion is the shape of one knee's flexion.
func kneeFlexion(s form.Side) shape {
	return func(p place) (float64, bool) {
		hip, ok1 := joint(p, form.Hip, s)
		knee, ok2 := joint(p, form.Knee, s)
		ankle, ok3 := joint(p, form.Ankle, s)
		return geom.Flexion(hip, knee, ankle), ok1 && ok2 && ok3
	}
}

func kneeAtContact(k *kit, def Def, s form.Side) (form.Measure, error) {
	c := k.cycle(s)
	e, ok := k.at(c, c.ContactS, c.ContactSD, kneeFlexion(s))
	if !ok {
		return form.Measure{}, errUnseen
	}
	return k.give(def, s, e.timedBy(c.ContactBias, c.ContactSD), kind{}), nil
}

func kneePeak(k *kit, def Def, s form.Side) (form.Measure, error) {
	c := k.cycle(s)
	best, when := math.Inf(-1), 0.0
	for t := c.ContactS; t <= c.ToeOffS; t += 0.004 {
		if v, ok := kneeFlexion(s)(inCycle(c, t)); ok && v > best {
			best, when = v, t
		}
	}
	e, ok := k.at(c, when, 0, kneeFlexion(s))
	if !ok || math.IsInf(best, -1) {
		return form.Measure{}, errUnseen
	}
	return k.give(def, s, e, kind{}), nil
}

// Foot strike classes by angle: rearfoot above 8.0°, forefoot below −1.6°,
// midfoot between. Altman & Davis 2012, doi 10.1016/j.gaitpost.2011.09.104
// (from memory).
const (
	rearfootAbove = 8.0
	forefootBelow = -1.6
)

// Classify gives the class of a foot strike angle with standard uncertainty
// sd, and the probability of each class.
func Classify(angle, sd float64) (class string, p map[string]float64) {
	cdf := func(limit float64) float64 {
		if sd <= 0 {
			if angle < limit {
				return 1
			}
			return 0
		}
		return 0.5 * math.Erfc(-(limit-angle)/(sd*math.Sqrt2))
	}
	fore := cdf(forefootBelow)
	rear := 1 - cdf(rearfootAbove)
	if sd <= 0 && angle <= rearfootAbove {
		rear = 0
	}
	p = map[string]float64{"forefoot": fore, "midfoot": 1 - fore - rear, "rearfoot": rear}
	class = "midfoot"
	for _, name := range []string{"forefoot", "rearfoot"} {
		if p[name] > p[class] {
			class = name
		}
	}
	return class, p
}

// footAngle is the shape of heel→toe to the ground, toes up positive.
func footAngle(s form.Side) shape {
	return func(p place) (float64, bool) {
		heel, ok1 := joint(p, form.Heel, s)
		toe, ok2 := joint(p, form.Toe, s)
		return geom.Slope(heel, toe), ok1 && ok2
	}
}

// A sole lies flat where its angle turns by less than flatRate over
// flatTime, after it came down by at least cameDown: a foot that lands on
// the heel rolls onto the sole and rests there. A foot that lands flat or on
// the forefoot may never put the heel down; a pause with a raised heel is
// not a flat foot.
const (
	flatRate = 70.0 // deg/s
	flatTime = 0.04 // s
	cameDown = 6.0  // deg
	flatSD   = 1.5  // deg: what the rest is worth as a reference
	heelDown = 0.01 // m: how near its lowest place the heel must be
)

// flatFrom is where the angle of a flat foot comes from.
type flatFrom uint8

const (
	flatUsual    flatFrom = iota // what such feet usually show
	flatRest                     // the sole at rest in stance
	flatStanding                 // the standing check
)

// flatReference is the angle of the foot flat on the ground: from the
// standing check where there is one whose points are of the same making, else
// as flatFoot finds it.
func (k *kit) flatReference(c *gait.Cycle, atContact float64) (angle, sd float64, from flatFrom) {
	if f := k.who.Flat.alike(k.g.Motion.Track.Network); f != nil && f.Seen[c.Side] {
		return k.g.InclineDeg() + f.Deg[c.Side], f.SD[c.Side], flatStanding
	}
	angle, sd, found := k.flatFoot(c, atContact)
	if found {
		return angle, sd, flatRest
	}
	return angle, sd, flatUsual
}

// flatFoot is the foot's angle where the sole lies still on the ground: the
// quietest flatTime in the first 60 % of stance; for a network's points
// weighed against its mean angle of a flat foot, and dropped where the two
// contradict. found is false where it never lies still, or was dropped: then
// it is that mean on the belt's slope.
func (k *kit) flatFoot(c *gait.Cycle, atContact float64) (angle, sd float64, found bool) {
	f := footAngle(c.Side)
	heelY := func(t float64) float64 {
		v, _, _, _ := c.At(form.At(form.Heel, c.Side), t)
		return v.Y
	}
	heelLow := math.Inf(1)
	for t := c.ContactS; t < c.ToeOffS; t += 0.004 {
		heelLow = math.Min(heelLow, heelY(t))
	}
	prior := k.bias.of("flat_foot", "deg")
	best, at := math.Inf(1), 0.0
	for t := c.ContactS + flatTime/2; t+flatTime/2 <= c.ContactS+0.6*(c.ToeOffS-c.ContactS); t += 0.004 {
		a, ok1 := f(inCycle(c, t-flatTime/2))
		b, ok2 := f(inCycle(c, t+flatTime/2))
		if ok1 && ok2 && heelY(t) < heelLow+heelDown && math.Abs(b-a)/flatTime < best {
			best, at = math.Abs(b-a)/flatTime, t
		}
	}
	slope := k.g.InclineDeg()
	if best < flatRate {
		v, _ := f(inCycle(c, at))
		switch {
		case v >= atContact-cameDown:
		case !k.network: // the points are what they are: their own rest counts
			return v, flatSD, true
		case math.Abs(v-slope-prior.offset) < 1.5*prior.sd:
			w := prior.sd * prior.sd / (prior.sd*prior.sd + flatSD*flatSD)
			return slope + prior.offset + w*(v-slope-prior.offset), math.Sqrt(w) * flatSD, true
		}
	}
	return slope + prior.offset, prior.sd, false
}

func footStrikeAngle(k *kit, def Def, s form.Side) (form.Measure, error) {
	c := k.cycle(s)
	e, ok := k.at(c, c.ContactS, c.ContactSD, footAngle(s))
	if !ok {
		return form.Measure{}, errUnseen
	}
	flat, sd, from := k.flatReference(c, e.value)
	e.value -= flat
	e.reference = sd
	m := k.give(def, s, e.timedBy(c.ContactBias, c.ContactSD), kind{level: from == flatRest})
	switch from {
	case flatStanding:
		m.Note = "against the same foot as it stands flat in the standing check"
	case flatUsual:
		m.Lasting = math.Hypot(m.Lasting, sd) // the same foot in the same shoe
		m.Note = "no moment in stance shows the sole flat for sure, so the angle is taken against a flat foot's usual one: wider uncertainty"
	}
	m.Class, m.Classes = Classify(m.Value, m.SD)
	return m, nil
}
