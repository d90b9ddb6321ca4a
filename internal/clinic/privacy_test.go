package clinic

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"plumbstride/internal/card"
	"plumbstride/internal/card/cardtest"
)

// one is a runner's compared course.
func one(runner int, area string, lead Measure, weeks int, change float64, drills ...string) Course {
	return Course{
		Area: area, Runner: runner, Lead: lead, Toward: 1, Before: 155 + 0.3*float64(runner%7), ErrorSD: 2, Back: true, Due: true, Compared: true,
		Difference: change, All: map[Measure]float64{lead: change}, Weeks: weeks, Drills: drills, InBandBefore: 0, InBandAfter: 1,
	}
}

func spread(measures ...Measure) Background {
	rng := rand.New(rand.NewPCG(8, 8))
	b := Background{}
	for _, m := range measures {
		for range 40 {
			b[m] = append(b[m], []float64{166 + 8*rng.NormFloat64()})
		}
	}
	return b
}

var lean = Measure{"trunk_lean", "deg", "Trunk lean"}

// What is shown of eleven and what is shown of ten of these would give the
// eleventh by taking one from the other.
func TestNoDifferenceTellsOfFew(t *testing.T) {
	ten := func() (out []Course) {
		for i := range 10 {
			out = append(out, one(i, "cadence", cadence, 6, 4+float64(i%3), []string{"a", "b"}[i%2]))
		}
		return out
	}
	areas := []string{"cadence", "lean"}
	r := Of(append(ten(), one(10, "cadence", cadence, 8, -9, "a")), spread(cadence), 11, areas)
	if r.Areas[0].Pooled == nil || r.Areas[0].Pooled.N != 11 || len(r.Lengths) != 0 {
		t.Errorf("one of another length can be worked out: %+v, %+v", r.Areas[0].Pooled, r.Lengths)
	}
	r = Of(append(ten(), one(10, "cadence", cadence, 0, -9)), spread(cadence), 11, areas)
	if len(r.Lengths) != 0 {
		t.Errorf("one without a plan can be worked out: %+v", r.Lengths)
	}
	r = Of(append(ten(), one(10, "cadence", lean, 6, -9, "a")), spread(cadence, lean), 11, areas)
	if p := r.Areas[0].Pooled; p == nil || p.N != 10 || r.Areas[0].Changes[0].Seen.N != 10 {
		t.Errorf("one of another measure can be worked out: %+v", p)
	}
	// two compared runners of another area, of which no mean is told
	few := ten()
	for i := range 6 {
		c := one(20+i, "lean", lean, 6, 2, "a")
		c.Compared = i < 2
		few = append(few, c)
	}
	r = Of(few, spread(cadence, lean), 16, areas)
	if len(r.Lengths) != 1 || r.Lengths[0].Change.N != 10 || len(r.Drills) != 2 {
		t.Errorf("two of another area can be worked out: %+v, %+v", r.Lengths, r.Drills)
	}
	// a drill that all of one area have but one, and nobody else
	var nearly []Course
	for i := range 8 {
		c, d := one(i, "cadence", cadence, 6, 4+float64(i%3)), one(20+i, "lean", lean, 6, 2+float64(i%2))
		if i > 0 {
			c.Drills = []string{"c"}
		}
		nearly = append(nearly, c, d)
	}
	if r = Of(nearly, spread(cadence, lean), 16, areas); len(r.Drills) != 0 {
		t.Errorf("one without a drill can be worked out: %+v", r.Drills)
	}
}

// Three runners with two courses each are three, and who worked on an area is
// not among those who worked on something else.
func TestNobodyCountsTwice(t *testing.T) {
	var courses []Course
	beside := func(runner int, area string, change float64) {
		c := one(runner, area, lean, 6, 0)
		c.All = map[Measure]float64{cadence: change}
		courses = append(courses, c)
	}
	for i := range 6 {
		courses = append(courses, one(i, "cadence", cadence, 6, 4))
		beside(i, "lean", 50) // their own next course
	}
	for i := range 4 {
		beside(10+i, "lean", 1)
		beside(10+i, "bounce", 2)
	}
	areas := []string{"cadence", "lean", "bounce"}
	if r := Of(courses, spread(cadence, lean), 10, areas); r.Areas[0].Changes[0].Others != nil {
		t.Errorf("four others are told of: %+v", r.Areas[0].Changes[0].Others)
	}
	beside(14, "lean", 1)
	beside(14, "bounce", 2)
	r := Of(courses, spread(cadence, lean), 11, areas)
	if o := r.Areas[0].Changes[0].Others; o == nil || o.N != 5 || math.Abs(o.Value-1.5) > 1e-9 {
		t.Errorf("five others, 1.5 each: %+v", o)
	}
	// of the 17 courses each of 11 runners counts once
	n := 0
	for _, l := range r.Lengths {
		n += l.Change.N
	}
	if n > 11 {
		t.Errorf("%d in the lengths of plans of 11 runners", n)
	}
}

// Both sides of ten runners are ten first checks, too few.
func TestSidesAreNoRunners(t *testing.T) {
	b := Background{}
	for range 10 {
		b.Add(cardtest.Invented())
	}
	for m, checks := range b {
		if _, ok := usualOf(checks); ok || len(checks) != 10 {
			t.Errorf("%s: %d first checks", m.Name, len(checks))
		}
	}
}

// The interval of a length of plan counts what the correction leaves open:
// where all have one length, it is that of the area.
func TestLengthsAreAsUnsureAsAreas(t *testing.T) {
	courses, background := evenings{runners: 160, errorSD: 6, believedSD: 6, band: 160}.run(rand.New(rand.NewPCG(2, 2)))
	r := Of(courses, background, 160, []string{"cadence"})
	if len(r.Lengths) != 1 {
		t.Fatalf("%+v", r.Lengths)
	}
	if l, a := r.Lengths[0].Change, *r.Areas[0].Pooled; l.N != a.N || math.Abs(l.Low-a.Low) > 1e-9 || math.Abs(l.High-a.High) > 1e-9 {
		t.Errorf("%+v, in the area %+v", l, a)
	}
}

// Nobody who began outside a band can be said to have learnt at the first check
// in which that shows; it takes one three weeks later.
func TestLearntByLaterChecks(t *testing.T) {
	start := time.Date(2026, 1, 5, 18, 0, 0, 0, time.UTC)
	at := func(weeks int, sure bool) card.Card {
		c := cardtest.Invented()
		c.Made = start.AddDate(0, 0, 7*weeks)
		c.Clip.Frames += weeks // another clip each time
		c.Measures = append([]card.Measure(nil), c.Measures...)
		c.Areas = append([]card.Area(nil), c.Areas...)
		for i := range c.Measures {
			m := &c.Measures[i]
			if m.Name == "landing_distance" && sure {
				middle := float64(m.Band.Low+m.Band.High) / 2
				m.Value, m.Low, m.High, m.SD = middle, middle-0.1, middle+0.1, 0.05
			}
		}
		for i := range c.Areas {
			if sure {
				c.Areas[i].State = "good"
			}
		}
		return c
	}
	after := at(6, true)
	for _, want := range []struct {
		since           []card.Card
		watched, learnt bool
	}{
		{nil, false, false}, {[]card.Card{at(7, true)}, false, false}, {[]card.Card{at(10, true)}, true, true}, {[]card.Card{at(10, false)}, true, false},
	} {
		c := CourseOf(at(0, false), &after, Facts{Area: "landing", Recheck: start, Now: after.Made, Since: want.since})
		if !c.Compared || c.Watched != want.watched || c.Learnt != want.learnt {
			t.Errorf("%d more checks: %+v", len(want.since), c)
		}
	}
}
