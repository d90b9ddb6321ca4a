package gait

import (
	"math"
	"sort"

	"plumbstride/internal/form"
	"plumbstride/internal/geom"
	"plumbstride/internal/signal"
	"plumbstride/internal/track"
)

// Cycle is one side's mean stride: all strides of the clip laid over one
// another at the moment the ankle passes under the hips, so that frames that
// fell at different phases sample the same movement many times per frame.
type Cycle struct {
	Side form.Side
	// Anchors are the times at which the ankle passes under the hips during
	// stance, one a stride.
	Anchors []float64
	StrideS float64
	// ContactS and ToeOffS are the events' times relative to the anchor.
	ContactS, ToeOffS   float64
	ContactSD, ToeOffSD float64
	// ContactBias and ToeOffBias are the parts of these that another clip of
	// the same runner would bring again: what the event's definition makes of
	// this foot and shoe.
	ContactBias, ToeOffBias float64
	// ContactMoved and ToeOffMoved are by how much the other foot drew each
	// event later, s: they may hide a difference that the two feet really have.
	ContactMoved, ToeOffMoved float64
	// ToeOffHidden: the toe-off was not seen; it is the other side's.
	ToeOffHidden bool
	times        []float64 // relative to the anchor
	paths        [form.NumJoints]*cyclePath
}

type cyclePath struct{ x, y []signal.State }

// At gives a joint's mean place (metres) and velocity (m/s) at a time
// relative to the anchor, with the standard uncertainty of a coordinate of
// the mean place; ok is false where the joint was not seen.
func (c *Cycle) At(j form.Joint, t float64) (pos, vel geom.Vec, sd float64, ok bool) {
	p := c.paths[j]
	if p == nil {
		return geom.Vec{}, geom.Vec{}, 0, false
	}
	x := signal.Interpolate(c.times, p.x, t)
	y := signal.Interpolate(c.times, p.y, t)
	return geom.Vec{X: x.X, Y: y.X}, geom.Vec{X: x.V, Y: y.V}, math.Sqrt((x.SD*x.SD + y.SD*y.SD) / 2), true
}

// minSteps is the least number of stance phases from which anything is said.
const minSteps = 2

// minStride and maxStride bound a human stride: 0.45 s is 267 steps/min,
// 1.6 s is 75 steps/min.
const (
	minStride = 0.45
	maxStride = 1.6
)

// findCycles finds the stride time and each side's anchors.
func (g *Gait) findCycles() error {
	period, strength, ok := g.stridePeriod()
	if !ok || strength < 0.5 {
		return form.ClipError("no regular steps can be seen: the person may be standing, or the legs are hidden; film a runner side-on for at least 8 seconds")
	}
	g.StrideCheckS = period
	return g.findAnchors(period)
}

// findAnchors finds each side's anchors in the plane as it stands, and the
// stride time through them.
func (g *Gait) findAnchors(period float64) error {
	for _, s := range sides {
		anchors := g.anchors(s, period)
		g.Cycles[s] = &Cycle{Side: s, Anchors: anchors}
	}
	l, r := g.Cycles[form.Left].Anchors, g.Cycles[form.Right].Anchors
	if len(l) == 0 || len(r) == 0 || len(l)+len(r) < minSteps {
		return form.ClipError("too few steps are seen (%d): film at least 8 seconds with the whole body in the picture", len(l)+len(r))
	}
	g.StrideS = g.meanStride(period)
	if stride, ok := g.beatOverGround(period); ok && g.Setting == OverGround {
		g.StrideS = stride
	}
	for _, s := range sides {
		g.Cycles[s].StrideS = g.StrideS
	}
	return nil
}

// separation is the left ankle's lead over the right, forward, px.
func (g *Gait) separation(t float64) (float64, bool) {
	l, _, okL := g.Motion.Spot(form.At(form.Ankle, form.Left), t)
	r, _, okR := g.Motion.Spot(form.At(form.Ankle, form.Right), t)
	return g.Plane.dir() * (l.X - r.X), okL && okR
}

// stridePeriod is the autocorrelation's period of the ankles' separation.
func (g *Gait) stridePeriod() (period, strength float64, ok bool) {
	const dt = 1.0 / 200
	t0, t1 := g.Motion.Times[0], g.Motion.Times[len(g.Motion.Times)-1]
	var v []float64
	last := 0.0
	for t := t0; t <= t1; t += dt {
		if s, ok := g.separation(t); ok {
			last = s
		}
		v = append(v, last)
	}
	if _, sd := signal.MeanSD(v); sd*g.Plane.MPerPx < 0.06 {
		return 0, 0, false // feet hardly move apart: standing
	}
	half, strength, ok := signal.HalfPeriod(v, dt, minStride/2, maxStride/2)
	return 2 * half, strength, ok
}

// anchors are the times at which the side's ankle passes the hips from front
// to back, at least 0.6 of a period apart.
func (g *Gait) anchors(s form.Side, period float64) []float64 {
	ahead := func(t float64) (float64, bool) {
		a, _, ok := g.Motion.Spot(form.At(form.Ankle, s), t)
		if !ok {
			return 0, false
		}
		h, ok := g.midHip(t)
		j := form.At(form.Ankle, s)
		p := g.Plane
		if g.Setting == OverGround { // feet that carry a runner lie near the line they run on
			p.lateral[j] *= stanceShare
		}
		return p.Map(j, a, t).X - h.X, ok
	}
	var out []float64
	times := g.Motion.Times
	prev, okPrev := ahead(times[0])
	for i := 1; i < len(times); i++ {
		cur, ok := ahead(times[i])
		if ok && okPrev && prev > 0 && cur <= 0 {
			t := bisect(ahead, times[i-1], times[i])
			if len(out) == 0 || t-out[len(out)-1] > 0.6*period {
				out = append(out, t)
			}
		}
		prev, okPrev = cur, ok
	}
	return out
}

// midHip is the midpoint of the hips in the plane, m.
func (g *Gait) midHip(t float64) (geom.Vec, bool) {
	jl, jr := form.At(form.Hip, form.Left), form.At(form.Hip, form.Right)
	l, _, okL := g.Motion.Spot(jl, t)
	r, _, okR := g.Motion.Spot(jr, t)
	return geom.Mid(g.Plane.Map(jl, l, t), g.Plane.Map(jr, r, t)), okL && okR
}

// stanceShare is how near, of its usual distance, an ankle comes to the body's
// midplane while it carries a runner (from memory: steps are 5–8 cm wide).
const stanceShare = 0.5

// bisect finds where f falls through 0 between a (f > 0) and b (f ≤ 0).
func bisect(f func(float64) (float64, bool), a, b float64) float64 {
	for range 30 {
		m := (a + b) / 2
		if v, ok := f(m); ok && v > 0 {
			a = m
		} else {
			b = m
		}
	}
	return (a + b) / 2
}

// farWeight is what a far leg's anchor counts beside a near one's: the near
// leg hides it at times.
const farWeight = 1.0 / 3

// meanStride is the least-squares stride time through both sides' anchors,
// gaps of several strides included.
func (g *Gait) meanStride(period float64) float64 {
	var num, den float64
	for _, s := range sides {
		a, w := g.Cycles[s].Anchors, farWeight
		if s == g.Near {
			w = 1
		}
		k := make([]float64, len(a))
		for i := 1; i < len(a); i++ {
			k[i] = k[i-1] + math.Round((a[i]-a[i-1])/period)
		}
		mk, _ := signal.MeanSD(k)
		mt, _ := signal.MeanSD(a)
		for i := range a {
			num += w * (k[i] - mk) * (a[i] - mt)
			den += w * (k[i] - mk) * (k[i] - mk)
		}
	}
	if den > 0 {
		return num / den
	}
	// One stance phase a side: a stride is twice the step between them.
	l, r := g.Cycles[form.Left].Anchors, g.Cycles[form.Right].Anchors
	if len(l) > 0 && len(r) > 0 {
		return 2 * math.Abs(l[0]-r[0])
	}
	return period
}

// usualCutoff is the usual cut-off of the smoother on the laid-over strides,
// Hz. It may be higher than on a single track since many strides share the
// noise.
func usualCutoff(p form.Point, strides int, frameRate float64) float64 {
	base := 18.0
	switch p {
	case form.Ankle, form.Heel, form.Toe:
		base = 24
	case form.Hip, form.Shoulder, form.Ear, form.Eye, form.Nose:
		base = 14
	}
	if strides < 4 {
		base *= 0.75
	}
	return math.Min(base, 0.45*frameRate)
}

// The cut-off that is likeliest on a clip's strides holds between these
// shares of the usual one.
const leastCutoff, mostCutoff = 0.75, 1.25

// cutoff is the smoother's cut-off for one joint of the clip, Hz: the
// likeliest, but for points that land. Every part of the stride has the same
// say in that, and the landing counts most there: by force plate and rendered
// clips the usual is the better for them (docs/studies/smoothing.md).
func (l laid) cutoff(p form.Point, strides int, frameRate float64) float64 {
	usual := math.Min(usualCutoff(p, strides, frameRate), 0.45*l.rateHz)
	if landing(p, 0) != nil {
		return usual
	}
	most := math.Min(mostCutoff*usual, 0.45*math.Min(l.rateHz, frameRate))
	return signal.LikelyCutoff(l.times, [][]float64{l.x, l.y}, l.doubt, l.rateHz, leastCutoff*usual, most)
}

// landing is how abruptly a foot stops at contact: by about half the speed of
// a run and several g (Fukuchi et al. 2017, doi 10.7717/peerj.3298: 1.2 m/s
// and 50 m/s² within 20 ms).
func landing(p form.Point, at float64) []signal.Impact {
	switch p {
	case form.Ankle, form.Heel, form.Toe:
		return []signal.Impact{{Time: at, SpeedSD: 1, AccelSD: 80}}
	case form.Knee:
		return []signal.Impact{{Time: at, SpeedSD: 0.5, AccelSD: 40}}
	default:
		return nil
	}
}

// laidOver are the anchors about which frames are laid over one another. Over
// ground only part of a pass is seen from the side: there the strides before
// the first anchor and after the last are used as far as they go.
func (c *Cycle) laidOver(g *Gait) []float64 {
	if g.inView == nil || len(c.Anchors) == 0 {
		return c.Anchors
	}
	out := append([]float64{c.Anchors[0] - c.StrideS}, c.Anchors...)
	return append(out, c.Anchors[len(c.Anchors)-1]+c.StrideS)
}

// sample is one frame laid into the mean stride.
type sample struct {
	t   float64 // relative to the anchor
	row int
}

// build lays the strides over one another and smooths them; landed: across
// the break of the contact that was found.
func (c *Cycle) build(g *Gait, landed bool) {
	samples := c.samples(g)
	c.times = make([]float64, len(samples))
	for i, s := range samples {
		c.times[i] = s.t
	}
	for j := range form.Joint(form.NumJoints) {
		if landed && (j.Side() != c.Side || landing(j.Point(), 0) == nil) {
			continue
		}
		c.paths[j] = nil
		if g.Motion.Paths[j] != nil {
			c.paths[j] = c.smooth(g, j, samples, landed)
		}
	}
}

// samples are the frames of all strides, by their time in the stride.
func (c *Cycle) samples(g *Gait) []sample {
	half := aboutAnchor * c.StrideS
	var out []sample
	for i, t := range g.Motion.Times {
		if g.inView != nil && !g.inView[i] {
			continue
		}
		for _, a := range c.laidOver(g) {
			if d := t - a; math.Abs(d) <= half {
				out = append(out, sample{d, i})
			}
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].t < out[j].t })
	return out
}

// aboutAnchor is how far the laid-over strides go either way, in strides.
const aboutAnchor = 0.55

// laid is one joint of all strides: metres, and each sample's noise in units
// of noiseM, infinite where it was not seen.
type laid struct {
	times, x, y, doubt []float64
	noiseM, rateHz     float64
}

// lay takes a joint's points out of the frames.
func (c *Cycle) lay(g *Gait, j form.Joint, samples []sample) laid {
	p := g.Motion.Paths[j]
	n := len(samples)
	l := laid{
		times: c.times, x: make([]float64, n), y: make([]float64, n), doubt: make([]float64, n),
		noiseM: math.Max(p.Noise, 0.2) * g.Plane.MPerPx, rateHz: float64(n) / (2 * aboutAnchor * c.StrideS),
	}
	for i, s := range samples {
		f := &g.Motion.Track.Frames[s.row]
		spot := f.Spots[j]
		v := g.Plane.Map(j, geom.Vec{X: spot.X, Y: spot.Y}, f.Time)
		l.x[i], l.y[i], l.doubt[i] = v.X, v.Y, math.Inf(1)
		if p.Weight[s.row] > 0 {
			l.doubt[i] = 1 / math.Max(spot.Confidence, 0.2)
		}
		if f.ByHand.Has(j) {
			l.doubt[i] = track.ByHandSD
		}
	}
	return l
}

// smooth gives one joint's mean path.
func (c *Cycle) smooth(g *Gait, j form.Joint, samples []sample, landed bool) *cyclePath {
	l := c.lay(g, j, samples)
	q := signal.JerkDensity(l.cutoff(j.Point(), len(c.Anchors), g.frameRate()), l.rateHz, l.noiseM)
	var breaks []signal.Impact
	if landed {
		breaks = landing(j.Point(), c.ContactS)
	}
	sd := make([]float64, len(l.doubt))
	for i, d := range l.doubt {
		sd[i] = d * l.noiseM
	}
	x := signal.SmoothAcross(l.times, l.x, sd, q, breaks)
	if x == nil {
		return nil
	}
	return &cyclePath{x, signal.SmoothAcross(l.times, l.y, sd, q, breaks)}
}

// frameRate is the median rate of the frames, Hz.
func (g *Gait) frameRate() float64 {
	steps := make([]float64, 0, len(g.Motion.Times))
	for i := 1; i < len(g.Motion.Times); i++ {
		steps = append(steps, g.Motion.Times[i]-g.Motion.Times[i-1])
	}
	return 1 / signal.Median(steps)
}
