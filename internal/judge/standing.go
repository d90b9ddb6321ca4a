package judge

import (
	"slices"
	"strings"

	"plumbstride/internal/form"
)

// FindStanding gives the first row of a measure of the standing check.
func FindStanding(measure string) (Row, bool) {
	for _, r := range StandingRows() {
		if r.Measure == measure {
			return r, true
		}
	}
	return Row{}, false
}

// WithStandingBands gives a copy of the measures in which each has its Band
// for standing in its own unit, or none where there is none.
func WithStandingBands(measures []form.Measure, ctx Context) []form.Measure {
	return withBands(StandingRows(), measures, ctx)
}

// Standing weighs the measures of a standing check, each with its Band set
// (see WithStandingBands), by the same model as Judge. All of them speak for
// one area, alignment: it is put first where something lies surely and far
// enough outside its band, and nothing is otherwise.
func Standing(measures []form.Measure, refused []form.Refusal, ctx Context) Verdict {
	ordered := slices.Clone(measures)
	slices.SortStableFunc(ordered, func(a, b form.Measure) int { return int(a.Side) - int(b.Side) })
	found := findIn(StandingRows(), ordered)
	for i := range found {
		found[i].row.inches = ctx.Inches && found[i].row.Unit == "cm"
	}
	t := weigh(found)[0]
	v := Verdict{Cautions: standingCautionTexts()}
	a := Area{Name: t.name, State: t.state()}
	a.Why = t.why(a.State, nil)
	if reason := standingReason(refused); a.State == Unknown && reason != "" {
		a.Why = "Not measured: " + reason + "."
	}
	v.Areas = []Area{a}
	switch {
	case ctx.Pain:
		v.Why = painWhy
	case !t.measurable():
		v.FilmAgain = true
		v.Why = "Take the picture again, because it is too uncertain for anything to be judged. Stand the camera level at hip height, 3 to 4 metres away, the whole body in the picture and an upright such as a door frame in the background."
	case a.State == Look:
		v.Priority = &a.Name
		v.Why = t.priorityWhy()
		v.Tie = tie(&t, nil)
	case a.State == Unsure:
		v.Why = "Nothing here surely needs changing; one value may lie outside its band, but it is too unsure to tell. How somebody stands is only a beginning: look at the run."
		v.Tie = ""
	default:
		v.Why = "Nothing here needs changing: what could be judged lies inside its bands or close to them. How somebody stands is only a beginning: look at the run."
	}
	return v
}

// standingReason is the first refusal's reason, as part of a sentence.
func standingReason(refused []form.Refusal) string {
	for _, r := range refused {
		if reason := strings.TrimSpace(r.Reason); reason != "" {
			return lowerFirst(strings.TrimRight(reason, "."))
		}
	}
	return ""
}

// StandingCautions gives the warnings of a standing check, in the order of
// their weight: what standing can't tell comes first.
func StandingCautions() []Caution {
	own := []Caution{
		{"How somebody stands does not tell why something hurts: in a study, people with and without neck pain held their heads alike, and no posture is wrong in itself. Take it as a place to begin, not as a finding.",
			"neck: medRxiv 2022.12.07.22283100; the plumb line has no bibliographic basis: Barra-López, J Rehabil Med scoping review"},
		{"One picture or short clip is one moment: people stand differently a minute later, in other shoes and when they are watched.",
			"common practice, no source"},
		{"Don't push a knee, a foot or the neck into a place: practise only what feels easy, and stop when it hurts.",
			"common practice, no source"},
		{"Change one thing at a time, and slowly: a minute or two of it at first, and only what stays easy.",
			"common practice, no source"},
	}
	for _, c := range Cautions() {
		for _, keep := range []string{"See a doctor", "not a medical device", "consent"} {
			if strings.Contains(c.Text, keep) {
				own = append(own, c)
				break
			}
		}
	}
	return own
}

func standingCautionTexts() []string { return textsOf(StandingCautions()) }
