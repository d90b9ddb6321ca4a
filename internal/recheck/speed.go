package recheck

import (
	"math"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/judge"
)

// How far, relative to their mean, the speeds of two checks may differ: all is
// compared up to likeSpeed; what goes with speed by a published slope is
// adjusted up to slopeSpeed; what isn't known to go with it is compared, and
// said so, up to nearSpeed. Our own choice.
const (
	likeSpeed  = 0.05
	nearSpeed  = 0.10
	slopeSpeed = 0.25
)

// slopeShare is the standard uncertainty of a published slope for one runner,
// as a share of it: cadence rises by 5.6 (Burns et al. 2019), 6.6 (Eur J
// Sport Sci 2020 20:182–190) and 12 steps/min per m/s (van Oeveren et al.
// 2017) in three samples.
const slopeShare = 0.5

// goesWithSpeed are the measures that go with speed by more than can be told
// of one runner: no slope of theirs is used, and only like speeds will do.
var goesWithSpeed = map[string]bool{
	"contact_time": true, "flight_time": true, "duty_factor": true, "leg_stiffness": true, "vertical_stiffness": true,
}

// pace is the speeds of two checks, m/s.
type pace struct {
	before, after float64 // NaN where not known
	sd            float64 // of after − before
	heightM       float64
	still         bool // nobody goes anywhere: speeds don't matter
}

func paceOf(before, after card.Card, returns float64) pace {
	p := pace{before: float64(before.Clip.SpeedMS), after: float64(after.Clip.SpeedMS), heightM: after.Runner.HeightM}
	p.still = before.Kind == card.Standing || before.Clip.Setting == onTheSpot && after.Clip.Setting == onTheSpot
	if !(p.heightM > 0) {
		p.heightM = math.NaN()
	}
	was, ok1 := find(before, "speed", "m/s")
	now, ok2 := find(after, "speed", "m/s")
	if ok1 && ok2 {
		p.sd = Between(ReadingOf(was), ReadingOf(now), returns, 0).SD
	}
	return p
}

func find(c card.Card, name, unit string) (card.Measure, bool) {
	for _, m := range c.Measures {
		if m.Name == name && m.Unit == unit {
			return m, true
		}
	}
	return card.Measure{}, false
}

// The settings of a run, as a card names them.
const (
	onTheSpot  = "on_the_spot"
	overGround = "over_ground"
)

func (p pace) known() bool { return !p.still && p.before > 0 && p.after > 0 }

// apart is the relative difference of the speeds; 0 where one isn't known.
func (p pace) apart() float64 {
	if !p.known() {
		return 0
	}
	return math.Abs(p.after-p.before) / ((p.after + p.before) / 2)
}

// shift is how much of a measure's difference the speeds explain, in its
// unit, with its standard uncertainty; 0 for a measure without a published
// slope (judge.Rows).
func (p pace) shift(name, unit string) (by, sd float64) {
	if !p.known() || !hasSlope(name, unit) {
		return 0, 0
	}
	end := func(speed float64) float64 {
		b := judge.WithBands([]form.Measure{{Name: name, Unit: unit}}, judge.Context{SpeedMS: speed, HeightM: p.heightM})[0].Band
		switch {
		case b == nil:
			return 0
		case math.IsNaN(b.High):
			return b.Low
		default:
			return b.High
		}
	}
	by = end(p.after) - end(p.before)
	perMS := (end(p.before+0.5) - end(p.before-0.5)) // over 1 m/s
	return by, math.Hypot(slopeShare*by, perMS*p.sd)
}

func hasSlope(name, unit string) bool {
	for _, r := range append(judge.Rows(), judge.BackRows()...) {
		if r.Measure == name && r.Unit == unit {
			return r.PerMS != 0
		}
	}
	return false
}

// refuses says why a measure can't be compared at these speeds, "" where it
// can.
func (p pace) refuses(name, unit string) string {
	if p.still {
		return ""
	}
	limit := nearSpeed
	switch {
	case goesWithSpeed[name]:
		limit = likeSpeed
	case hasSlope(name, unit):
		limit = slopeSpeed
	}
	switch {
	case !p.known() && (goesWithSpeed[name] || hasSlope(name, unit)):
		return reasonNoSpeed
	case p.apart() > limit:
		return reasonSpeed
	default:
		return ""
	}
}

const (
	reasonNoSpeed = "it goes with speed, and the speed of one of the checks is not known"
	reasonSpeed   = "the speeds of the two checks are too far apart for it; film both at one speed"
)
