package recheck

import (
	"math"

	"plumbstride/internal/card"
	"plumbstride/internal/signal"
)

// Reading is one value of a measure with its standard uncertainty SD (all
// sources) and the part of it that returns in another check filmed alike
// (see form.Measure), all in the measure's unit.
type Reading struct{ Value, SD, Lasting float64 }

// ReadingOf takes a card's measure. Few steps tell their own spread badly:
// where the 95 % interval is wider than 1.96 SD, the interval counts.
func ReadingOf(m card.Measure) Reading {
	half := math.Max(m.High-m.Value, m.Value-m.Low)
	if math.IsNaN(half) || math.IsInf(half, 0) {
		half = 0
	}
	sd := math.Max(m.SD, half/1.96)
	return Reading{Value: m.Value, SD: sd, Lasting: math.Min(math.Max(m.SDLasting, 0), sd)}
}

// own is the part of the variance that doesn't return.
func (r Reading) own() float64 { return math.Max(r.SD*r.SD-r.Lasting*r.Lasting, 0) }

// Returns is the correlation between what a network and the runner's
// proportions add (the lasting part) in one check and in another that is
// filmed alike: the same networks, the same side, the same setting. It is
// less than 1 because clothes, light and the camera's place change between
// evenings: on invented runners drawn for two of them 0.84 to 0.98 and more
// (go test ./internal/check -run Returns -returns 8 -v).
const Returns = 0.85

// Difference is after − before with its standard uncertainty, in the
// measure's unit.
type Difference struct{ Value, SD float64 }

// Between is the difference of two readings. returns is how much of their
// lasting parts is the same in both (Returns, or 0 for checks that are not
// filmed alike), day how much the runner varies from one check to another
// (standard deviation):
//
//	sd² = own₁² + own₂² + L₁² + L₂² − 2·returns·L₁·L₂ + 2·day²
//
// (the law of propagation of uncertainty with one correlation, JCGM 100:2008,
// 5.2.2).
func Between(before, after Reading, returns, day float64) Difference {
	lasting := before.Lasting*before.Lasting + after.Lasting*after.Lasting - 2*returns*before.Lasting*after.Lasting
	return Difference{
		Value: after.Value - before.Value,
		SD:    math.Sqrt(before.own() + after.own() + math.Max(lasting, 0) + 2*day*day),
	}
}

// MDC95 is the smallest change that these two checks tell from noise, with
// 95 % confidence: 1.96·√2·SEM (Weir 2005, J Strength Cond Res 19:231–240;
// from memory), SEM being the standard uncertainty of one check in the
// comparison, SD/√2.
func (d Difference) MDC95() float64 { return signal.MDC95(d.SD / math.Sqrt2) }

// Interval is the 95 % interval of the difference.
func (d Difference) Interval() (low, high float64) { return d.Value - 1.96*d.SD, d.Value + 1.96*d.SD }

// Changed tells whether the difference is more than noise.
func (d Difference) Changed() bool { return d.SD > 0 && math.Abs(d.Value) >= d.MDC95() }

// P is how often so large a difference, or a larger one, comes without any
// change: two-sided, from the normal distribution.
func (d Difference) P() float64 {
	if !(d.SD > 0) {
		return 1
	}
	return math.Erfc(math.Abs(d.Value) / d.SD / math.Sqrt2)
}
