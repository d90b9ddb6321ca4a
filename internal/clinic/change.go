package clinic

import (
	"math"
	"slices"

	"plumbstride/internal/signal"
)

// Estimate is a number with its 95 % interval; N is how many runners it rests
// on.
type Estimate struct {
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
	N     int     `json:"n"`
}

// Smallest is the least number of runners of which anything is told: fewer
// could be recognised (common practice, no source).
const Smallest = 5

// leastBackground is the least number of first checks from which a clinic's own
// spread is taken.
const leastBackground = 20

// errorUnsure is how far, as a share, the part of a difference that no change
// of form explains may be off (own estimate, no source).
const errorUnsure = 0.25

// usual is how a measure is spread over the n first checks of the clinic.
type usual struct {
	mean, sd float64
	n        int
}

// usualOf gives the mean and SD of single values; ok is false with too few
// checks. Both sides of a runner count as one check: they are alike.
func usualOf(checks [][]float64) (u usual, ok bool) {
	if len(checks) < leastBackground {
		return usual{}, false
	}
	u.mean, u.sd = signal.MeanSD(slices.Concat(checks...))
	u.n = len(checks)
	return u, u.sd > 0
}

// returnsBy is how far a value found at x with the standard error e is
// expected to move by itself at the next look, no change of form taking place:
// the values that stand out do so partly by chance, and chance doesn't come
// twice the same way. Of runners with true values N(mean, s²) and e² = ErrorSD²,
//
//	E[next | x] − x = (1 − r)(mean − x),  r = s²/(s² + e²)
//
// (James 1973, Biometrics 29:121–130; Davis 1976, Am J Epidemiol 104:493–498;
// both from memory). s² is the clinic's own variance less e². share is 1 − r.
func (u usual) returnsBy(x, e float64) (by, share float64) {
	share = math.Min(1, e*e/(u.sd*u.sd))
	return share * (u.mean - x), share
}

// changeOf gives the mean change toward the band of courses that are compared
// and began outside it, as it was seen and with regression to the mean taken
// off, in the unit of the measure. Its interval counts the spread between the
// runners, and how well mean, spread and error are known: for the mean m of
// n own changes, with the mean share 1 − r̄ and the mean correction c,
//
//	sd² = s²/n + (1 − r̄)²·SD²/N + c²·(2/(N − 1) + (2·errorUnsure)²)
//
// corrected is false where the clinic has too few first checks.
func changeOf(courses []Course, u usual, known bool) (seen, own Estimate, corrected bool) {
	var raw, clean, by, shares []float64
	for _, c := range courses {
		d := c.Toward * c.Difference
		raw = append(raw, d)
		if known {
			b, share := u.returnsBy(c.Before, c.ErrorSD)
			clean, by, shares = append(clean, d-c.Toward*b), append(by, c.Toward*b), append(shares, share)
		}
	}
	seen = meanOf(raw, 0)
	if !known {
		return seen, Estimate{}, false
	}
	return seen, meanOf(clean, unsure(by, shares, u.sd, float64(u.n))), true
}

// unsure is the variance that the correction adds to a mean change.
func unsure(by, shares []float64, sd, n float64) float64 {
	c, _ := signal.MeanSD(by)
	share, _ := signal.MeanSD(shares)
	return share*share*sd*sd/n + c*c*(2/(n-1)+4*errorUnsure*errorUnsure)
}

// meanOf is the mean of independent values with Student's 95 % interval; more is
// variance of the mean from other sources.
func meanOf(values []float64, more float64) Estimate {
	n := len(values)
	if n < 2 {
		return Estimate{Value: math.NaN(), Low: math.NaN(), High: math.NaN(), N: n}
	}
	mean, sd := signal.MeanSD(values)
	half := math.Hypot(signal.Student975(float64(n-1))*sd/math.Sqrt(float64(n)), 1.96*math.Sqrt(more))
	return Estimate{mean, mean - half, mean + half, n}
}

// shareOf is k of n with Wilson's 95 % interval (Wilson 1927, J Am Stat Assoc
// 22:209–212; from memory), in per cent.
func shareOf(k, n int) Estimate {
	if n == 0 {
		return Estimate{Value: math.NaN(), Low: math.NaN(), High: math.NaN()}
	}
	const z = 1.959964
	p, m := float64(k)/float64(n), float64(n)
	middle := (p + z*z/(2*m)) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	return Estimate{100 * p, 100 * math.Min(p, math.Max(0, middle-half)), 100 * math.Max(p, math.Min(1, middle+half)), n}
}
