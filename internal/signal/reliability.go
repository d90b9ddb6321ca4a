package signal

import "math"

// MDC95 is the smallest difference between two measurements that is more
// than noise, with 95 % confidence, from the standard error of one: 1.96·√2·sem
// (Weir 2005, J Strength Cond Res 19:231–240; from memory).
func MDC95(sem float64) float64 { return 1.96 * math.Sqrt2 * sem }

// SEM is the standard error of a measurement from the standard deviation
// between people and the intraclass correlation: sd·√(1 − icc) (Weir 2005;
// from memory).
func SEM(sd, icc float64) float64 { return sd * math.Sqrt(1-icc) }

// ICC is the intraclass correlation of two measurements of each of many
// people from the mean squares between people and of the error: the variance
// between people, (between − residual)/2, as a share of the whole.
func ICC(between, residual float64) float64 {
	people := (between - residual) / 2
	return people / (people + residual)
}
