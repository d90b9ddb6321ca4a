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

// Student975 is the 97.5 % quantile of Student's t with nu degrees of freedom
// (1.96 for many): the half width of a 95 % interval in standard
// uncertainties that were themselves estimated from few values.
//
// Source: the expansion in 1/nu of Abramowitz & Stegun 26.7.5; 1 and 2
// degrees in closed form.
func Student975(nu float64) float64 {
	const z = 1.959964
	switch {
	case math.IsNaN(nu) || nu <= 1:
		return 12.7062
	case nu <= 2:
		return 12.7062 + (nu-1)*(4.30265-12.7062)
	case nu < 3: // between the closed form of 2 and the expansion at 3
		return 4.30265 + (nu-2)*(3.1824-4.30265)
	}
	const z2 = z * z
	g1 := z * (z2 + 1) / 4
	g2 := z * ((5*z2+16)*z2 + 3) / 96
	g3 := z * (((3*z2+19)*z2+17)*z2 - 15) / 384
	g4 := z * ((((79*z2+776)*z2+1482)*z2-1920)*z2 - 945) / 92160
	return z + (g1+(g2+(g3+g4/nu)/nu)/nu)/nu
}
