package check

import (
	"math"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/judge"
)

// spotVerdict judges nothing of somebody on the spot: the bands are of people
// who run. Pain still comes first.
func spotVerdict(v judge.Verdict, ask Ask) judge.Verdict {
	if !ask.Pain {
		v.Priority, v.FilmAgain = nil, false
		v.Why = "This is running or marching on the spot: beat, knee lift and posture are shown, and nothing is judged, since the bands are those of people who run. Film the runner running, on a treadmill or past the camera, to know what to work on."
	}
	v.Tie = ""
	for i := range v.Areas {
		v.Areas[i].State, v.Areas[i].Why = judge.Unknown, "Not judged on the spot."
	}
	return v
}

// cardSpeed is the speed as the card shows it: none on the spot.
func (s *sight) cardSpeed() card.Number {
	if s.gait.Setting == gait.OnTheSpot {
		return card.Number(math.NaN())
	}
	return card.Number(s.speedMS())
}

// moment is an instant that is shown.
type moment struct {
	name string
	at   float64 // real time, s
}

// moments are the near leg's initial contact and mid-stance in the middle of
// what was seen; on the spot, its highest knee in place of the contact.
func (s *sight) moments() []moment {
	g := s.gait
	c := g.Cycles[g.Near]
	anchor := c.Anchors[len(c.Anchors)/2]
	if g.Setting != gait.OnTheSpot {
		return []moment{
			{"initial contact", anchor + c.ContactS},
			{"mid-stance", anchor + (c.ContactS+c.ToeOffS)/2},
		}
	}
	up := g.Cycles[g.Near.Other()].Anchors
	mid, high := up[len(up)/2], math.Inf(1)
	at := mid
	for t := mid - 0.2*g.StrideS; t <= mid+0.2*g.StrideS; t += 0.01 {
		if v, _, ok := g.Motion.Spot(form.At(form.Knee, g.Near), t); ok && v.Y < high {
			at, high = t, v.Y
		}
	}
	return []moment{{"highest knee", at}, {"mid-stance", anchor}}
}
