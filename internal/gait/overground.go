package gait

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"plumbstride/internal/form"
	"plumbstride/internal/geom"
	"plumbstride/internal/signal"
)

// Over ground the runner is seen square from the side only for a moment:
// before it they come towards the camera, after it they go away. Angles and
// lengths are taken from the frames around that moment, times from all.
const (
	squareDeg  = 20.0 // the widest view that counts as side-on
	widestDeg  = 40.0 // beyond this nothing but times is taken
	viewStep   = 4.0  // by which the view is widened until a whole stride is in it
	wholeShare = 1.15 // of a stride that the view must hold
)

// viewDeg is how far from side-on the runner is seen at time t: positive from
// behind. Without a known distance it is the camera's yaw.
func (g *Gait) viewDeg(t float64) float64 {
	p := &g.Plane
	if p.DistanceM <= 0 {
		return p.YawDeg
	}
	hip, ok := g.midPx(form.Hip, t)
	x := p.centre.X + p.TravelMS.X*(t-p.t0)
	if ok {
		x = p.lift(hip, 0).X
	}
	return p.YawDeg + geom.Degrees(math.Atan2(x, p.DistanceM))
}

// findWindow chooses the frames from which angles and lengths are taken, and
// keeps each side's anchors among them; all anchors stay in Beats.
func (g *Gait) findWindow() error {
	g.inView = nil
	g.Beats = [3][]float64{form.Left: g.Cycles[form.Left].Anchors, form.Right: g.Cycles[form.Right].Anchors}
	if g.Setting == OverGround {
		g.Beats = [3][]float64{}
		for _, b := range g.passings(g.StrideS) {
			s := g.Near
			if b.side < 0 {
				s = s.Other()
			}
			g.Beats[s] = append(g.Beats[s], b.t)
		}
	}
	if g.Setting != OverGround || g.Plane.DistanceM <= 0 {
		return nil
	}
	view := make([]float64, len(g.Motion.Times))
	for i, t := range g.Motion.Times {
		view[i] = math.Abs(g.viewDeg(t))
	}
	limit := squareDeg
	for ; limit < widestDeg; limit += viewStep {
		if g.spanWithin(view, limit) >= wholeShare*g.StrideS {
			break
		}
	}
	if g.spanWithin(view, limit) < 0.6*g.StrideS {
		return form.ClipError("the runner is never seen square from the side for a whole stride: stand at a right angle to the middle of the path, further away, and let the whole pass be in the picture")
	}
	g.ViewDeg = limit
	g.inView = make([]bool, len(view))
	for i, v := range view {
		g.inView[i] = v <= limit
	}
	if limit > squareDeg+viewStep {
		g.Plane.YawSD *= limit / squareDeg
		g.Notes = append(g.Notes, fmt.Sprintf("A whole stride is only seen when views up to %.0f° off side-on are counted, so angles and lengths are less sure: film from further away, at a right angle to the middle of the path.", limit))
	}
	for _, s := range sides {
		g.Cycles[s].Anchors = g.anchorsWithin(s, limit)
	}
	return nil
}

// spanWithin is how long the view is within a limit, seconds.
func (g *Gait) spanWithin(view []float64, limit float64) float64 {
	span := 0.0
	for i := 1; i < len(view); i++ {
		if step := g.Motion.Times[i] - g.Motion.Times[i-1]; view[i] <= limit && step < 0.2 {
			span += step
		}
	}
	return span
}

// anchorsWithin are a side's anchors within the view, or the one seen best.
func (g *Gait) anchorsWithin(s form.Side, limit float64) []float64 {
	var in []float64
	best, least := 0.0, math.Inf(1)
	for _, a := range g.Cycles[s].Anchors {
		v := math.Abs(g.viewDeg(a))
		if v <= limit {
			in = append(in, a)
		}
		if v < least {
			best, least = a, v
		}
	}
	if len(in) == 0 {
		in = []float64{best}
	}
	return in
}

// yawFromSize gives the camera's yaw from how the runner's size changes along
// the path: at X metres ahead of the camera's axis the depth is D + X·sin ψ,
// so that one over the size seen is a line in X whose slope over its value at
// the axis is sin ψ/D. The size is the distance from hips to ears, or to
// shoulders. ok is false where the path is short or the distance not known.
func (g *Gait) yawFromSize() (deg, sd float64, ok bool) {
	p := &g.Plane
	if g.Setting != OverGround || p.DistanceM <= 0 {
		return 0, 0, false
	}
	top := form.Ear
	if g.Motion.Paths[form.At(form.Ear, form.Left)] == nil && g.Motion.Paths[form.At(form.Ear, form.Right)] == nil {
		top = form.Shoulder
	}
	var x, inv []float64
	for _, t := range g.Motion.Times {
		hip, ok1 := g.midPx(form.Hip, t)
		high, ok2 := g.midPx(top, t)
		if size := high.Sub(hip).Norm(); ok1 && ok2 && size > 5 {
			x, inv = append(x, p.lift(hip, 0).X), append(inv, 1/size)
		}
	}
	span := signal.Quantile(x, 0.95) - signal.Quantile(x, 0.05)
	if len(x) < minFrames || span < 0.25*p.DistanceM {
		return 0, 0, false
	}
	at, slope, spread, width := robustLine(x, inv)
	if !(at > 0) {
		return 0, 0, false
	}
	sin := slope / at * p.DistanceM
	// Frames a tenth of a second apart are independent.
	n := math.Max((g.Motion.Times[len(g.Motion.Times)-1]-g.Motion.Times[0])/0.1, 4)
	sdSin := math.Hypot(spread/at*p.DistanceM/(math.Sqrt(n)*width), g.focalSD()*sin)
	deg = geom.Degrees(math.Asin(math.Max(-0.7, math.Min(0.7, sin))))
	return deg, math.Max(geom.Degrees(sdSin), 0.8), true
}

// focalSD is how well the lens is known, relative.
func (g *Gait) focalSD() float64 {
	if t := g.Motion.Track; t.FocalPx > 0 {
		return t.FocalSD
	}
	return usualLensSD
}

// usualLensSD is how far telephones' lenses differ from focalShare, relative
// (common practice, no source).
const usualLensSD = 0.2

// robustLine fits y = at + slope·x with Tukey's weights; spread is the robust
// standard deviation about it, width that of x.
func robustLine(x, y []float64) (at, slope, spread, width float64) {
	w := make([]float64, len(x))
	for i := range w {
		w[i] = 1
	}
	rest := make([]float64, len(x))
	for range 8 {
		var n, sx, sy, sxx, sxy float64
		for i := range x {
			n, sx, sy = n+w[i], sx+w[i]*x[i], sy+w[i]*y[i]
			sxx, sxy = sxx+w[i]*x[i]*x[i], sxy+w[i]*x[i]*y[i]
		}
		det := n*sxx - sx*sx
		if det <= 0 {
			return math.NaN(), 0, 0, 0
		}
		slope = (n*sxy - sx*sy) / det
		at = (sy - slope*sx) / n
		width = math.Sqrt(det) / n
		for i := range x {
			rest[i] = y[i] - at - slope*x[i]
		}
		spread = signal.RobustSD(rest)
		for i := range x {
			z := rest[i] / math.Max(4.685*spread, 1e-12)
			w[i] = math.Pow(math.Max(1-z*z, 0), 2)
		}
	}
	return at, slope, spread, width
}

// The beat over ground is taken from the moments at which the ankles pass each
// other: a camera that looks a little up or down sees what is upright lean to
// the sides of the picture, so that the ankle seems to pass under the hips
// early on one side and late on the other, by 1 % of the time and more; the
// ankles are nearly of one height, and pass each other twice as fast.
const (
	beatSD     = 0.008 // s, of one passing
	limpSD     = 0.015 // s: the two sides' passings from halfway between each other
	footAsideM = 0.03  // m: how far feet are from where they are thought beside the midplane
)

// beat is one passing of the ankles: the time, and whether the near foot is
// the one on the ground (+1) or the far one (−1).
type beat struct{ t, side float64 }

// sortBeats puts them in the order of time.
func sortBeats(b []beat) {
	slices.SortFunc(b, func(x, y beat) int { return cmp.Compare(x.t, y.t) })
}

// passings finds the moments at which the ankles pass each other.
func (g *Gait) passings(period float64) []beat {
	near, far := form.At(form.Ankle, g.Near), form.At(form.Ankle, g.Near.Other())
	p := g.Plane
	p.lateral[near] *= stanceShare
	p.lateral[far] *= stanceShare
	lead := func(t float64) (float64, bool) {
		a, _, ok1 := g.Motion.Spot(near, t)
		b, _, ok2 := g.Motion.Spot(far, t)
		return p.Map(near, a, t).X - p.Map(far, b, t).X, ok1 && ok2
	}
	behind := func(t float64) (float64, bool) {
		v, ok := lead(t)
		return -v, ok
	}
	var out []beat
	times := g.Motion.Times
	prev, okPrev := lead(times[0])
	for i := 1; i < len(times); i++ {
		cur, ok := lead(times[i])
		if ok && okPrev && prev*cur <= 0 && prev != cur {
			b := beat{side: 1}
			if prev > 0 {
				b.t = bisect(lead, times[i-1], times[i])
			} else {
				b.t, b.side = bisect(behind, times[i-1], times[i]), -1
			}
			if n := len(out); n == 0 || b.t-out[n-1].t > 0.25*period {
				out = append(out, b)
			}
		}
		prev, okPrev = cur, ok
	}
	return out
}

// beatOverGround is the stride time from all passings: number k, of side
// σ = ±1, is at t₀ + T·k/2 + σ·s + σ·e·(k − k̄). A foot that lies nearer to the
// camera than thought seems to pass the other early on one side of the camera
// and late on the other; e takes that up, with the opposite sign for the far
// foot. ok is false with fewer than three passings.
func (g *Gait) beatOverGround(period float64) (stride float64, ok bool) {
	aside := 1e12
	if g.Plane.DistanceM > 0 {
		aside = 1 / math.Pow(period/2*footAsideM/g.Plane.DistanceM, 2)
	}
	return fitBeat(g.passings(period), period, aside)
}

// fitBeat is that fit; aside is one over the variance of e before anything is
// seen, s⁻².
func fitBeat(beats []beat, period, aside float64) (stride float64, ok bool) {
	if len(beats) < 3 {
		return 0, false
	}
	k, mid := make([]float64, len(beats)), 0.0
	for i, b := range beats {
		k[i] = 2 * math.Round((b.t-beats[0].t)/period) // strides of the same side
		if b.side != beats[0].side {
			k[i] = 2*math.Round((b.t-beats[0].t)/period-0.5) + 1
		}
		mid += k[i] / float64(len(beats))
	}
	var m [4][5]float64
	m[2][2], m[3][3] = 1/(limpSD*limpSD), aside
	for n, b := range beats {
		row := [5]float64{1, (k[n] - mid) / 2, b.side, b.side * (k[n] - mid), b.t}
		for i := range 4 {
			for j := range 5 {
				m[i][j] += row[i] * row[j] / (beatSD * beatSD)
			}
		}
	}
	x, ok := eliminate(m)
	return x[1], ok && x[1] > 0
}

// eliminate solves four linear equations, the right side in the last column.
func eliminate(m [4][5]float64) (x [4]float64, ok bool) {
	for c := range 4 {
		best := c
		for r := c; r < 4; r++ {
			if math.Abs(m[r][c]) > math.Abs(m[best][c]) {
				best = r
			}
		}
		m[c], m[best] = m[best], m[c]
		if math.Abs(m[c][c]) < 1e-12 {
			return x, false
		}
		for r := range 4 {
			if r == c {
				continue
			}
			k := m[r][c] / m[c][c]
			for j := c; j < 5; j++ {
				m[r][j] -= k * m[c][j]
			}
		}
	}
	for c := range 4 {
		x[c] = m[c][4] / m[c][c]
	}
	return x, true
}

// footfallLine is the line through the feet at their anchors, one for each
// side (near feet stand lower in the picture) with a common slope: its slope
// in degrees, falling to the right positive, the standard uncertainty, and how
// far, metres, single footfalls lie off it. ok is false with fewer than three
// footfalls on both sides.
func (g *Gait) footfallLine() (deg, sd, offM float64, ok bool) {
	var dx, dy []float64
	most, lines := 0, 0
	for _, s := range sides {
		var x, y []float64
		for _, a := range g.Cycles[s].Anchors {
			if v, _, ok := g.Motion.Spot(form.At(form.Ankle, s), a); ok {
				x, y = append(x, v.X), append(y, v.Y)
			}
		}
		if len(x) == 0 {
			continue
		}
		lines++
		most = max(most, len(x))
		mx, _ := signal.MeanSD(x)
		my, _ := signal.MeanSD(y)
		for i := range x {
			dx, dy = append(dx, x[i]-mx), append(dy, y[i]-my)
		}
	}
	var sxx, sxy float64
	for i := range dx {
		sxx += dx[i] * dx[i]
		sxy += dx[i] * dy[i]
	}
	if most < 3 || sxx <= 0 {
		return 0, 0, 0, false
	}
	slope := sxy / sxx
	rest := 0.0
	for i := range dx {
		rest += math.Pow(dy[i]-slope*dx[i], 2)
	}
	// A few footfalls tell little of their spread: two more of the usual kind.
	free := float64(len(dx) - lines - 1)
	usual := footfallOffM / g.Plane.MPerPx
	spread := math.Sqrt((rest + 2*usual*usual) / (free + 2))
	if free > 0 {
		offM = math.Sqrt(rest/free) * g.Plane.MPerPx
	}
	sd = geom.Degrees(spread / math.Sqrt(sxx))
	return geom.Degrees(math.Atan(slope)), math.Hypot(sd, pathSlopeSD), offM, true
}

const (
	// footfallOffM is how far footfalls on even ground lie off a line, metres:
	// ankles at mid-stance, and the points' own error.
	footfallOffM = 0.012
	// pathSlopeSD is how far a path that is called level rises or falls,
	// degrees: about 1 % (common practice, no source).
	pathSlopeSD = 0.6
	// unevenM is from where on footfalls are said not to lie on one line.
	unevenM = 0.025
)

// sayGround notes uneven or sloping ground.
func (g *Gait) sayGround(facts Facts) {
	if g.Setting != OverGround {
		return
	}
	deg, sd, off, ok := g.footfallLine()
	if !ok {
		return
	}
	if off > unevenM {
		g.Notes = append(g.Notes, fmt.Sprintf("The footfalls do not lie on one line (they are up to %.0f cm off it): the ground is uneven, and the level is taken from what stands upright in the picture, or is less sure.", 200*off))
	}
	l := facts.Level
	if !l.Known && !l.Stated || facts.InclineDeg != 0 {
		return
	}
	// Uphill to the right rises in the picture: a negative slope.
	rise := -(deg - l.Deg - g.yawSlope()) * g.Plane.dir()
	if math.Abs(rise) > 3*math.Hypot(sd, math.Max(l.SD, 0.2)) && math.Abs(rise) > 1.2 {
		word := "rises"
		if rise < 0 {
			word = "falls"
		}
		g.Notes = append(g.Notes, fmt.Sprintf("The path %s by about %.0f %% the way the runner goes: running uphill or down changes lean, landing and cadence. State it (--incline), or film where it is level.", word, 100*math.Abs(math.Tan(geom.Radians(rise)))))
	}
}
