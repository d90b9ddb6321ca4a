package judge

import (
	"fmt"
	"math"
	"strings"

	"plumbstride/internal/form"
)

// BackRows are what the judgement knows of the measures from behind that
// have a band. Step width, pelvic drop, the knee's projection and the trunk's
// side lean have none: no cut-off was seen, and one camera's picture of them
// is too weak to choose by. Injured runners' pelvis dropped more in one
// cross-sectional study (Bramah et al. 2018, doi 10.1177/0363546518793657),
// which says nothing about one runner.
func BackRows() []Row {
	open := math.NaN()
	look := "Let somebody look at it who can examine the hips; practise standing on one leg, evenly on both sides"
	return []Row{
		{
			Measure: "foot_to_line", Title: "Foot to the line of running", Unit: "cm", Area: Alignment,
			Low: 0, High: open, SD: 2,
			Source:     unsourced,
			Population: "none measured this way that was seen",
			Note:       "Shown, never judged: that feet keep to their own side of the line is common teaching, and one camera can only tell large crossings.",
		},
		{
			Measure: "pelvic_drop_difference", Title: "Difference between left and right pelvic drop", Unit: "deg", Area: Symmetry,
			Low: -3.9, High: 3.9, SD: 2,
			Below:      Direction{0.5, "The pelvis drops more while the right leg carries the body", look},
			Above:      Direction{0.5, "The pelvis drops more while the left leg carries the body", look},
			Source:     "derived from Dingenen et al. 2018 doi 10.1016/j.ptsp.2018.06.009 (smallest detectable difference of one side 2.7 to 2.8°, times √2)",
			Population: "21 recreational runners, filmed twice a week apart",
			Note:       "What is smaller can't be told from noise; the spread between runners is our own choice. Only body points set by hand or from markers give it.",
		},
	}
}

// BehindAlone is the verdict of a clip from behind without one from the
// side: how its areas stand, and that nothing is put first.
func BehindAlone(measures []form.Measure, refused []form.Refusal, ctx Context) Verdict {
	v := Judge(measures, refused, ctx)
	v.Priority, v.FilmAgain, v.Tie = nil, false, ""
	if !ctx.Pain {
		v.Why = Behind(measures)
		for _, a := range v.Areas {
			if a.State == Look {
				v.Why += fmt.Sprintf(" Outside its band: %s, but something seen only from the side may matter more.", a.Name)
			}
		}
		v.Why += " From behind alone nothing is put first: landing, lean and bounce are seen from the side, so add a clip from there."
	}
	for i := range v.Areas {
		switch a := &v.Areas[i]; {
		case a.State != Unknown:
		case a.Name == Alignment && len(measures) > 0:
			a.Why = "Shown, not judged: one camera behind the runner is too little to go by."
		default:
			a.Why = "Not seen from behind; film from the side."
		}
	}
	return v
}

// sure is the probability from which a foot is said to cross the line of
// running or to keep off it.
const sure = 0.9

// Behind tells in one or two plain sentences what was seen from behind.
func Behind(measures []form.Measure) string {
	var crossing, own, unsure []string
	for _, m := range measures {
		p, ok := m.Classes["crosses over"]
		switch {
		case m.Name != "foot_to_line" || !ok:
		case p >= sure:
			crossing = append(crossing, m.Side.String())
		case p <= 1-sure:
			own = append(own, m.Side.String())
		default:
			unsure = append(unsure, m.Side.String())
		}
	}
	var says []string
	switch {
	case len(crossing) == 2:
		says = append(says, "both feet cross the line of running")
	case len(own) == 2:
		says = append(says, "both feet land on their own side of the line of running")
	default:
		for _, s := range crossing {
			says = append(says, "the "+s+" foot crosses the line of running")
		}
		for _, s := range own {
			says = append(says, "the "+s+" foot lands on its own side of the line of running")
		}
		if len(unsure) > 0 {
			says = append(says, fmt.Sprintf("whether the %s the line of running can't be told", feet(unsure)))
		}
	}
	text := upperFirst(strings.Join(says, "; "))
	if text != "" {
		text += ". "
	}
	return text + uneven(measures)
}

func feet(sides []string) string {
	if len(sides) == 1 {
		return sides[0] + " foot crosses"
	}
	return "feet cross"
}

// uneven says whether left and right knee surely differ, or the pelvis.
func uneven(measures []form.Measure) string {
	for _, m := range measures {
		if m.Name == "pelvic_drop_difference" && m.Band != nil && m.ProbabilityOutside() >= sure {
			side := "left"
			if m.Value < 0 {
				side = "right"
			}
			return "The pelvis drops surely more while the " + side + " leg carries the body."
		}
	}
	var at [3]*form.Measure
	for i := range measures {
		if m := &measures[i]; m.Name == "knee_projection" && m.Unit == "deg" && int(m.Side) < len(at) {
			at[m.Side] = m
		}
	}
	l, r := at[form.Left], at[form.Right]
	if l == nil || r == nil {
		return "It is one camera's view, shown and not judged."
	}
	if d := math.Abs(l.Value - r.Value); d > 1.96*math.Hypot(l.SD, r.SD) {
		return "Left and right knee stand differently over their feet, beyond what one camera may get wrong."
	}
	return "Between left and right knee no difference is beyond what one camera may get wrong."
}
