package signal

import (
	"math"
	"slices"
)

// Quantile gives the q-quantile (0..1) of values by linear interpolation
// between order statistics; NaN for none. values is not changed.
func Quantile(values []float64, q float64) float64 {
	if len(values) == 0 {
		return math.NaN()
	}
	s := slices.Clone(values)
	slices.Sort(s)
	h := q * float64(len(s)-1)
	i := int(math.Floor(h))
	if i >= len(s)-1 {
		return s[len(s)-1]
	}
	return s[i] + (h-float64(i))*(s[i+1]-s[i])
}

// Median gives the middle value; NaN for none.
func Median(values []float64) float64 { return Quantile(values, 0.5) }

// RobustSD gives 1.4826·median|x − median x|, the standard deviation of a
// normal sample that outliers hardly move; NaN for none.
func RobustSD(values []float64) float64 {
	m := Median(values)
	dev := make([]float64, len(values))
	for i, v := range values {
		dev[i] = math.Abs(v - m)
	}
	return 1.4826 * Median(dev)
}

// MeanSD gives the mean and the sample standard deviation (n − 1); NaN, NaN
// for none, and sd NaN for one.
func MeanSD(values []float64) (mean, sd float64) {
	if len(values) == 0 {
		return math.NaN(), math.NaN()
	}
	for _, v := range values {
		mean += v
	}
	mean /= float64(len(values))
	if len(values) == 1 {
		return mean, math.NaN()
	}
	for _, v := range values {
		sd += (v - mean) * (v - mean)
	}
	return mean, math.Sqrt(sd / float64(len(values)-1))
}
