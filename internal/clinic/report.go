package clinic

import (
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
	// re-check is over, and Back of those came, then or earlier. Both are null
	// where fewer than Smallest are due. Who comes back before that day counts in
	// the changes: among those who are not due yet, nobody knows who will stay
	// away.
	Started int  `json:"started"`
	Due     *int `json:"due"`
	Back    *int `json:"back"`
	// Returned is Back of Due in per cent.
	Returned *Estimate `json:"returned_pct"`
	// Missing is how much further out those lay at their first check who did not
	// come back, in the clinic's SDs; null where either are fewer than Smallest.
	Missing *Estimate `json:"missing_lay_further_out_sd"`
	// Changes are by measure and direction; Pooled is all of them in the clinic's
	// SDs, IfUnchanged the same if none of those who stayed away had changed.
	// Fewer than Smallest of which no change is told by themselves are not in
	// Pooled: the difference would tell of them.
	Changes     []Change  `json:"changes"`
	Pooled      *Estimate `json:"pooled_sd"`
	IfUnchanged *Estimate `json:"if_the_missing_did_not_change_sd"`
	// InBand is how many of those compared are now more likely inside their band
	// than outside, per cent; Learnt for how many the rule of learning holds of
	// those who were seen again long enough for it to show.
	InBand *Estimate `json:"in_band_pct"`
	Learnt *Estimate `json:"learnt_pct"`
	// BeganInside is how many of the compared lay inside the band at first: a
	// coach's own choice, left out of the changes; 0 for fewer than Smallest.
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
	// never worked on this area, the mean over each one's courses.
	Others *Estimate `json:"others"`
}

// Association is how much more change those show whose plan had a drill than
// those whose plan had none, within areas, in the clinic's SDs. Each runner
// counts once, with the first course.
type Association struct {
	Drill    string   `json:"drill"`
	With     int      `json:"with"`
	Without  int      `json:"without"`
	MoreSD   Estimate `json:"more_sd"`
	Standing bool     `json:"stands"` // with all drills counted together
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

// Of makes the report of the courses, a runner's in the order of time; areas is
// the order in which they are told, background all first checks.
func Of(courses []Course, background Background, checked int, areas []string) Report {
	r := Report{Checked: checked, Areas: []Area{}, TooFew: []string{}, Drills: []Association{}, Lengths: []Length{}}
	courses = slices.Clone(courses)
	for i := range courses {
		courses[i].order = i
	}
	var all []weighed
	for _, name := range areas {
		own, others := split(courses, name)
		switch {
		case len(own) == 0:
		case len(own) < Smallest:
			r.TooFew = append(r.TooFew, name)
		default:
			// of an area whose mean is not told, nothing goes on to drills and lengths
			area, more := areaOf(name, own, others, background)
			r.Areas, all = append(r.Areas, area), append(all, more...)
		}
	}
	r.associate(all)
	return r
}

// split gives an area's courses, and those of runners who never worked on it.
func split(courses []Course, area string) (own, others []Course) {
	worked := map[int]bool{}
	for _, c := range courses {
		if c.Area == area {
			own = append(own, c)
			worked[c.Runner] = true
		}
	}
	for _, c := range courses {
		if !worked[c.Runner] {
			others = append(others, c)
		}
	}
	return own, others
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
	due, back, compared, inBand, watched, learnt := 0, 0, 0, 0, 0, 0
	for _, c := range own {
		due += count(c.Due)
		back += count(c.Due && c.Back)
		if !c.Compared {
			continue
		}
		compared++
		inBand += count(c.InBandAfter > 0.5)
		watched += count(c.Watched)
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
	if a.BeganInside < Smallest {
		a.BeganInside = 0
	}
	if a.Returned = enough(shareOf(back, due)); a.Returned != nil {
		a.Due, a.Back = &due, &back
	}
	a.InBand, a.Learnt = enough(shareOf(inBand, compared)), enough(shareOf(learnt, watched))
	a.Missing = missing(own, background)
	var all, few []weighed
	for _, g := range order {
		u, known := usualOf(background[g.m])
		told := len(groups[g]) >= Smallest
		switch {
		case known && told:
			all = append(all, weigh(groups[g], u)...)
		case known:
			few = append(few, weigh(groups[g], u)...)
		}
		if told {
			a.Changes = append(a.Changes, tell(g.m, g.toward, groups[g], others, u, known))
		}
	}
	if len(few) >= Smallest {
		all = append(all, few...)
	}
	if a.pool(all); a.Pooled == nil {
		all = nil
	}
	return a, all
}

// tell is the change of one group.
func tell(m Measure, toward float64, courses, others []Course, u usual, known bool) Change {
	seen, own, corrected := changeOf(courses, u, known)
	c := Change{Measure: m, More: toward > 0, Seen: seen}
	if corrected {
		c.Own = &own
	}
	c.Others = enough(meanOf(beside(m, toward, others), 0))
	return c
}

// beside is how a measure changed in runners, toward a direction: one number a
// runner, the mean over the courses.
func beside(m Measure, toward float64, courses []Course) (out []float64) {
	sum, n := map[int]float64{}, map[int]float64{}
	var order []int
	for _, c := range courses {
		if d, ok := c.All[m]; ok {
			if n[c.Runner] == 0 {
				order = append(order, c.Runner)
			}
			sum[c.Runner], n[c.Runner] = sum[c.Runner]+toward*d, n[c.Runner]+1
		}
	}
	for _, r := range order {
		out = append(out, sum[r]/n[r])
	}
	return out
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
	a.Pooled = enough(pooled(all))
	if a.Pooled != nil && a.Due != nil {
		share := float64(*a.Back) / float64(*a.Due)
		a.IfUnchanged = &Estimate{share * a.Pooled.Value, share * a.Pooled.Low, share * a.Pooled.High, *a.Due}
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
