package standin

import "math/rand/v2"

// oddities are departures from the figure's ordinary shape and dress, drawn
// widely so that nothing can be learnt from their ordinary values. A nil
// pointer is the ordinary figure.
type oddities struct {
	girth  [5]float64 // of the leg at hip, thigh, knee, calf and ankle; 1 is ordinary
	offset [3]float64 // flesh ahead of the joint at hip, knee and ankle, m
	waist  float64    // girth of the trunk
	belly  float64    // more depth in front at the waist, m
	back   float64    // the trunk's flesh ahead of the spine, m
	bottom float64    // size of the buttocks
	hem    float64    // of shorts or trousers: 0 hip, 1 knee, 2 ankle
	slack  float64    // how far the cloth hangs off at the hem, m; 0 is tight
	crew   float64    // top of the socks, likewise 1…2
	rim    float64    // height of the shoe's sole
	upper  float64    // height of the shoe's upper
	snub   float64    // how blunt the toe is
	narrow float64    // width of the shoe
}

func drawOddities(rng *rand.Rand) *oddities {
	between := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	about := func(v, sd float64) float64 { return v + sd*clamp(rng.NormFloat64(), -2.2, 2.2) }
	o := &oddities{
		girth:  [5]float64{about(1, 0.10), about(1, 0.13), about(1, 0.10), about(1, 0.13), about(1, 0.10)},
		offset: [3]float64{about(0, 0.010), about(0, 0.006), about(0, 0.004)},
		waist:  about(1, 0.10), belly: between(0, 0.05), back: about(0, 0.010), bottom: about(1, 0.10),
		hem: between(0.35, 0.95), slack: between(0.004, 0.045), crew: between(1.60, 1.96),
		rim: about(1, 0.22), upper: about(1, 0.10), snub: between(0.8, 1.6), narrow: about(1, 0.10),
	}
	switch rng.IntN(5) {
	case 0: // tights of any length
		o.hem, o.slack = between(0.6, 1.95), 0
	case 1: // trousers
		o.hem, o.slack = between(1.3, 1.90), between(0.008, 0.03)
	}
	return o
}

// leg bends the leg's cross-section at place t (front, back, half width) and
// gives how far its flesh is shifted ahead, m.
func (o *oddities) leg(t float64, v []float64) (ahead float64) {
	if o == nil {
		return 0
	}
	k := along(o.girth[:], []float64{0, 0.5, 1, 1.35, 1.95}, t)
	for i := range v {
		v[i] *= k
	}
	return along(o.offset[:], []float64{0, 1, 2}, t)
}

// along is the straight line through values at places, level beyond the ends.
func along(values, places []float64, t float64) float64 {
	if t <= places[0] {
		return values[0]
	}
	for i := 1; i < len(places); i++ {
		if t <= places[i] {
			u := (t - places[i-1]) / (places[i] - places[i-1])
			return values[i-1] + u*(values[i]-values[i-1])
		}
	}
	return values[len(values)-1]
}

// torso bends the trunk's cross-section at place s (half width, front, back,
// shift) and gives how much further ahead it lies, m.
func (o *oddities) torso(s float64, v []float64) float64 {
	if o == nil {
		return 0
	}
	v[0] *= o.waist
	v[1] = v[1]*o.waist + o.belly*bump(s, 0.28, 0.22)
	v[2] *= o.waist
	return o.back
}

func (o *oddities) clothes(hem, crew, slack *float64) {
	if o != nil {
		*hem, *crew, *slack = o.hem, o.crew, o.slack
	}
}

func (o *oddities) seat() float64 {
	if o == nil {
		return 1
	}
	return o.bottom
}

// shoe bends the shoe's cross-section at part of its length (half width, rim,
// upper, narrowing); its ends stay where they are.
func (o *oddities) shoe(part float64, v []float64) {
	if o == nil {
		return
	}
	inner := clamp(4*part, 0, 1) * clamp(4*(1-part), 0, 1)
	v[0] *= o.narrow
	v[1] *= 1 + (o.rim-1)*inner
	v[2] *= 1 + (o.upper-1)*inner
	if part > 0.8 && part < 0.999 {
		v[0] *= 1 + (o.snub-1)*(part-0.8)/0.2
		v[2] *= 1 + 0.4*(o.snub-1)*(part-0.8)/0.2
	}
}
