package recheck

import (
	"math"
	"time"
)

// Seen is one look at the measure that led an area: when, and how surely the
// runner's usual value lay in its band (InBand).
type Seen struct {
	At     time.Time
	InBand float64
}

// Practice is what a runner's own recordings say of cadence at a speed over
// the weeks between the two checks: value and standard uncertainty, by an
// instrument that shares no error with the checks.
type Practice struct {
	CadenceSPM float64 `json:"cadence_spm"`
	SD         float64 `json:"sd"`
	SpeedMS    float64 `json:"speed_m_s"`
	// From and To are the first and last day that it rests on.
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// The rule by which an area is learnt: its leading measure lies in its band
// with a probability of at least Sure on the last check, and did on a check
// at least HeldFor earlier, and on every one between; or on the last check
// and in practice data over HeldFor or more. Over simulated courses of up to
// eight checks a runner whose usual value lies just outside the band is
// called so in less than 5 % (docs/studies/change.md).
const (
	Sure    = 0.96
	HeldFor = 21 * 24 * time.Hour
)

// Held is how an area was found to be learnt.
type Held string

// The ways.
const (
	NotHeld      Held = ""
	HeldByChecks Held = "checks"
	HeldPractice Held = "practice"
)

// Learnt applies the rule to the looks in the order of time, the last one
// last. practised is the probability that cadence in practice lies in its
// band and how long that was looked at; 0, 0 without such data.
func Learnt(looks []Seen, practised float64, span time.Duration) Held {
	if len(looks) == 0 {
		return NotHeld
	}
	last := looks[len(looks)-1]
	if !(last.InBand >= Sure) {
		return NotHeld
	}
	for i := len(looks) - 2; i >= 0 && looks[i].InBand >= Sure; i-- {
		if last.At.Sub(looks[i].At) >= HeldFor {
			return HeldByChecks
		}
	}
	if practised >= Sure && span >= HeldFor {
		return HeldPractice
	}
	return NotHeld
}

// within is the probability that practice lies between two ends; NaN is an
// open one.
func (p Practice) within(low, high float64) float64 {
	out := 0.0
	if !(p.SD > 0) {
		return 0
	}
	if !math.IsNaN(low) {
		out += 0.5 * math.Erfc((p.CadenceSPM-low)/p.SD/math.Sqrt2)
	}
	if !math.IsNaN(high) {
		out += 0.5 * math.Erfc((high-p.CadenceSPM)/p.SD/math.Sqrt2)
	}
	return 1 - out
}
