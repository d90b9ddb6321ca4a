package measure

import (
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/geom"
)

// trunk is the shape of hip centre→shoulder centre to the vertical.
func trunk(p place) (float64, bool) {
	hip, ok1 := mid(p, form.Hip)
	shoulder, ok2 := mid(p, form.Shoulder)
	return geom.Lean(hip, shoulder), ok1 && ok2
}

func trunkLean(k *kit, def Def, s form.Side) (form.Measure, error) {
	e, ok := k.overStride(trunk)
	if !ok {
		return form.Measure{}, errUnseen
	}
	return k.give(def, s, e, kind{}), nil
}

func bodyLean(k *kit, def Def, s form.Side) (form.Measure, error) {
	e, ok := k.atMidstance(func(s form.Side) shape {
		return func(p place) (float64, bool) {
			ankle, ok1 := joint(p, form.Ankle, s)
			ear, ok2 := mid(p, form.Ear)
			return geom.Lean(ankle, ear), ok1 && ok2
		}
	})
	if !ok {
		return form.Measure{}, errUnseen
	}
	return k.give(def, s, e, kind{}), nil
}

func hipHinge(k *kit, def Def, s form.Side) (form.Measure, error) {
	lean, ok := k.overStride(trunk)
	if !ok {
		return form.Measure{}, errUnseen
	}
	e, ok := k.atMidstance(func(s form.Side) shape {
		return func(p place) (float64, bool) {
			ankle, ok1 := joint(p, form.Ankle, s)
			hip, ok2 := mid(p, form.Hip)
			return geom.Lean(ankle, hip), ok1 && ok2
		}
	})
	if !ok {
		return form.Measure{}, errUnseen
	}
	e.value = lean.value - k.bias.of("trunk_lean", "deg").offset - e.value
	e.noise = math.Hypot(e.noise, lean.noise)
	e.spread = math.Hypot(e.spread, lean.spread)
	e.roll, e.yaw = lean.roll-e.roll, lean.yaw-e.yaw
	return k.give(def, s, e, kind{}), nil
}

func headForward(k *kit, def Def, s form.Side) (form.Measure, error) {
	e, ok := k.overStride(func(p place) (float64, bool) {
		ear, ok1 := mid(p, form.Ear)
		shoulder, ok2 := mid(p, form.Shoulder)
		return 100 * (ear.X - shoulder.X), ok1 && ok2
	})
	if !ok {
		return form.Measure{}, errUnseen
	}
	return k.give(def, s, e, kind{scaled: true}), nil
}

func headAngle(k *kit, def Def, s form.Side) (form.Measure, error) {
	e, ok := k.overStride(func(p place) (float64, bool) {
		ear, ok1 := mid(p, form.Ear)
		shoulder, ok2 := mid(p, form.Shoulder)
		lean, ok3 := trunk(p)
		return geom.Lean(shoulder, ear) - lean, ok1 && ok2 && ok3
	})
	if !ok {
		return form.Measure{}, errUnseen
	}
	return k.give(def, s, e, kind{}), nil
}

func midstanceStack(k *kit, def Def, s form.Side) (form.Measure, error) {
	near := k.g.Near
	c := k.cycle(near)
	f := func(p place) (float64, bool) {
		nose, ok1 := p(0)
		knee, ok2 := joint(p, form.Knee, near)
		heel, ok3 := joint(p, form.Heel, near)
		toe, ok4 := joint(p, form.Toe, near)
		foot := geom.Mid(heel, toe)
		lo := math.Min(nose.X, math.Min(knee.X, foot.X))
		hi := math.Max(nose.X, math.Max(knee.X, foot.X))
		return 100 * (hi - lo), ok1 && ok2 && ok3 && ok4
	}
	e, ok := k.at(c, (c.ContactS+c.ToeOffS)/2, math.Hypot(c.ContactSD, c.ToeOffSD)/2, f)
	if !ok {
		return form.Measure{}, errUnseen
	}
	e = e.timedBy(math.Hypot(c.ContactBias, c.ToeOffBias), math.Hypot(c.ContactSD, c.ToeOffSD))
	return k.give(def, s, e, kind{scaled: true}), nil
}

func verticalOscillation(k *kit, def Def, s form.Side) (form.Measure, error) {
	var sum float64
	n := 0
	for _, side := range []form.Side{form.Left, form.Right} {
		c := k.cycle(side)
		// The trough lies in stance; the peak that follows it in flight, which
		// may outlast half a stride where the steps are uneven.
		lo, hi := math.Inf(1), math.Inf(-1)
		for i := range 79 {
			com, err := k.centreOfMass(inCycle(c, c.ContactS+float64(i)/60*c.StrideS/2))
			if err != nil {
				return form.Measure{}, err
			}
			if i <= 50 && com.Y < lo {
				lo, hi = com.Y, com.Y
			}
			hi = math.Max(hi, com.Y)
		}
		sum += 100 * (hi - lo) / 2
		n += len(c.Anchors)
	}
	e := estimate{value: sum, n: n}
	height := func(p place) (float64, bool) {
		com, err := k.centreOfMass(p)
		return 100 * com.Y, err == nil
	}
	e.noise = pointNoise(k.cycle(form.Left), 0, height)
	e.spread = k.stepSpread(k.cycle(form.Left), 0, height)
	return k.give(def, s, e, kind{scaled: true}), nil
}
