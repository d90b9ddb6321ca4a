package clinic

import (
	"cmp"
	"maps"
	"math"
	"slices"
)

// set is which of some courses are meant.
type set []bool

func setOf(all []weighed, in func(i int) bool) set {
	s := make(set, len(all))
	for i := range all {
		s[i] = in(i)
	}
	return s
}

// told is what has been told of courses, so that nothing of fewer than Smallest
// runners can be worked out as the difference of two numbers that are shown.
type told struct {
	all  []weighed
	sets []set
}

// few tells whether the courses that two sets don't share (or, not, that they
// share both or neither) are of one to Smallest−1 runners.
func (t *told) few(a, b set, not bool) bool {
	runners := map[int]bool{}
	for i, w := range t.all {
		if (a[i] != b[i]) != not {
			runners[w.Runner] = true
		}
	}
	return len(runners) > 0 && len(runners) < Smallest
}

// may tells whether a mean over a set can stand beside what is told.
func (t *told) may(s set) bool {
	return !slices.ContainsFunc(t.sets, func(b set) bool { return t.few(s, b, false) || t.few(s, b, true) })
}

// associate fills in with which drills and lengths of plan more change went.
// Each course counts against the mean of its own area, so that areas that
// change easily don't speak for their drills. Of each runner the first course
// counts.
func (r *Report) associate(all []weighed) {
	t := told{all: all, sets: []set{setOf(all, func(int) bool { return true })}}
	mean, n := map[string]float64{}, map[string]float64{}
	for _, w := range all {
		n[w.Area]++
		mean[w.Area] += (w.change - mean[w.Area]) / n[w.Area]
	}
	for _, area := range slices.Sorted(maps.Keys(n)) {
		t.sets = append(t.sets, setOf(all, func(i int) bool { return all[i].Area == area }))
	}
	first := map[int]int{} // a runner's first course
	for i, w := range all {
		if k, ok := first[w.Runner]; !ok || w.order < all[k].order {
			first[w.Runner] = i
		}
	}
	planned := setOf(all, func(i int) bool { return all[i].Weeks > 0 && first[all[i].Runner] == i })
	r.lengths(&t, planned)
	r.drills(&t, planned, mean)
	r.stand()
}

// lengths tells the change by the length of plan.
func (r *Report) lengths(t *told, planned set) {
	byWeeks := map[int][]weighed{}
	for i, w := range t.all {
		if planned[i] {
			byWeeks[w.Weeks] = append(byWeeks[w.Weeks], w)
		}
	}
	// the shortest lists go first where what is left over would be few
	weeks := slices.SortedFunc(maps.Keys(byWeeks), func(a, b int) int {
		return cmp.Or(cmp.Compare(len(byWeeks[b]), len(byWeeks[a])), cmp.Compare(a, b))
	})
	in := func(shown []int) set {
		return setOf(t.all, func(i int) bool { return planned[i] && slices.Contains(shown, t.all[i].Weeks) })
	}
	var shown []int
	for _, w := range weeks {
		if len(byWeeks[w]) >= Smallest && t.may(in([]int{w})) {
			shown = append(shown, w)
		}
	}
	for len(shown) > 0 && !t.may(in(shown)) {
		shown = shown[:len(shown)-1]
	}
	for _, w := range shown {
		t.sets = append(t.sets, in([]int{w}))
		if e := enough(pooled(byWeeks[w])); e != nil {
			r.Lengths = append(r.Lengths, Length{w, *e})
		}
	}
	slices.SortFunc(r.Lengths, func(a, b Length) int { return a.Weeks - b.Weeks })
}

// drills tells the change with and without each drill; mean is that of each
// area.
func (r *Report) drills(t *told, planned set, mean map[string]float64) {
	names := map[string]bool{}
	for i, w := range t.all {
		for _, d := range w.Drills {
			if planned[i] {
				names[d] = true
			}
		}
	}
	for _, d := range slices.Sorted(maps.Keys(names)) {
		with := setOf(t.all, func(i int) bool { return planned[i] && slices.Contains(t.all[i].Drills, d) })
		without := setOf(t.all, func(i int) bool { return planned[i] && !with[i] })
		var a, b []float64
		for i, w := range t.all {
			switch {
			case with[i]:
				a = append(a, w.change-mean[w.Area])
			case without[i]:
				b = append(b, w.change-mean[w.Area])
			}
		}
		if e := between(a, b); e != nil && t.may(with) && t.may(without) {
			t.sets = append(t.sets, with, without)
			r.Drills = append(r.Drills, Association{Drill: d, With: len(a), Without: len(b), MoreSD: *e})
		}
	}
	slices.SortStableFunc(r.Drills, func(a, b Association) int {
		return cmp.Compare(b.MoreSD.Value, a.MoreSD.Value)
	})
}

// pooled is the mean own change of courses, in the clinic's SDs, with what the
// correction leaves open.
func pooled(all []weighed) Estimate {
	var z, by, shares []float64
	n := math.Inf(1)
	for _, w := range all {
		z, by, shares, n = append(z, w.change), append(by, w.by), append(shares, w.share), math.Min(n, w.n)
	}
	return meanOf(z, unsure(by, shares, 1, n))
}
