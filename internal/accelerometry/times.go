package accelerometry

import (
	"errors"
	"fmt"
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/signal"
)

// agreeS is how far apart the estimates of contact may lie; tissue and
// straps that shake pull them apart.
const agreeS = 0.06

// slowSensor is what a landmark is worth between samples, as a share of the
// time between two.
const slowSensor = 0.3

// estimate is the contact time with its standard uncertainty, seconds.
type estimate struct {
	contactS, sdS, stepS float64
	n                    int
	forward              bool // by all three ways
}

// contact gives contact and flight time and the duty factor, or refuses them.
func (f *Finding) contact(rec Recording, worn Place, p pooled) {
	e, err := p.estimate(rec)
	switch {
	case worn == Elsewhere:
		err = errors.New("it is known only from a sensor at the small of the back (--worn back)")
	case worst(rec) > 0.01:
		err = errors.New("the sensor reaches the end of its range in many samples; use one of 8 g or more")
	case err == nil && worn == NotStated && !rec.Upright && !p.trunk():
		err = errors.New("the sensor does not seem to be worn at the trunk; at the small of the back it could be told (--worn back)")
	}
	if err != nil {
		f.refuse(err.Error(), "contact_time", "flight_time", "duty_factor")
		return
	}
	note := ""
	if worn == NotStated && !rec.Upright {
		note = "true for a sensor at the small of the back, as this one seems to be; state --worn back or --worn elsewhere"
	}
	if !e.forward {
		if note != "" {
			note += "; "
		}
		note += "without the fore–aft direction it is less sure"
	}
	add := func(name, unit string, value, sd float64) {
		m := form.With95(name, form.Both, unit, value, sd, e.n)
		m.Note = note
		f.Measures = append(f.Measures, m)
	}
	add("contact_time", "ms", 1000*e.contactS, 1000*e.sdS)
	flight := e.stepS - e.contactS
	if flight-2*e.sdS < 0 && flight < 0.01 {
		f.refuse("the time in the air is too short to be told from none", "flight_time")
	} else {
		add("flight_time", "ms", 1000*flight, 1000*e.sdS)
	}
	add("duty_factor", "–", e.contactS/(2*e.stepS), e.sdS/(2*e.stepS))
}

func worst(rec Recording) float64 {
	share := 0.0
	for _, axis := range rec.Axes {
		share = math.Max(share, clipped(axis))
	}
	return share
}

// estimate is the mean of the three ways, or of the two that need no fore–aft
// direction, weighted over the bouts by their steps.
func (p *pooled) estimate(rec Recording) (estimate, error) {
	var e estimate
	var sum, steps, square float64
	var apart []float64
	e.forward = true
	for _, c := range p.contacts {
		if math.IsNaN(c.byPulse) || math.IsNaN(c.byEdges) {
			continue
		}
		value, all := c.value(rec.Upright)
		e.forward = e.forward && all
		w := float64(c.n)
		sum += w * value
		steps += w
		square += w * c.stepS
		apart = append(apart, math.Abs(c.byPulse-c.byEdges))
		if !math.IsNaN(c.spread) {
			e.sdS += w * c.spread
		}
		e.n += c.n
	}
	if e.n < 4 {
		return e, errors.New("too few steps are clear enough to tell how long the foot is down")
	}
	e.contactS, e.stepS = sum/steps, square/steps
	if signal.Median(apart) > agreeS {
		return e, fmt.Errorf("two ways of telling it are %.0f ms apart: the sensor sits loosely, or not at the trunk", 1000*signal.Median(apart))
	}
	method := methodSD
	switch {
	case !rec.Upright:
		method = leaningSD
	case !e.forward:
		method = twoSD
	}
	method = math.Hypot(method, slowSensor/rec.RateHz)
	e.sdS = math.Hypot(method, e.sdS/steps/math.Sqrt(float64(e.n)))
	if e.contactS < 0.08 || e.contactS > 0.98*e.stepS {
		return e, errors.New("what comes out is no runner's time on the ground")
	}
	return e, nil
}

// value is the contact time of one bout; all tells whether the fore–aft
// landmarks were of use.
func (c stance) value(upright bool) (contactS float64, all bool) {
	two := (c.byPulse + c.byEdges) / 2
	if !upright {
		return two - leaningOffsetS, false
	}
	two -= twoOffsetS
	three := c.byLandmarks - contactOffsetS
	if math.IsNaN(three) || math.Abs(three-two) > agreeS {
		return two, false
	}
	return three, true
}

// trunk tells whether the bouts look like the trunk's: estimates that agree,
// and steps alike on both sides.
func (p *pooled) trunk() bool {
	for _, c := range p.contacts {
		if math.Abs(c.byPulse-c.byEdges) > 0.04 {
			return false
		}
	}
	return len(p.contacts) > 0
}
