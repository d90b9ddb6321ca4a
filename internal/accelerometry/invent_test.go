package accelerometry

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
)

// invented is a runner's or walker's sacral recording by numbers: half-sine
// steps (Morin et al. 2005, J Appl Biomech 21:167–180) for running, a small
// sine for walking.
type invented struct {
	rateHz, seconds float64
	stepS, contactS float64
	slowerLeft      float64 // seconds by which every other step is longer
	noiseG          float64
	walking         bool
	turn            float64 // radians by which the sensor is turned about the side axis
	swing           float64 // g, an arm's or leg's, once a stride
	restS           float64 // standing before and after
	seed            uint64
}

// at is the upward and forward acceleration at a time, g.
func (v invented) at(t float64) (up, forward float64) {
	if t < v.restS || t > v.seconds-v.restS {
		return 1, 0
	}
	t -= v.restS
	phase := math.Mod(t, v.stepS)
	if v.walking {
		w := 2 * math.Pi * phase / v.stepS
		return 1 + 0.25*math.Sin(w) + 0.08*math.Sin(2*w), 0.15 * math.Cos(w)
	}
	if phase >= v.contactS {
		// Aloft, the trunk falls forward and is drawn back.
		return 0, -0.4 * math.Sin(math.Pi*(phase-v.contactS)/(v.stepS-v.contactS))
	}
	x := phase / v.contactS
	height := math.Pi / 2 * v.stepS / v.contactS
	return height * math.Sin(math.Pi*x), -0.6 * math.Sin(2*math.Pi*x)
}

func (v invented) times() []float64 {
	out := make([]float64, int(v.seconds*v.rateHz))
	for i := range out {
		out[i] = float64(i) / v.rateHz
	}
	return out
}

// upright is the recording as time, vertical, forward.
func (v invented) upright() string {
	r := rand.New(rand.NewPCG(v.seed, 1))
	var b strings.Builder
	b.WriteString("time_s,vertical,forward\n")
	for _, t := range v.times() {
		up, forward := v.at(t)
		fmt.Fprintf(&b, "%.4f,%.4f,%.4f\n", t, up+v.noiseG*r.NormFloat64(), forward+v.noiseG*r.NormFloat64())
	}
	return b.String()
}

// turned is the recording as t, x, y, z in m/s² without a header, as phones
// write it.
func (v invented) turned() string {
	r := rand.New(rand.NewPCG(v.seed, 2))
	var b strings.Builder
	for _, t := range v.times() {
		up, forward := v.at(t)
		side := 0.1*math.Sin(math.Pi*t/v.stepS) + v.noiseG*r.NormFloat64()
		forward += v.swing * math.Cos(math.Pi*t/v.stepS)
		up, forward = up+v.noiseG*r.NormFloat64(), forward+v.noiseG*r.NormFloat64()
		sin, cos := math.Sincos(v.turn)
		fmt.Fprintf(&b, "%.0f,%.4f,%.4f,%.4f\n", 1e6*(1000+1e3*t), standardG*side, standardG*(cos*up+sin*forward), standardG*(cos*forward-sin*up))
	}
	return b.String()
}
