package signal

import "math"

// HalfPeriod gives half the period (seconds) of a signal whose second half
// period mirrors the first, s(t + T/2) ≈ −s(t), as the lead of one leg over
// the other does: the lag, between minLag and maxLag, at which the
// normalised autocorrelation is most negative, and its size there (1 =
// exactly mirrored). values are samples at the even step dt (seconds). ok is
// false where no such lag stands out.
//
// The lag is the first local extreme within 90 % of the strongest one,
// refined by a parabola through three points, so that an odd multiple is not
// taken for it.
func HalfPeriod(values []float64, dt, minLag, maxLag float64) (half, strength float64, ok bool) {
	lo := max(int(math.Floor(minLag/dt)), 1)
	hi := min(int(math.Ceil(maxLag/dt)), len(values)*3/4)
	if hi-lo < 2 {
		return 0, 0, false
	}
	mean, sd := MeanSD(values)
	if !(sd > 0) {
		return 0, 0, false
	}
	r := make([]float64, hi+2)
	for lag := lo - 1; lag <= hi+1 && lag < len(values); lag++ {
		r[lag] = -correlation(values, mean, lag)
	}
	best := 0.0
	for lag := lo; lag <= hi; lag++ {
		if r[lag] >= r[lag-1] && r[lag] >= r[lag+1] && r[lag] > best {
			best = r[lag]
		}
	}
	if best <= 0 {
		return 0, 0, false
	}
	for lag := lo; lag <= hi; lag++ {
		if r[lag] < r[lag-1] || r[lag] < r[lag+1] || r[lag] < 0.9*best {
			continue
		}
		shift, peak := vertex(r[lag-1], r[lag], r[lag+1])
		return (float64(lag) + shift) * dt, peak, true
	}
	return 0, 0, false
}

// correlation is the Pearson correlation of the series with itself lag
// samples later, about the common mean.
func correlation(v []float64, mean float64, lag int) float64 {
	var xy, xx, yy float64
	for i := 0; i+lag < len(v); i++ {
		x, y := v[i]-mean, v[i+lag]-mean
		xy += x * y
		xx += x * x
		yy += y * y
	}
	if xx == 0 || yy == 0 {
		return 0
	}
	return xy / math.Sqrt(xx*yy)
}

// vertex of the parabola through (−1,a), (0,b), (1,c).
func vertex(a, b, c float64) (shift, peak float64) {
	curve := a - 2*b + c
	if curve >= 0 {
		return 0, b
	}
	shift = (a - c) / (2 * curve)
	return shift, b - (a-c)*shift/4
}
