package measure

import (
	"errors"
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/gait"
)

// onTheSpot are the measures that somebody who runs or marches in place
// yields: the beat, how high the knees come, and how the body is held.
var onTheSpot = map[string]bool{"cadence": true, "knee_lift": true, "trunk_lean": true, "head_forward": true}

// errOnTheSpot is why the others are refused there.
var errOnTheSpot = errors.New("the clip shows running or marching on the spot, where no foot travels back under the body: film the runner running, on a treadmill or past the camera")

// allowed refuses what the setting can't tell.
func (k *kit) allowed(def Def) error {
	if k.g.Setting == gait.OnTheSpot && !onTheSpot[def.Name] {
		if def.Name == "leg_stiffness" || def.Name == "vertical_stiffness" {
			return errNotAsked
		}
		return errOnTheSpot
	}
	return nil
}

// What the networks' hips and knees may add to the thigh's angle and the
// knee's height, and what other points may (common practice, no source).
const (
	thighBias, thighBiasElsewhere = 3.0, 1.5 // deg
	kneeBias, kneeBiasElsewhere   = 1.5, 1.0 // cm
	farLegBias                    = 1.7      // what the networks make of a leg that is hidden at times
)

// thigh is the shape of one thigh's angle from hanging straight down, forward
// positive.
func thigh(s form.Side) shape {
	return func(p place) (float64, bool) {
		hip, ok1 := joint(p, form.Hip, s)
		knee, ok2 := joint(p, form.Knee, s)
		return math.Atan2(knee.X-hip.X, hip.Y-knee.Y) * 180 / math.Pi, ok1 && ok2
	}
}

// kneeHeight is the shape of one knee's height, cm.
func kneeHeight(s form.Side) shape {
	return func(p place) (float64, bool) {
		knee, ok := joint(p, form.Knee, s)
		return 100 * knee.Y, ok
	}
}

// peakInSwing is the highest value of a shape while the other leg carries.
func (k *kit) peakInSwing(s form.Side, f shape) (estimate, bool) {
	c := k.cycle(s.Other()) // its anchors are the middles of this leg's swings
	best, when := math.Inf(-1), 0.0
	for t := -0.22 * c.StrideS; t <= 0.22*c.StrideS; t += 0.004 {
		if v, ok := f(inCycle(c, t)); ok && v > best {
			best, when = v, t
		}
	}
	if math.IsInf(best, -1) {
		return estimate{}, false
	}
	e, ok := k.at(c, when, 0, f)
	// Each step has its own peak, a little before or after: the mean of the
	// peaks is what is asked for.
	sum, n := 0.0, 0
	for _, a := range c.Anchors {
		peak := math.Inf(-1)
		for t := -0.22 * c.StrideS; t <= 0.22*c.StrideS; t += 0.01 {
			if v, ok := f(k.inClip(a + t)); ok {
				peak = math.Max(peak, v)
			}
		}
		if !math.IsInf(peak, -1) {
			sum, n = sum+peak, n+1
		}
	}
	if n >= 3 {
		// Single strides are noisier and smoothed more; half-way is sounder.
		e.noise = math.Hypot(e.noise, math.Abs(sum/float64(n)-e.value)/2)
		e.value = (e.value + sum/float64(n)) / 2
	}
	return e, ok
}

// kneeLift gives how high the thigh comes, in degrees, or the knee over where
// it is while it carries the body, in centimetres.
func kneeLift(rise bool) func(*kit, Def, form.Side) (form.Measure, error) {
	return func(k *kit, def Def, s form.Side) (form.Measure, error) {
		if k.g.Setting != gait.OnTheSpot {
			return form.Measure{}, errNotAsked
		}
		f, bias, other := thigh(s), thighBias, thighBiasElsewhere
		what := kind{}
		if rise {
			f, bias, other = kneeHeight(s), kneeBias, kneeBiasElsewhere
			what = kind{scaled: true}
		}
		e, ok := k.peakInSwing(s, f)
		if !ok {
			return form.Measure{}, errUnseen
		}
		if rise {
			low, ok := k.at(k.cycle(s), 0, 0.02, f)
			if !ok {
				return form.Measure{}, errUnseen
			}
			e.value -= low.value
			e.noise, e.timing = math.Hypot(e.noise, low.noise), low.timing
			e.spread = math.Hypot(e.spread, low.spread)
		}
		switch {
		case !k.network:
			bias = other
		case s != k.g.Near: // the near leg hides it half of the time
			bias *= farLegBias
		}
		m := widen(k.give(def, s, e, what), bias)
		m.Common, m.Lasting = math.Hypot(m.Common, bias), math.Hypot(m.Lasting, bias)
		return m, nil
	}
}
