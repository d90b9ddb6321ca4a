package practice

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Verdict is what the runs show of a change.
type Verdict string

// The verdicts.
const (
	Rose     Verdict = "rose"
	Fell     Verdict = "fell"
	NoChange Verdict = "no_change_seen"
	TooFew   Verdict = "too_few_runs"
)

// Fewer runs, or less time between the first and the last, are not asked for
// a trend (common practice, no source).
const (
	leastRuns = 5
	leastDays = 14.0
)

// How much one runner's cadence at one speed differs from day to day, as a
// standard deviation in steps/min: an assumption (own estimate, near the 1.8
// that package recheck derives from what was published) that weighs as much
// as dayFreedom runs, until the runs themselves tell.
const (
	daySD      = 1.5
	dayFreedom = 3.0
)

// A slope found within runs, from half minutes, may lie off the one between
// runs: speeds from satellites are noisy, which flattens it, and a runner's
// line is a little bent. By so much it may differ, as a standard deviation:
// a share of the slope, and a rest in steps/min for 1 m/s (own estimates, no
// source; decision 30 tells how the verdicts do with them).
const (
	slopeShare = 0.25
	slopeRest  = 0.5
	gradeShare = 0.5
	gradeRest  = 20.0
)

// between is how runs differ from one another: their cadence, brought to one
// speed and the level, over time.
type between struct {
	speed    float64 // the reference, m/s
	tauV     float64 // standard deviation of the slope between runs
	tauG     float64
	adjusted []float64 // each run's cadence at that speed on the level
	daySD    float64   // from run to run, around the trend
	freedom  float64
	rest     []float64 // what the trend leaves of each run
	change   Interval  // from the first run to the last
	enough   bool
}

// compare brings the runs to one speed and looks for a change. days are the
// runs' times in days, by the index of s.runs.
func compare(s slopes, speed float64, days []float64) between {
	b := between{
		speed: speed,
		tauV:  math.Hypot(s.speedSD, slopeShare*math.Abs(s.speed)+slopeRest),
		tauG:  math.Hypot(s.gradeSD, gradeShare*math.Abs(s.grade)+gradeRest),
		daySD: daySD, freedom: dayFreedom,
	}
	for _, l := range s.runs {
		b.adjusted = append(b.adjusted, l.cadence-s.speed*(l.mps-speed)-s.grade*l.grade)
	}
	span := 0.0
	for _, d := range days {
		span = max(span, d-days[0])
	}
	b.enough = len(days) >= leastRuns && span >= leastDays
	if len(days) < 3 || span <= 0 {
		return b
	}
	b.fit(s, days, span)
	return b
}

// fit is the M-estimate of
//
//	adjusted = level + change·(t − middle)/span + κ·(v − v̄) + γ·(g − ḡ) + error
//
// over the runs, where κ and γ, what the slopes within runs left, are tied to
// 0 by their own standard deviations: a row each beside the runs' rows. Where
// pace and time go together the two can't be told apart, and the interval of
// the change is as wide as that leaves it.
func (b *between) fit(s slopes, days []float64, span float64) {
	n := len(days)
	mv, mg := 0.0, 0.0
	for _, l := range s.runs {
		mv, mg = mv+l.mps/float64(n), mg+l.grade/float64(n)
	}
	weights := make([]float64, n)
	for i := range weights {
		weights[i] = 1
	}
	var beta, inverse []float64
	for range 20 {
		x := mat.NewDense(n+2, 4, nil)
		y := mat.NewVecDense(n+2, nil)
		for i, l := range s.runs {
			w := math.Sqrt(weights[i])
			x.SetRow(i, []float64{w, w * ((days[i]-days[0])/span - 0.5), w * (l.mps - mv), w * (l.grade - mg)})
			y.SetVec(i, w*b.adjusted[i])
		}
		x.SetRow(n, []float64{0, 0, b.daySD / b.tauV, 0})
		x.SetRow(n+1, []float64{0, 0, 0, b.daySD / b.tauG})
		var ok bool
		if beta, inverse, ok = solved(x, y); !ok {
			return
		}
		before := b.daySD
		b.reweigh(s, days, span, beta, mv, mg, weights)
		if math.Abs(b.daySD-before) < 1e-4 {
			break
		}
	}
	b.change = with95(beta[1], b.daySD*math.Sqrt(inverse[5]*alike(b.rest)), b.freedom)
}

// mostAlike is the largest correlation of neighbouring runs that is reckoned
// with (own choice).
const mostAlike = 0.8

// alike is by how much neighbouring runs that are alike – tired weeks, old
// shoes – make the variance of a trend larger: (1 + φ)/(1 − φ), φ being the
// correlation of neighbouring residuals (Bayley & Hammersley 1946, Suppl J R
// Stat Soc 8:184–197; from memory). The one found about a straight line comes
// out too small by about (2 + 4φ)/n, which is put back; below 0 it counts as 0.
func alike(rest []float64) float64 {
	n := float64(len(rest))
	if n < 2*leastRuns { // too few to tell
		return 1
	}
	one, all := 0.0, 0.0
	for i, e := range rest {
		all += e * e
		if i > 0 {
			one += e * rest[i-1]
		}
	}
	if !(all > 0) {
		return 1
	}
	phi := min(max((n*one/all+2)/(n-4), 0), mostAlike)
	return (1 + phi) / (1 - phi)
}

// reweigh takes the residuals of the runs: a run far off counts less, where
// there are enough of them to tell, and their scatter joins what was assumed.
func (b *between) reweigh(s slopes, days []float64, span float64, beta []float64, mv, mg float64, weights []float64) {
	n := len(days)
	sum := 0.0
	b.rest = b.rest[:0]
	for i, l := range s.runs {
		e := b.adjusted[i] - beta[0] - beta[1]*((days[i]-days[0])/span-0.5) - beta[2]*(l.mps-mv) - beta[3]*(l.grade-mg)
		psi := e
		if limit := 2 * b.daySD; n >= 8 && math.Abs(e) > limit {
			weights[i] = limit / math.Abs(e)
			psi = math.Copysign(limit, e)
		} else {
			weights[i] = 1
		}
		sum += psi * psi
		b.rest = append(b.rest, psi)
	}
	freedom := float64(n - 2)
	b.daySD = math.Sqrt((dayFreedom*daySD*daySD + sum) / (dayFreedom + freedom))
	b.freedom = dayFreedom + freedom
}

// solved gives the least-squares solution and the inverse of the normal
// matrix, row by row; false where it can't be told.
func solved(x *mat.Dense, y *mat.VecDense) (beta, inverse []float64, ok bool) {
	var normal, inv mat.Dense
	normal.Mul(x.T(), x)
	if err := inv.Inverse(&normal); err != nil {
		if _, poor := err.(mat.Condition); !poor || math.IsInf(float64(err.(mat.Condition)), 1) {
			return nil, nil, false
		}
	}
	var xy, b mat.VecDense
	xy.MulVec(x.T(), y)
	b.MulVec(&inv, &xy)
	return b.RawVector().Data, inv.RawMatrix().Data, true
}

// at is the cadence of some runs at the reference speed on the level, with
// what a day more or less would change it, and what the slopes leave open.
func (b *between) at(s slopes, runs []int) Interval {
	value, dv, dg := 0.0, 0.0, 0.0
	n := float64(len(runs))
	for _, i := range runs {
		value += b.adjusted[i] / n
		dv += (s.runs[i].mps - b.speed) / n
		dg += s.runs[i].grade / n
	}
	sd := math.Sqrt(b.daySD*b.daySD/n + math.Pow(dv*b.tauV, 2) + math.Pow(dg*b.tauG, 2))
	return with95(value, sd, b.freedom)
}
