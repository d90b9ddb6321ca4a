package clinic

import (
	"math"
	"slices"
	"time"

	"plumbstride/internal/card"
	"plumbstride/internal/recheck"
)

// Measure names what is compared.
type Measure struct {
	Name  string `json:"name"`
	Unit  string `json:"unit"`
	Title string `json:"title"`
}

func measureOf(name, unit, title string) Measure {
	if title == "" {
		title = card.Capital(name)
	}
	return Measure{name, unit, title}
}

// Course is one runner's way from a first check to a later one, for one area.
// It holds no name.
type Course struct {
	Area string
	// Runner is the same number in all courses of a runner, so that nobody counts
	// twice; it is nobody's name and goes nowhere.
	Runner int
	// Lead is the measure that led the area in the first check; the zero Measure
	// where the card has none.
	Lead Measure
	// Before is its value then, Difference what the later check shows more once
	// the speeds' part is taken off, both in its unit. Compared is false where
	// there is no later check, or the two can't be compared.
	Before, Difference float64
	Compared           bool
	// ErrorSD is what one check of the two varies by without any change of form,
	// the runner's days and the part of the clip that doesn't return.
	ErrorSD float64
	// Toward is +1 where the band lies above the first value, −1 where below,
	// 0 where the first value lay inside.
	Toward float64
	// InBandBefore and InBandAfter are the probabilities that the runner's usual
	// value lies in the band, NaN without one.
	InBandBefore, InBandAfter float64
	// Watched: there are checks in which the rule of learning could have shown,
	// recheck.HeldFor apart or more; Learnt: it holds at the last check.
	Watched, Learnt bool
	// Back: there is a later check. Due: the day of the re-check is over, come
	// back or not.
	Back, Due bool
	// Weeks and Drills are the plan's; 0 and nil without one.
	Weeks  int
	Drills []string
	// All is how every measure differs, the mean of both sides.
	All map[Measure]float64
	// order is the place among all courses.
	order int
}

// Facts are what the records say of a course beside its checks.
type Facts struct {
	// Area is what a coach decided to work on.
	Area string
	// Recheck is the day on which the runner should come back, Now today.
	Recheck, Now time.Time
	Weeks        int
	Drills       []string
	// Between are the checks between the two, Since those after the later one,
	// both in the order of time.
	Between, Since []card.Card
}

// CourseOf makes a course of a runner's first check and the later one, nil
// where there is none.
func CourseOf(before card.Card, after *card.Card, f Facts) Course {
	c := Course{
		Area: f.Area, Back: after != nil, Due: !f.Recheck.After(f.Now),
		Weeks: f.Weeks, Drills: f.Drills, InBandBefore: math.NaN(), InBandAfter: math.NaN(),
	}
	lead, ok := recheck.Leading(before, f.Area)
	if !ok {
		return c
	}
	c.Lead, c.Before, c.Toward = measureOf(lead.Name, lead.Unit, lead.Title), lead.Value, toward(lead)
	if after == nil {
		return c
	}
	compared, err := recheck.Of(before, *after, recheck.Options{Area: f.Area, Between: f.Between})
	if err != nil { // checks out of order: nothing to compare
		return c
	}
	c.All = meanDifferences(compared.Changes)
	c.Watched, c.Learnt = learnt(before, *after, f)
	for _, one := range compared.Changes {
		if one.Planned {
			c.Compared, c.Difference, c.ErrorSD = true, one.Difference, one.SD/math.Sqrt2
			c.InBandBefore, c.InBandAfter = float64(compared.Planned.InBandBefore), float64(compared.Planned.InBandAfter)
		}
	}
	return c
}

// learnt tells whether the checks of a course lie far enough apart for the rule
// of learning, and whether it holds at the last of them.
func learnt(before, after card.Card, f Facts) (watched, holds bool) {
	looks := slices.Concat(f.Between, []card.Card{after}, f.Since)
	last := looks[len(looks)-1]
	if last.Made.Sub(looks[0].Made) < recheck.HeldFor {
		return false, false
	}
	c, err := recheck.Of(before, last, recheck.Options{Area: f.Area, Between: looks[:len(looks)-1]})
	return err == nil, err == nil && c.Planned.Outcome == recheck.LearntIt
}

// meanDifferences is how each measure differs, the mean of its sides.
func meanDifferences(changes []recheck.Change) map[Measure]float64 {
	sum, n := map[Measure]float64{}, map[Measure]float64{}
	for _, one := range changes {
		m := measureOf(one.Name, one.Unit, one.Title)
		sum[m] += one.Difference
		n[m]++
	}
	for m := range sum {
		sum[m] /= n[m]
	}
	return sum
}

// toward is the direction from a value to its band.
func toward(m card.Measure) float64 {
	out := recheck.Outside(m)
	if out == 0 {
		return 0
	}
	return -math.Copysign(1, out)
}

// Background is what all first checks of a clinic show of one measure, whoever
// worked on what: of each check its values, one a side.
type Background map[Measure][][]float64

// Add takes one runner's first check.
func (b Background) Add(first card.Card) {
	sides := map[Measure][]float64{}
	for _, m := range first.Measures {
		if m.Band != nil {
			k := measureOf(m.Name, m.Unit, m.Title)
			sides[k] = append(sides[k], m.Value)
		}
	}
	for k, values := range sides {
		b[k] = append(b[k], values)
	}
}
