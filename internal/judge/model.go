package judge

import (
	"math"
	"slices"

	"plumbstride/internal/form"
)

// The model, in four steps.
//
//  1. A measure outside its band counts
//     excess = w · c(P) · min(s, 4)
//     with w the weight of its Row in that direction, P the probability that
//     the true value lies outside on that side, c(P) rising from 0 at
//     P = 0.6 (a guess) to 1 at 0.9, and s how far the value lies outside,
//     in population SDs (0 inside). Left and right are joined by their root
//     mean square.
//  2. What a cause pulls along is moved to the cause: of an effect's excess
//     the part share · strength goes to the cause's area, where strength is
//     c(P)·s of the cause over 0.5, at most 1.
//  3. An area's score is its weight times the root of the sum of squares of
//     all it then holds (the largest excess leads, the rest supports), times
//     a gate that opens from 0 to 1 while the area's own excess, before
//     anything moved, grows from what is worth working on to twice that.
//  4. The first area is the one with the highest score (verdict.go), unless
//     something hurts the runner: pain comes before everything.
//
// Nothing here jumps: every step is continuous in the values, so a small
// error can exchange two areas only where they are about even.
const (
	maxSize      = 4.0
	fullStrength = 0.5
	// worth is the own score, before area weights, from which an area is
	// worth working on: a quarter of a population SD.
	worth = 0.25
	// c(P) rises from 0 to 1 between these two.
	guessed, certain = 0.6, 0.9
	// notInside is the probability from which a measure is no longer surely
	// inside its band.
	notInside = 0.2
	// tooWide is the standard uncertainty, in population SDs, from which a
	// measure can't be judged.
	tooWide = 1.5
	// even is the ratio of two scores from which they are called a tie;
	// below justWorth times worth an area is only just worth working on.
	even, justWorth = 0.85, 1.5
)

// area is one area's place in the model, in numbers of our own choice.
// before is how much it comes before others: symmetry does, since a large
// difference between the sides may mean pain. coachable is how soon a change
// shows in one evening: a beat is met within minutes, a bounce hardly felt.
type area struct {
	name              string
	before, coachable float64
}

var areas = [...]area{
	{Alignment, 1, 1.1}, {Landing, 1, 1.0}, {Cadence, 1, 1.2}, {Lean, 1, 0.9}, {Bounce, 1, 0.8}, {Symmetry, 3, 1.0},
}

// weight is what the area's score is multiplied with.
func (a area) weight() float64 { return a.before * a.coachable }

// pull says that, where the cause is outside its band on the side given, a
// share of the effect's excess is the cause's.
type pull struct {
	cause       string
	causeAbove  bool
	effect      string
	effectAbove bool
	share       float64
}

// pulls: slower steps at the same speed are longer (arithmetic); with them
// landing distance, shin and foot angle, bounce and the stance knee rise and
// the knee lands straighter (Heiderscheit et al. 2011
// doi 10.1249/MSS.0b013e3181ebedf4; Lieberman et al. 2015
// doi 10.1242/jeb.125500; Anderson et al. 2022
// doi 10.1186/s40798-022-00504-0). A bend at the hips and a head held forward
// tilt the lines by which lean is measured (geometry). The shares are our
// own choice.
var pulls = [...]pull{
	{"cadence", false, "landing_distance", true, 0.8},
	{"cadence", false, "heel_landing_distance", true, 0.8},
	{"cadence", false, "shank_angle", true, 0.8},
	{"cadence", false, "knee_flexion_contact", false, 0.5},
	{"cadence", false, "knee_flexion_peak", true, 0.5},
	{"cadence", false, "foot_strike_angle", true, 0.8},
	{"cadence", false, "vertical_oscillation", true, 0.8},
	{"hip_hinge", true, "trunk_lean", true, 0.8},
	{"hip_hinge", true, "body_lean", true, 0.8},
	{"head_forward", true, "body_lean", true, 0.5},
}

// support is a measure without a band that adds to another one's excess once
// that one is outside: toes far up make a long landing longer. The limit is
// common practice, no source; alone it never counts.
type support struct {
	measure, to   string
	above, weight float64
}

var supports = [...]support{{"foot_strike_angle", "landing_distance", 22.5, 0.5}}

// finding is what one row comes to: how much it counts, on which side of its
// band, how surely, and the value that leads.
type finding struct {
	row    Row
	above  bool
	excess float64
	// outside is c(P)·s of the leading value, without the weight; likely is
	// P, and maybe is w·P·s: what there would be if a guess counted.
	outside, likely, maybe float64
	// could is the weighted size that the far end of the value's uncertainty
	// would have: what may be there without being seen.
	could float64
	wide  bool
	lead  form.Measure
	// oneSided: the other side was measured too and counts less than half.
	oneSided bool
}

func (f finding) direction() Direction {
	if f.above {
		return f.row.Above
	}
	return f.row.Below
}

// find joins the measures into findings, in the order of the rows. Measures
// without a band or an uncertainty, in another unit, or of a row that is
// never judged, yield none.
func find(measures []form.Measure) []finding { return findIn(append(Rows(), BackRows()...), measures) }

// findIn is find for other rows.
func findIn(rows []Row, measures []form.Measure) []finding {
	var found []finding
	for _, r := range rows {
		inFirstUnit := slices.ContainsFunc(found, func(f finding) bool { return f.row.Measure == r.Measure })
		if !r.Judged() || inFirstUnit {
			continue
		}
		var same []form.Measure
		for _, m := range measures {
			if m.Name == r.Measure && m.Unit == r.Unit && m.Band != nil && m.Band.PopulationSD > 0 &&
				m.SD > 0 && !math.IsNaN(m.Value) && !math.IsInf(m.SD, 0) {
				same = append(same, m)
			}
		}
		if len(same) == 0 {
			continue
		}
		below, above := weighRow(r, same, false), weighRow(r, same, true)
		if above.excess > below.excess || (above.excess == below.excess && above.likely >= below.likely) {
			found = append(found, above)
		} else {
			found = append(found, below)
		}
	}
	return append(found, supporting(measures, found)...)
}

// weighRow is step 1 of the model for one side of the band.
func weighRow(r Row, same []form.Measure, above bool) finding {
	f := finding{row: r, above: above, wide: true, lead: same[0]}
	weight := f.direction().Weight
	least, most, sum := math.Inf(1), -1.0, 0.0
	for _, m := range same {
		p, size := outside(m, above)
		counts := clamp((p-guessed)/(certain-guessed), 0, 1) * size
		sum += counts * counts
		least = math.Min(least, counts)
		if lead := counts + 1e-3*p*size + 1e-6*p; lead > most {
			most, f.outside, f.likely, f.lead = lead, counts, p, m
		}
		far := m
		far.Value += sign(above) * 1.64 * m.SD
		_, farSize := outside(far, above)
		f.could = math.Max(f.could, weight*farSize)
		f.maybe = math.Max(f.maybe, weight*p*size)
		f.wide = f.wide && m.SD > tooWide*m.Band.PopulationSD
	}
	f.excess = weight * math.Sqrt(sum/float64(len(same)))
	f.oneSided = len(same) > 1 && least < f.outside/2
	return f
}

// outside gives the probability that the true value lies outside the band on
// one side, and how far the value does, in population SDs, at most maxSize.
func outside(m form.Measure, above bool) (p, size float64) {
	one := form.Band{Low: m.Band.Low, High: math.NaN(), PopulationSD: m.Band.PopulationSD}
	over := m.Band.Low - m.Value
	if above {
		one.Low, one.High = math.NaN(), m.Band.High
		over = m.Value - m.Band.High
	}
	if math.IsNaN(over) { // an open end
		return 0, 0
	}
	m.Band = &one
	return m.ProbabilityOutside(), clamp(over/one.PopulationSD, 0, maxSize)
}

// supporting gives the findings of measures that only add to others.
func supporting(measures []form.Measure, found []finding) []finding {
	var more []finding
	for _, s := range supports {
		r, _ := Find(s.measure)
		strength := strengthOf(found, s.to, true)
		var same []form.Measure
		for _, m := range measures {
			if m.Name == s.measure && m.Unit == r.Unit && m.SD > 0 && !math.IsNaN(m.Value) {
				m.Band = &form.Band{Low: math.NaN(), High: s.above, PopulationSD: r.SD}
				same = append(same, m)
			}
		}
		if strength == 0 || len(same) == 0 {
			continue
		}
		r.Above = Direction{Weight: s.weight * strength}
		more = append(more, weighRow(r, same, true))
	}
	return more
}

// strengthOf is how surely and far a measure is outside on one side, 0..1.
func strengthOf(found []finding, measure string, above bool) float64 {
	for _, f := range found {
		if f.row.Measure == measure && f.above == above {
			return math.Min(1, f.outside/fullStrength)
		}
	}
	return 0
}

// tally is one area after steps 2 and 3.
type tally struct {
	area
	// findings are the area's own; own is the root of the sum of squares of
	// their excesses before anything moved.
	findings []finding
	own      float64
	// score is the weighted score after the pulls.
	score float64
	// follows names the areas whose excess was moved here, movedTo those
	// that took some of this one's.
	follows, movedTo []string
}

// top is the finding that counts most of those that count alone; ok is false
// where there is none.
func (t tally) top() (f finding, ok bool) {
	for _, g := range t.findings {
		if g.row.Judged() && g.direction().Says != "" && (!ok || g.excess > f.excess) {
			f, ok = g, true
		}
	}
	return f, ok
}

// weigh is the whole model: findings in, one tally an area out, in the order
// of areas.
func weigh(found []finding) [len(areas)]tally {
	var tallies [len(areas)]tally
	var squares [len(areas)]float64
	index := map[string]int{}
	for i, a := range areas {
		tallies[i].area = a
		index[a.name] = i
	}
	for _, f := range found {
		i := index[f.row.Area]
		t := &tallies[i]
		t.findings = append(t.findings, f)
		t.own = math.Hypot(t.own, f.excess)
		left := f.excess
		for _, p := range pulls {
			if p.effect != f.row.Measure || p.effectAbove != f.above {
				continue
			}
			moved := left * p.share * strengthOf(found, p.cause, p.causeAbove)
			left -= moved
			cause, _ := Find(p.cause)
			j := index[cause.Area]
			squares[j] += moved * moved
			if moved > worth/4 {
				tallies[j].follows = appendNew(tallies[j].follows, t.name)
				t.movedTo = appendNew(t.movedTo, cause.Area)
			}
		}
		squares[i] += left * left
	}
	for i := range tallies {
		t := &tallies[i]
		t.score = t.weight() * math.Sqrt(squares[i]) * clamp((t.own-worth)/worth, 0, 1)
	}
	return tallies
}

func appendNew(list []string, word string) []string {
	if slices.Contains(list, word) {
		return list
	}
	return append(list, word)
}

func sign(above bool) float64 {
	if above {
		return 1
	}
	return -1
}
