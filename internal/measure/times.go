package measure

import (
	"errors"
	"fmt"
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/signal"
)

// cadence is 60 / mean step time, the stride time being the least-squares
// one through all stance phases. Its uncertainty is that of the first and
// last of them over the time between, and a fifth more for steps that wander.
func cadence(k *kit, def Def, s form.Side) (form.Measure, error) {
	g := k.g
	v, check := 120/g.StrideS, 120/g.StrideCheckS
	steps := len(g.Beats[form.Left]) + len(g.Beats[form.Right])
	// Within 2 %; the autocorrelation of fewer than eight steps is worth less.
	if math.Abs(v-check) > 0.02*v*math.Max(1, 8/float64(steps)) {
		return form.Measure{}, fmt.Errorf("two independent ways of counting disagree (%.1f and %.1f steps/min): the steps are too irregular or too few", v, check)
	}
	span := float64(max(steps-1, 1)) * g.StrideS / 2
	sd := 1.2 * v * k.anchorSD() * math.Sqrt2 / span
	return form.With95(def.Name, s, def.Unit, v, math.Max(sd, 0.05), steps), nil
}

// anchorSD is the spread of single anchors about an even beat, seconds.
func (k *kit) anchorSD() float64 {
	var dev []float64
	for _, s := range []form.Side{form.Left, form.Right} {
		a := k.g.Beats[s]
		for i := 1; i < len(a); i++ {
			strides := math.Round((a[i] - a[i-1]) / k.g.StrideS)
			if strides >= 1 {
				dev = append(dev, (a[i]-a[i-1]-strides*k.g.StrideS)/math.Sqrt2)
			}
		}
	}
	if len(dev) < 3 {
		return 0.01
	}
	return math.Max(signal.RobustSD(dev), 0.002)
}

// frameSD is what single frames are worth for one event's time, after the
// strides were laid over one another, seconds: a sixth of a frame.
func (k *kit) frameSD() float64 {
	t := k.g.Motion.Times
	return (t[len(t)-1] - t[0]) / float64(len(t)-1) / 6
}

func contactTime(k *kit, def Def, s form.Side) (form.Measure, error) {
	c := k.cycle(s)
	e := estimate{value: 1000 * (c.ToeOffS - c.ContactS), n: len(c.Anchors)}
	e.timing = 1000 * math.Hypot(math.Hypot(c.ContactSD, c.ToeOffSD), k.frameSD())
	e.definition = 1000 * math.Hypot(c.ContactBias, c.ToeOffBias)
	return k.give(def, s, e, kind{}), nil
}

// lag is how long after an anchor of side s the other side's anchor comes on
// average, with its standard error, seconds.
func (k *kit) lag(s form.Side) (mean, se float64, err error) {
	var lags []float64
	for _, a := range k.g.Beats[s] {
		for _, b := range k.g.Beats[s.Other()] {
			if d := b - a; d > 0 && d < 0.9*k.g.StrideS {
				lags = append(lags, d)
			}
		}
	}
	if len(lags) == 0 {
		return 0, 0, errors.New("too few successive steps of both feet")
	}
	mean, sd := signal.MeanSD(lags)
	if !finite(sd) {
		sd = 0.01
	}
	return mean, math.Max(sd, 0.003) / math.Sqrt(float64(len(lags))), nil
}

func flightTime(k *kit, def Def, s form.Side) (form.Measure, error) {
	lag, se, err := k.lag(s)
	if err != nil {
		return form.Measure{}, err
	}
	c, o := k.cycle(s), k.cycle(s.Other())
	e := estimate{value: 1000 * (lag + o.ContactS - c.ToeOffS), n: len(c.Anchors)}
	e.timing = 1000 * math.Sqrt(o.ContactSD*o.ContactSD+c.ToeOffSD*c.ToeOffSD+se*se+k.frameSD()*k.frameSD())
	e.definition = 1000 * math.Hypot(o.ContactBias, c.ToeOffBias)
	return k.give(def, s, e, kind{}), nil
}

func dutyFactor(k *kit, def Def, s form.Side) (form.Measure, error) {
	c := k.cycle(s)
	t := (c.ToeOffS - c.ContactS) / k.g.StrideS
	e := estimate{value: t, n: len(c.Anchors)}
	e.timing = math.Hypot(math.Hypot(c.ContactSD, c.ToeOffSD), k.frameSD()) / k.g.StrideS
	e.definition = math.Hypot(c.ContactBias, c.ToeOffBias) / k.g.StrideS
	return k.give(def, s, e, kind{}), nil
}

// passingDiffer is how differently, seconds, the passing of the ankles stands
// before near and far contacts where the view changes along the path (studied
// on invented runners: go test ./internal/check -run OverGround).
const passingDiffer = 0.004

// stepTimeAsymmetry compares the step that ends with the right contact with
// the one that ends with the left.
func stepTimeAsymmetry(k *kit, def Def, s form.Side) (form.Measure, error) {
	toRight, se1, err := k.lag(form.Left)
	if err != nil {
		return form.Measure{}, err
	}
	toLeft, se2, err := k.lag(form.Right)
	if err != nil {
		return form.Measure{}, err
	}
	l, r := k.cycle(form.Left), k.cycle(form.Right)
	if len(k.g.Beats[form.Left])+len(k.g.Beats[form.Right]) < 6 {
		return form.Measure{}, errors.New("fewer than six steps: film at least 8 seconds")
	}
	drawn := l.ContactMoved - r.ContactMoved
	diff := (toLeft - toRight) + 2*(l.ContactS-r.ContactS-drawn/2)
	half := k.g.StrideS / 2
	// What a contact's definition adds is alike on both sides and falls out,
	// but for what two feet that land differently leave of it. Whether what the
	// feet drew each other by was the points' error or the runner's own
	// difference is not known: half of it is taken back, and it may be either.
	event := math.Hypot(sidesDiffer, drawnSD*drawn)
	lasting := math.Hypot(k.bias.of(def.Name, def.Unit).sd, 200*event/half)
	passing := 0.0
	if k.g.Setting == gait.OverGround {
		passing = passingDiffer
	}
	sd := math.Hypot(100*math.Sqrt(se1*se1+se2*se2+4*passing*passing)/half, lasting)
	m := form.With95(def.Name, s, def.Unit, 100*math.Abs(diff)/half, sd, len(l.Anchors)+len(r.Anchors))
	m.Low, m.Lasting = math.Max(m.Low, 0), lasting
	return m, nil
}

// sidesDiffer is how far, seconds, one side's contacts are found early or late
// against the other's: invented runners who land 1.5 degrees and 8 mm
// differently left and right (docs/studies/uncertainty.md), each foot by itself:
// what matching the leg network's feet may add is told by how far they moved
// (record 25).
const sidesDiffer = 0.0015

// drawnSD is how unsure what two feet drew each other by leaves their steps, as
// a share of it: the truth lies anywhere from all of it to none, half of it either
// way of what is given (common practice, no source).
const drawnSD = 0.5

func speed(k *kit, def Def, s form.Side) (form.Measure, error) {
	if !(k.g.SpeedMS > 0) {
		return form.Measure{}, errUnseen
	}
	sd := k.g.SpeedSD
	if k.g.SpeedMS == k.g.SeenSpeedMS { // not stated
		sd = math.Hypot(sd, k.bias.of(def.Name, def.Unit).sd)
	}
	m := form.With95(def.Name, s, def.Unit, k.g.SpeedMS, sd, len(k.cycle(form.Left).Anchors)+len(k.cycle(form.Right).Anchors))
	m.Lasting = math.Min(k.g.SpeedMS*k.g.Plane.ScaleSD, k.g.SpeedSD)
	return m, nil
}
