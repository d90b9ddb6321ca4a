package practice

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"plumbstride/internal/form"
)

// Unit is what a file's cadence counts.
type Unit string

// The units. Strides are those of one leg, half as many as the steps.
const (
	Strides Unit = "strides"
	Steps   Unit = "steps"
)

// The sports that matter here.
const (
	running = "running"
	walking = "walking"
	hiking  = "hiking"
	cycling = "cycling"
)

// Where cadence is surely strides, and where surely steps, a minute, while
// somebody moves at runningMPS or more: people run at some 140 to 200 steps.
// The limits are a suggestion and no standard; common practice, no source.
const (
	strideLimit = 110.0
	stepLimit   = 130.0
)

// runningMPS is about the speed at which people change from walking to
// running by themselves: 2.0 m/s (from memory: Hreljac 1995, J Biomech
// 28:669-677, 2.07 m/s).
const runningMPS = 2.0

// counted tells whether a file's cadence is strides or steps, and why.
// stated, where it isn't empty, settles it.
func counted(a Activity, stated Unit) (Unit, string, error) {
	fast, all := medians(a)
	typical := fast
	if !known(typical) {
		typical = all
	}
	switch {
	case !known(typical):
		return "", "", form.ClipError("the recording holds no cadence: wear the watch while you run, or switch its cadence on; without it nothing can be told here")
	case stated != "":
		return stated, saidUnit(stated), nil
	case typical > stepLimit && known(fast):
		return Steps, fmt.Sprintf("Its cadence is taken as steps: %.0f a minute can't be the strides of one leg.", typical), nil
	case a.Format == FIT:
		return Strides, fmt.Sprintf("Its cadence counts the strides of one leg, as the FIT protocol says for running: %.0f a minute are %.0f steps.", typical, 2*typical), nil
	case known(fast) && fast < strideLimit:
		return Strides, fmt.Sprintf("Its cadence is taken as the strides of one leg: %.0f steps a minute would be too few at a running speed; %.0f are likely.", typical, 2*typical), nil
	case !known(fast) && typical < 80:
		return Strides, fmt.Sprintf("Its cadence is taken as the strides of one leg: %.0f steps a minute would be too few even for walking; %.0f are likely.", typical, 2*typical), nil
	case !known(fast):
		return Steps, fmt.Sprintf("Its cadence is taken as steps: %.0f a minute at a walking speed.", typical), nil
	default:
		return "", "", form.ClipError("whether its cadence of %.0f a minute counts steps or the strides of one leg can't be told; say which (strides or steps)", typical)
	}
}

func saidUnit(u Unit) string {
	if u == Steps {
		return "You said that its cadence counts steps."
	}
	return "You said that its cadence counts the strides of one leg."
}

// medians are the cadence's medians over time, as the file writes it: while
// the runner moves at a running speed, or at one that nobody knows, and in
// all. NaN where it is less than 10 s.
func medians(a Activity) (fast, all float64) {
	var quick, any []weighted
	speeds := slices.ContainsFunc(a.Points, func(p Point) bool { return known(p.SpeedMPS) })
	for _, p := range a.Points {
		if !known(p.Cadence) || p.Cadence < 20 {
			continue
		}
		w := weighted{p.Cadence, p.HoldS}
		any = append(any, w)
		if !speeds || (known(p.SpeedMPS) && p.SpeedMPS >= runningMPS) {
			quick = append(quick, w)
		}
	}
	return median(quick, 10), median(any, 10)
}

// weighted is a value and what it weighs.
type weighted struct{ value, weight float64 }

// median is the weighted median of values; NaN where they weigh less than
// least or nothing.
func median(values []weighted, least float64) float64 {
	total := 0.0
	for _, v := range values {
		total += v.weight
	}
	if total <= 0 || total < least {
		return math.NaN()
	}
	sorted := slices.Clone(values)
	slices.SortFunc(sorted, func(a, b weighted) int { return cmp.Compare(a.value, b.value) })
	sum := 0.0
	for _, v := range sorted {
		if sum += v.weight; sum >= total/2 {
			return v.value
		}
	}
	return sorted[len(sorted)-1].value
}
