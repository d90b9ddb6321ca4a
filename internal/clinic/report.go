package clinic

import (
	"cmp"
	"math"
	"slices"
	"time"

	"plumbstride/internal/signal"
)

// Report is what a clinic's courses show. It holds no name, and nothing that
// rests on fewer than Smallest runners.
type Report struct {
	Program string    `json:"program"`
	Made    time.Time `json:"made"`
	// Checked is how many runners have a first check.
	Checked int `json:"runners_checked"`
	// Areas are those on which Smallest or more runners worked, in the order of
	// the card; TooFew are the others that anybody worked on.
	Areas  []Area   `json:"areas"`
	TooFew []string `json:"too_few"`
	// Drills and Lengths tell with what more change went.
	Drills  []Association `json:"drills"`
	Lengths []Length      `json:"plan_lengths"`
}

// Area is what became of those who worked on one area.
type Area struct {
	Area string `json:"area"`
	// Started had it as what to work on; for Due of these the day of the
	// re-check is over, and Back of those came.
	Started int `json:"started"`
	Due     int `json:"due"`
	Back    int `json:"back"`
	// Returned is Back of Due in per cent.
	Returned *Estimate `json:"returned_pct"`
	// Missing is how much further out those lay at their first check who did not
	// come back, in the clinic's SDs; null where either are fewer than Smallest.
	Missing *Estimate `json:"missing_lay_further_out_sd"`
	// Changes are by measure and direction; Pooled is all of them in the clinic's
	// SDs, IfUnchanged the same if none of those who stayed away had changed.
	Changes     []Change  `json:"changes"`
	Pooled      *Estimate `json:"pooled_sd"`
	IfUnchanged *Estimate `json:"if_the_missing_did_not_change_sd"`
	// InBand is how many of those compared are now more likely inside their band
	// than outside, Learnt for how many the rule of learning holds, per cent.
	InBand *Estimate `json:"in_band_pct"`
	Learnt *Estimate `json:"learnt_pct"`
	// BeganInside is how many of the compared lay inside the band at first: a
	// coach's own choice, left out of the changes.
	BeganInside int `json:"began_inside"`
}

// Change is the mean change of one measure toward its band, in its unit.
type Change struct {
	Measure Measure `json:"measure"`
	// More: toward higher values.
	More bool `json:"more"`
	// Seen is as the checks show it, Own with regression to the mean taken off;
	// null where the clinic's own spread is not known yet.
	Seen Estimate  `json:"seen"`
	Own  *Estimate `json:"own"`
	// Others is how the same measure changed, in the same direction, in those who
	// worked on something else.
	Others *Estimate `json:"others"`
}

// Association is how much more change those show whose plan had a drill than
// those whose plan had none, within areas, in the clinic's SDs.
type Association struct {
	Drill    string   `json:"drill"`
	With     int      `json:"with"`
	Without  int      `json:"without"`
	MoreSD   Estimate `json:"more_sd"`
	Standing bool     `json:"stands"` // with all drills and lengths counted together
}

// Length is the change of those with a plan of some weeks, in the clinic's SDs.
type Length struct {
	Weeks  int      `json:"weeks"`
	Change Estimate `json:"change_sd"`
}

// weighed is a course with its own change in the clinic's SDs.
type weighed struct {
	Course
	change float64
	// by is what chance alone was expected to do toward the band, share the part
	// of the distance from the mean that it is, n the first checks behind both.
	by, share, n float64
}

// Of makes the report of the courses; areas is the order in which they are
// told, background all first checks.
func Of(courses []Course, background Background, checked int, areas []string) Report {
	r := Report{Checked: checked, Areas: []Area{}, TooFew: []string{}, Drills: []Association{}, Lengths: []Length{}}
	var all []weighed
	for _, name := range areas {
		var own, others []Course
		for _, c := range courses {
			if c.Area == name {
				own = append(own, c)
			} else {
				others = append(others, c)
			}
		}
		switch {
		case len(own) == 0:
		case len(own) < Smallest:
			r.TooFew = append(r.TooFew, name)
		default:
			area, more := areaOf(name, own, others, background)
			r.Areas, all = append(r.Areas, area), append(all, more...)
		}
	}
	r.associate(all)
	return r
}

// areaOf tells one area; weighed are its courses for what goes with change.
func areaOf(name string, own, others []Course, background Background) (Area, []weighed) {
	a := Area{Area: name, Started: len(own), Changes: []Change{}}
	type group struct {
		m      Measure
		toward float64
	}
	groups := map[group][]Course{}
	var order []group
	compared, inBand, learnt := 0, 0, 0
	for _, c := range own {
		if c.Due {
			a.Due++
		}
		if !c.Back {
			continue
		}
		a.Back++
		if !c.Compared {
			continue
		}
		compared++
		inBand += count(c.InBandAfter > 0.5)
		learnt += count(c.Learnt)
		if c.Toward == 0 {
			a.BeganInside++
			continue
		}
		g := group{c.Lead, c.Toward}
		if groups[g] == nil {
			order = append(order, g)
		}
		groups[g] = append(groups[g], c)
	}
	a.Returned = enough(shareOf(a.Back, a.Due))
	a.InBand, a.Learnt = enough(shareOf(inBand, compared)), enough(shareOf(learnt, compared))
	a.Missing = missing(own, background)
	var all []weighed
	for _, g := range order {
		u, known := usualOf(background[g.m])
		if known {
			all = append(all, weigh(groups[g], u)...)
		}
		if len(groups[g]) >= Smallest {
			a.Changes = append(a.Changes, tell(g.m, g.toward, groups[g], others, u, known))
		}
	}
	a.pool(all)
	return a, all
}

// tell is the change of one group.
func tell(m Measure, toward float64, courses, others []Course, u usual, known bool) Change {
	seen, own, corrected := changeOf(courses, u, known)
	c := Change{Measure: m, More: toward > 0, Seen: seen}
	if corrected {
		c.Own = &own
	}
	var beside []float64
	for _, o := range others {
		if d, ok := o.All[m]; ok {
			beside = append(beside, toward*d)
		}
	}
	c.Others = enough(meanOf(beside, 0))
	return c
}

// weigh gives courses their own change in the clinic's SDs.
func weigh(courses []Course, u usual) []weighed {
	var out []weighed
	for _, c := range courses {
		by, share := u.returnsBy(c.Before, c.ErrorSD)
		out = append(out, weighed{c, c.Toward * (c.Difference - by) / u.sd, c.Toward * by / u.sd, share, float64(u.n)})
	}
	return out
}

// pool is the mean over all measures of the area, and what is left of it if
// those who stayed away had not changed at all.
func (a *Area) pool(all []weighed) {
	var z, by, shares []float64
	n := math.Inf(1)
	for _, w := range all {
		z, by, shares, n = append(z, w.change), append(by, w.by), append(shares, w.share), math.Min(n, w.n)
	}
	a.Pooled = enough(meanOf(z, unsure(by, shares, 1, n)))
	if a.Pooled != nil && a.Due > 0 {
		share := float64(a.Back) / float64(a.Due)
		a.IfUnchanged = &Estimate{share * a.Pooled.Value, share * a.Pooled.Low, share * a.Pooled.High, a.Due}
	}
}

// missing is how much further from the clinic's mean, toward where they began,
// those lay who are due and did not come back than those who did.
func missing(own []Course, background Background) *Estimate {
	var back, away []float64
	for _, c := range own {
		u, known := usualOf(background[c.Lead])
		if !known || c.Toward == 0 || !c.Due {
			continue
		}
		out := c.Toward * (u.mean - c.Before) / u.sd
		if c.Back {
			back = append(back, out)
		} else {
			away = append(away, out)
		}
	}
	return between(away, back)
}

// between is the difference of two groups' means, a − b, with Welch's 95 %
// interval (Welch 1947, Biometrika 34:28–35; from memory); nil where a group is
// smaller than Smallest.
func between(a, b []float64) *Estimate {
	if len(a) < Smallest || len(b) < Smallest {
		return nil
	}
	ma, sa := signal.MeanSD(a)
	mb, sb := signal.MeanSD(b)
	va, vb := sa*sa/float64(len(a)), sb*sb/float64(len(b))
	if va+vb == 0 {
		return nil
	}
	nu := (va + vb) * (va + vb) / (va*va/float64(len(a)-1) + vb*vb/float64(len(b)-1))
	half := signal.Student975(nu) * math.Sqrt(va+vb)
	return &Estimate{ma - mb, ma - mb - half, ma - mb + half, len(a) + len(b)}
}

// associate fills in with which drills and lengths of plan more change went.
// Each course counts against the mean of its own area, so that areas that
// change easily don't speak for their drills.
func (r *Report) associate(all []weighed) {
	sum, n := map[string]float64{}, map[string]float64{}
	for _, w := range all {
		sum[w.Area] += w.change
		n[w.Area]++
	}
	byWeeks := map[int][]float64{}
	names := map[string]bool{}
	var planned []weighed
	for _, w := range all {
		if w.Weeks == 0 {
			continue
		}
		byWeeks[w.Weeks] = append(byWeeks[w.Weeks], w.change)
		w.change -= sum[w.Area] / n[w.Area]
		planned = append(planned, w)
		for _, d := range w.Drills {
			names[d] = true
		}
	}
	for d := range names {
		var with, without []float64
		for _, w := range planned {
			if slices.Contains(w.Drills, d) {
				with = append(with, w.change)
			} else {
				without = append(without, w.change)
			}
		}
		if e := between(with, without); e != nil {
			r.Drills = append(r.Drills, Association{Drill: d, With: len(with), Without: len(without), MoreSD: *e})
		}
	}
	slices.SortFunc(r.Drills, func(a, b Association) int {
		return cmp.Or(cmp.Compare(b.MoreSD.Value, a.MoreSD.Value), cmp.Compare(a.Drill, b.Drill))
	})
	r.stand()
	for weeks, changes := range byWeeks {
		if e := enough(meanOf(changes, 0)); e != nil {
			r.Lengths = append(r.Lengths, Length{weeks, *e})
		}
	}
	slices.SortFunc(r.Lengths, func(a, b Length) int { return a.Weeks - b.Weeks })
}

// stand marks the drills that stand out with all of them counted together, at
// 5 %: each interval is widened as by Bonferroni, from the standard error that
// its 95 % half width implies.
func (r *Report) stand() {
	m := float64(len(r.Drills))
	for i := range r.Drills {
		d := &r.Drills[i]
		z := math.Abs(d.MoreSD.Value) / ((d.MoreSD.High - d.MoreSD.Low) / 2 / 1.959964)
		d.Standing = math.Erfc(z/math.Sqrt2) <= 0.05/m
	}
}

// enough keeps an estimate that rests on Smallest runners or more.
func enough(e Estimate) *Estimate {
	if e.N < Smallest || math.IsNaN(e.Value) {
		return nil
	}
	return &e
}

func count(yes bool) int {
	if yes {
		return 1
	}
	return 0
}
