package form

import "math"

// EventKind is what a foot does at an event.
type EventKind string

// The gait events.
const (
	Contact EventKind = "contact"
	ToeOff  EventKind = "toe_off"
)

// Event is one initial contact or toe-off. Time and SD (standard
// uncertainty) are in seconds.
type Event struct {
	Kind EventKind `json:"kind" jsonschema:"enum=contact,enum=toe_off"`
	Side Side      `json:"side"`
	Time float64   `json:"time_s"`
	SD   float64   `json:"sd_s"`
	// ByHand: a person set the time.
	ByHand bool `json:"by_hand,omitempty"`
}

// Band is the range a measure is compared with, in the measure's unit.
// An open end is NaN inside the program and null in JSON.
type Band struct {
	Low, High float64
	// PopulationSD is the spread between runners, in the measure's unit.
	PopulationSD float64
	// Source names the paper, or says "common practice, no source".
	Source string
}

// Measure is one number with its standard uncertainty SD (all sources) and
// 95 % interval Low..High, made from N steps or frames.
type Measure struct {
	Name  string
	Side  Side
	Unit  string
	Value float64
	SD    float64
	Low   float64
	High  float64
	N     int
	// Class is a word for the value where one exists (foot strike: rearfoot,
	// midfoot, forefoot), with the probability of each class.
	Class   string
	Classes map[string]float64
	Band    *Band
	// Common is the part of SD that another clip of the same runner, filmed
	// alike, would share: what the network, the scale, the level and the view
	// add. The rest becomes less when clips are pooled.
	Common float64
	// Lasting is the part of SD that would return in another check of the same
	// runner on another day, by the same networks and from the same side: what
	// a network adds to this measure, and the runner's own proportions in a
	// length. The level, the camera's place and all that is by chance are not
	// in it. 0 where it was not told apart: then nothing of SD is taken to
	// return.
	Lasting float64
	// Note says what a reader must know about this very value (a reference
	// that was missing, a limb that was mirrored); often empty.
	Note string
}

// With95 returns a Measure with the 95 % interval of a normal distribution,
// value ± 1.96 sd.
func With95(name string, side Side, unit string, value, sd float64, n int) Measure {
	return Measure{
		Name: name, Side: side, Unit: unit, Value: value, SD: sd,
		Low: value - 1.96*sd, High: value + 1.96*sd, N: n,
	}
}

// Refusal is a measure that can't be had from this clip, and why.
type Refusal struct {
	Name   string `json:"name"`
	Side   Side   `json:"side"`
	Reason string `json:"reason"`
}

// ProbabilityOutside is the probability that the true value lies outside
// the band, the value being normal with the measure's SD: what the
// judgement weighs. Without a band it is 0.
func (m Measure) ProbabilityOutside() float64 {
	if m.Band == nil || m.SD <= 0 {
		return 0
	}
	p := 0.0
	if !math.IsNaN(m.Band.Low) {
		p += phi((m.Band.Low - m.Value) / m.SD)
	}
	if !math.IsNaN(m.Band.High) {
		p += 1 - phi((m.Band.High-m.Value)/m.SD)
	}
	return math.Min(p, 1)
}

// phi is the standard normal distribution function.
func phi(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }
