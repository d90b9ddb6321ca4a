package judge

import (
	"slices"

	"plumbstride/internal/form"
)

// Leading gives the measure that speaks loudest for an area, as Judge weighs
// measures with their bands set; those of somebody standing by their own
// rows. ok is false where none of the area's judged measures is there.
func Leading(measures []form.Measure, area string, standing bool) (lead form.Measure, ok bool) {
	rows := append(Rows(), BackRows()...)
	if standing {
		rows = StandingRows()
	}
	ordered := slices.Clone(measures)
	slices.SortStableFunc(ordered, func(a, b form.Measure) int { return int(a.Side) - int(b.Side) })
	for _, t := range weigh(findIn(rows, ordered)) {
		if t.name == area {
			f, ok := t.top()
			return f.lead, ok
		}
	}
	return form.Measure{}, false
}
