package recheck

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"plumbstride/internal/card"
)

// course is a runner's checks: how the uncertainty of one measure is made up,
// and where the runner's usual value lies, outside the band's upper end (0)
// where positive.
type course struct {
	own, lasting, day float64
	checks            int
	usual             func(week float64) float64
}

// taught simulates a course and tells how it ends: learnt at some check, or
// not. Checks are two to eight weeks apart.
func (c course) taught(rng *rand.Rand) Held {
	at, shared := time.Date(2026, 1, 5, 18, 0, 0, 0, time.UTC), rng.NormFloat64()
	start := at
	var looks []Seen
	for range c.checks {
		lasting := c.lasting * (math.Sqrt(Returns)*shared + math.Sqrt(1-Returns)*rng.NormFloat64())
		week := at.Sub(start).Hours() / (7 * 24)
		x := c.usual(week) + c.own*rng.NormFloat64() + lasting + c.day*rng.NormFloat64()
		m := card.Measure{Value: x, SD: math.Hypot(c.own, c.lasting), Band: &card.Band{Low: card.Number(math.NaN()), High: 0}}
		m.Low, m.High = x-1.96*m.SD, x+1.96*m.SD
		p, _ := InBand(m, c.day)
		looks = append(looks, Seen{at, p})
		if how := Learnt(looks, 0, 0); how != NotHeld {
			return how
		}
		at = at.AddDate(0, 0, 14+rng.IntN(43))
	}
	return NotHeld
}

func (c course) rate(n int, seed uint64) float64 {
	rng := rand.New(rand.NewPCG(seed, 11))
	learnt := 0
	for range n {
		if c.taught(rng) != NotHeld {
			learnt++
		}
	}
	return float64(learnt) / float64(n)
}

// mixes are how a measure's uncertainty may be made up: own, lasting, from
// day to day; from cadence (all day) to the knee (most of it lasting).
var mixes = []course{
	{own: 1}, {lasting: 1}, {day: 1}, {own: 1, lasting: 1, day: 1}, {own: 1, lasting: 2}, {own: 0.5, lasting: 2, day: 1}, {lasting: 1, day: 1}, {own: 0.2, lasting: 3, day: 0.5},
}

// A runner whose usual value lies just outside the band, or further, is
// called learnt in 5 % of courses at most, with up to eight checks.
func TestFalseLearnt(t *testing.T) {
	const n = 8000
	for _, mix := range mixes {
		for _, checks := range []int{2, 4, 8} {
			for _, outside := range []float64{0, 0.5, 1} {
				c := mix
				total := math.Sqrt(c.own*c.own + c.lasting*c.lasting + c.day*c.day)
				c.checks, c.usual = checks, func(float64) float64 { return outside * total }
				if rate := c.rate(n, 3); rate > 0.05+2*math.Sqrt(0.05*0.95/n) {
					t.Errorf("%+v, %.1f sd outside: learnt in %.1f %%", mix, outside, 100*rate)
				} else {
					t.Logf("own %.1f lasting %.1f day %.1f, %d checks, %.1f sd outside: %.2f %%", c.own, c.lasting, c.day, checks, outside, 100*rate)
				}
			}
		}
	}
}
