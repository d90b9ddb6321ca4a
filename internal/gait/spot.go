package gait

import (
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/signal"
)

// Somebody marches or runs on the spot when the hips stay, the ankles go up
// and down in turn, and a foot that is down does not travel backward.
const (
	spotLiftM    = 0.05 // m: an ankle rises by no less, as half the range of the two ankles' difference
	spotDriftMS  = 0.35 // m/s: a foot on a belt travels faster, even at a slow walk
	spotStrength = 0.5  // of the autocorrelation
	slowestSpot  = 2.2  // s: the longest stride, a slow march
)

// onTheSpot tells whether the legs go up and down in place. heights is the
// left ankle's height over the right one's, metres, dt apart from the first
// frame on.
func (g *Gait) onTheSpot() (heights []float64, dt float64, ok bool) {
	if g.Setting != Treadmill {
		return nil, 0, false
	}
	dt = 1.0 / 200
	l, r := form.At(form.Ankle, form.Left), form.At(form.Ankle, form.Right)
	last := 0.0
	for t := g.Motion.Times[0]; t <= g.Motion.Times[len(g.Motion.Times)-1]; t += dt {
		a, _, ok1 := g.Motion.Spot(l, t)
		b, _, ok2 := g.Motion.Spot(r, t)
		if ok1 && ok2 {
			last = g.Plane.Map(l, a, t).Y - g.Plane.Map(r, b, t).Y
		}
		heights = append(heights, last)
	}
	if signal.Quantile(heights, 0.95)-signal.Quantile(heights, 0.05) < 2*spotLiftM {
		return nil, 0, false
	}
	for _, s := range sides {
		if g.stanceDrift(s) > spotDriftMS {
			return nil, 0, false
		}
	}
	half, strength, ok := signal.HalfPeriod(heights, dt, minStride/2, slowestSpot/2)
	g.StrideCheckS = 2 * half
	return heights, dt, ok && strength > spotStrength
}

// stanceDrift is how fast, m/s, a foot travels backward while it is as low as
// it gets: the median over the lowest quarter of the frames.
func (g *Gait) stanceDrift(s form.Side) float64 {
	j := form.At(form.Ankle, s)
	var y, v []float64
	for _, t := range g.Motion.Times {
		if p, vel, ok := g.Motion.Spot(j, t); ok {
			y, v = append(y, p.Y), append(v, -g.Plane.dir()*vel.X*g.Plane.MPerPx)
		}
	}
	low := signal.Quantile(y, 0.75) // the picture's y goes down
	var slow []float64
	for i := range y {
		if y[i] >= low {
			slow = append(slow, v[i])
		}
	}
	return signal.Median(slow)
}

// analyseSpot finds the beat of somebody on the spot, and lays the strides
// over one another: an anchor is the middle of the other leg's swing.
func (g *Gait) analyseSpot(facts Facts, heights []float64, dt float64) error {
	g.Setting = OnTheSpot
	g.SeenSpeedMS, g.SpeedMS, g.SpeedSD = 0, 0, 0
	beats := swings(heights, dt, g.Motion.Times[0], g.StrideCheckS)
	beats = evenEnds(beats)
	stride, ok := fitBeat(beats, g.StrideCheckS, 1e12)
	if !ok {
		return form.ClipError("too few steps on the spot are seen: film at least 8 seconds from the side, with the whole body in the picture")
	}
	g.StrideS = stride
	for _, s := range sides {
		g.Cycles[s] = &Cycle{Side: s, StrideS: stride}
	}
	for _, b := range beats {
		s := form.Left // left is up: the right foot carries
		if b.side > 0 {
			s = form.Right
		}
		g.Cycles[s].Anchors = append(g.Cycles[s].Anchors, b.t)
		g.Beats[s] = append(g.Beats[s], b.t)
	}
	if len(g.Beats[form.Left]) == 0 || len(g.Beats[form.Right]) == 0 {
		return form.ClipError("only one leg is seen to step: is this a drill for one leg? Film the runner running, or stepping in turn, for at least 8 seconds")
	}
	g.findYaw(facts)
	p := &g.Plane
	p.RollDeg, p.RollSD = 0, handLevelSD
	switch l := facts.Level; {
	case l.Stated:
		p.RollDeg, p.RollSD = l.Deg, l.SD
	case l.Known:
		p.RollDeg, p.RollSD = weigh(0, handLevelSD, l.Deg, math.Max(l.SD, 0.2))
	}
	g.rescale()
	g.settle()
	p.TravelMS.X, p.TravelMS.Y = 0, 0
	for _, s := range sides {
		g.Cycles[s].build(g, false)
	}
	return nil
}

// swings are the middles of the legs' swings: halfway between the times at
// which one ankle passes half its rise over the other on the way up and on
// the way down; side is +1 for the left leg. Swings shorter than a tenth of
// the stride are noise, and two of one leg less than half a stride apart are
// one, seen with a dent.
func swings(heights []float64, dt, first, stride float64) []beat {
	// The far foot stands a little higher in the picture than the near one.
	low, high := signal.Quantile(heights, 0.05), signal.Quantile(heights, 0.95)
	middle, half := (low+high)/2, (high-low)/4
	var out []beat
	for _, side := range []float64{1, -1} {
		up, began := math.NaN(), math.NaN()
		mine := 0
		for i := 1; i < len(heights); i++ {
			a, b := side*(heights[i-1]-middle)-half, side*(heights[i]-middle)-half
			if a*b > 0 || a == b {
				continue
			}
			t := first + dt*(float64(i-1)+a/(a-b))
			switch {
			case b > 0:
				up = t
			case math.IsNaN(up) || t-up < 0.1*stride:
			case mine > 0 && (up+t)/2-out[len(out)-1].t < 0.5*stride:
				out[len(out)-1].t = (began + t) / 2
			default:
				out, began = append(out, beat{(up + t) / 2, side}), up
				mine++
			}
		}
	}
	sortBeats(out)
	return out
}

// unevenEnd is by how much, relative, the first or last swing of a leg may
// stand off the beat before it is left out: the clip cuts it short.
const unevenEnd = 0.06

// evenEnds leaves out first and last swings that the clip cuts short.
func evenEnds(beats []beat) []beat {
	var legs [2][]beat
	var gaps []float64
	for _, b := range beats {
		leg := &legs[0]
		if b.side < 0 {
			leg = &legs[1]
		}
		if n := len(*leg); n > 0 {
			gaps = append(gaps, b.t-(*leg)[n-1].t)
		}
		*leg = append(*leg, b)
	}
	usual := signal.Median(gaps)
	var out []beat
	for _, leg := range legs {
		off := func(i int) bool { return math.Abs(leg[i+1].t-leg[i].t-usual) > unevenEnd*usual }
		if len(leg) > 2 && off(0) {
			leg = leg[1:]
		}
		if n := len(leg); n > 2 && off(n-2) {
			leg = leg[:n-1]
		}
		out = append(out, leg...)
	}
	sortBeats(out)
	return out
}
