package clinic

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

var cadence = Measure{"cadence", "steps/min", "Cadence"}

// evenings is a clinic that never was: runners whose true cadence is spread by
// 8 around 166 steps/min, seen with an error, of whom those below the lower end
// of the band work on it.
type evenings struct {
	runners    int
	errorSD    float64 // of one check, steps/min
	believedSD float64 // what the checks say of it
	change     float64 // what the work truly does, steps/min
	stays      float64 // probability that a runner doesn't come back
	band       float64 // lower end
}

func (e evenings) run(rng *rand.Rand) ([]Course, Background) {
	background := Background{}
	var courses []Course
	for i := range e.runners {
		truth := 166 + 8*rng.NormFloat64()
		first := truth + e.errorSD*rng.NormFloat64()
		background[cadence] = append(background[cadence], []float64{first})
		c := Course{
			Area: "cadence", Runner: i, Lead: cadence, Before: first, ErrorSD: e.believedSD, Due: true,
			InBandBefore: math.NaN(), InBandAfter: math.NaN(), Weeks: 6, Drills: []string{"a"},
		}
		change := e.change
		if first >= e.band {
			c.Area, change = "lean", 0 // works on something else
			c.Lead = Measure{"trunk_lean", "deg", "Trunk lean"}
		} else {
			c.Toward = 1
		}
		if rng.Float64() >= e.stays {
			later := truth + change + e.errorSD*rng.NormFloat64()
			c.Back, c.Compared, c.Difference = true, true, later-first
			c.All = map[Measure]float64{cadence: later - first}
		}
		courses = append(courses, c)
	}
	return courses, background
}

// shown is what many such clinics show, on average and as a share.
type shown struct{ seen, own, covered, seenCovered, n float64 }

func many(e evenings, times int, rng *rand.Rand) (s shown) {
	told := 0.0
	for range times {
		courses, background := e.run(rng)
		r := Of(courses, background, e.runners, []string{"cadence", "lean"})
		for _, a := range r.Areas {
			for _, c := range a.Changes {
				if c.Own == nil || a.Area != "cadence" {
					continue
				}
				told++
				s.seen += c.Seen.Value
				s.own += c.Own.Value
				s.n += float64(c.Own.N)
				s.covered += float64(count(c.Own.Low <= e.change && e.change <= c.Own.High))
				s.seenCovered += float64(count(c.Seen.Low <= e.change && e.change <= c.Seen.High))
			}
		}
	}
	return shown{s.seen / told, s.own / told, s.covered / told, s.seenCovered / told, s.n / told}
}

// Only the worst are treated: what is seen of them rises by itself. The
// expected rise is known in closed form: with r the reliability, of those below
// a limit a = (limit − mean)/SD of a normal distribution the mean is
// −φ(a)/Φ(a) SDs, and (1 − r) of it comes back (James 1973; the hazard of the
// normal distribution: Abramowitz & Stegun 26.2).
func TestRegressionToTheMean(t *testing.T) {
	e := evenings{runners: 160, errorSD: 4, believedSD: 4, band: 160, stays: 0.3}
	for _, change := range []float64{0, 6} {
		e.change = change
		s := many(e, 600, rand.New(rand.NewPCG(6, 4)))
		total := math.Hypot(8, e.errorSD)
		a := (e.band - 166) / total
		byItself := e.errorSD * e.errorSD / total * math.Exp(-a*a/2) / math.Sqrt(2*math.Pi) / (0.5 * math.Erfc(-a/math.Sqrt2))
		if math.Abs(s.seen-change-byItself) > 0.15 {
			t.Errorf("true change %g: %.2f seen, by theory %.2f", change, s.seen, change+byItself)
		}
		if math.Abs(s.own-change) > 0.15 {
			t.Errorf("true change %g: %.2f with regression to the mean taken off", change, s.own)
		}
		if s.covered < 0.95 { // the error is taken for uncertain, and is right here
			t.Errorf("true change %g: the interval holds it in %.1f %%", change, 100*s.covered)
		}
		if s.seenCovered > 0.75 {
			t.Errorf("true change %g: what is seen holds it in %.1f %%: this test can't tell the correction's use", change, 100*s.seenCovered)
		}
	}
}

// What the checks say of their own error is off by a quarter here and there;
// over many clinics the interval holds what it promises.
func TestRegressionWithAnUnsureError(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	e := evenings{runners: 160, errorSD: 4, band: 160, stays: 0.3}
	covered, told := 0.0, 0.0
	for range 900 {
		e.believedSD = e.errorSD * math.Exp(errorUnsure*rng.NormFloat64())
		s := many(e, 1, rng)
		covered, told = covered+s.covered, told+1
	}
	if share := covered / told; share < 0.93 || share > 0.985 {
		t.Errorf("the interval holds the truth in %.1f %%", 100*share)
	}
}

func TestNothingOfFew(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	courses, background := evenings{runners: 60, errorSD: 3, believedSD: 3, band: 160}.run(rng)
	var few []Course
	kept := 0
	for _, c := range courses {
		if c.Area == "cadence" {
			if kept == Smallest-1 {
				continue
			}
			kept++
		}
		few = append(few, c)
	}
	r := Of(few, background, len(few), []string{"cadence", "lean"})
	for _, a := range r.Areas {
		if a.Area == "cadence" {
			t.Errorf("%d runners are told of: %+v", kept, a)
		}
	}
	if fmt.Sprint(r.TooFew) != "[cadence]" {
		t.Errorf("too few: %v", r.TooFew)
	}
}

// Whatever the courses are, nothing rests on fewer than Smallest runners, and
// every estimate lies in its interval.
func TestReportsHold(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		e := evenings{
			runners: rapid.IntRange(0, 120).Draw(rt, "runners"), errorSD: rapid.Float64Range(0, 9).Draw(rt, "error"), change: rapid.Float64Range(-9, 9).Draw(rt, "change"),
			stays: rapid.Float64Range(0, 1).Draw(rt, "stays"), band: rapid.Float64Range(140, 190).Draw(rt, "band"),
		}
		e.believedSD = rapid.Float64Range(0, 20).Draw(rt, "believed")
		courses, background := e.run(rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 1)))
		r := Of(courses, background, e.runners, []string{"cadence", "lean"})
		hold := func(what string, one *Estimate, percent bool) {
			if one == nil {
				return
			}
			if one.N < Smallest || !(one.Low <= one.Value && one.Value <= one.High) || percent && (one.Low < 0 || one.High > 100) {
				rt.Errorf("%s: %+v", what, *one)
			}
		}
		for _, a := range r.Areas {
			if a.Started < Smallest || (a.Due == nil) != (a.Back == nil) || a.Due != nil && (*a.Back > *a.Due || *a.Due > a.Started || *a.Due < Smallest) {
				rt.Errorf("%s: %+v", a.Area, a)
			}
			hold("returned", a.Returned, true)
			hold("in band", a.InBand, true)
			hold("learnt", a.Learnt, true)
			hold("pooled", a.Pooled, false)
			hold("if unchanged", a.IfUnchanged, false)
			hold("missing", a.Missing, false)
			for _, c := range a.Changes {
				hold("seen", &c.Seen, false)
				hold("own", c.Own, false)
				hold("others", c.Others, false)
			}
		}
		for _, d := range r.Drills {
			hold("drill", &d.MoreSD, false)
		}
	})
}

// Wilson's interval for 8 of 10 and 0 of 10: 49.0–94.3 % and 0–27.8 % (worked
// examples, from memory).
func TestShare(t *testing.T) {
	for _, c := range []struct {
		k, n      int
		low, high float64
	}{{8, 10, 49.0, 94.3}, {0, 10, 0, 27.8}, {10, 10, 72.2, 100}} {
		got := shareOf(c.k, c.n)
		if math.Abs(got.Low-c.low) > 0.1 || math.Abs(got.High-c.high) > 0.1 {
			t.Errorf("%d of %d: %.1f to %.1f, want %.1f to %.1f", c.k, c.n, got.Low, got.High, c.low, c.high)
		}
	}
}

// A drill that goes with more change is found, one of many that doesn't is not
// said to stand out more often than 5 %.
func TestDrillsStandOut(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	false5, found := 0, 0
	const times = 300
	for range times {
		for _, effect := range []float64{0, 9} {
			var courses []Course
			background := Background{}
			for i := range 60 {
				c := Course{Area: "cadence", Runner: i, Lead: cadence, Toward: 1, Before: 155 + 8*rng.NormFloat64(), ErrorSD: 0.1, Back: true, Due: true, Compared: true, Weeks: 6, InBandAfter: 1}
				c.Difference = 4 + 6*rng.NormFloat64()
				for i := range 10 {
					if rng.Float64() < 0.4 {
						c.Drills = append(c.Drills, fmt.Sprint(i))
						if i == 0 {
							c.Difference += effect
						}
					}
				}
				background[cadence] = append(background[cadence], []float64{c.Before})
				courses = append(courses, c)
			}
			r := Of(courses, background, 60, []string{"cadence"})
			any := false
			for _, d := range r.Drills {
				if d.Standing && effect == 0 {
					any = true
				}
				found += count(d.Standing && effect > 0 && d.Drill == "0")
			}
			false5 += count(any)
		}
	}
	if share := float64(false5) / times; share > 0.08 {
		t.Errorf("without any difference a drill stands out in %.1f %%", 100*share)
	}
	if share := float64(found) / times; share < 0.8 {
		t.Errorf("a drill with much more change stands out in %.1f %% only", 100*share)
	}
}
