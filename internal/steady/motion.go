package steady

import (
	"math"
	"sort"

	"plumbstride/internal/form"
)

// Motion is how the camera turned. Points are pixels of the frame as shown,
// counted as in form.Spot.
type Motion struct {
	Verdict Verdict
	// FocalPx is the lens's focal length in shown pixels, FocalSD its relative
	// standard uncertainty.
	FocalPx, FocalSD float64
	// PanDeg is how far the camera turned from one end to the other.
	PanDeg float64
	// MissPx is how far the background's corners lie, as a median, from where
	// the turns put them, shown pixels.
	MissPx float64
	width  float64
	height float64
	times  []float64
	turns  []rotation // frame → steady picture
}

// Solve gives the camera's motion. box gives where the runner is in each frame
// that was added, in pixels of the frames as added; scale is how many shown
// pixels one of these is. The steady picture looks the way the camera did in
// the middle of the time from..to, seconds.
func (f *Follower) Solve(box func(frame int) Box, scale, from, to float64) Motion {
	unit := float64(f.shrunk) * scale
	m := Motion{width: float64(f.w) * unit, height: float64(f.h) * unit, times: f.times}
	long := float64(max(f.w, f.h))
	m.FocalPx, m.FocalSD = usualFocal*long*unit, usualFocalSD
	p := f.gather(box)
	followed := make([]float64, len(p.frames))
	for k := range p.frames {
		followed[k] = float64(len(p.frames[k]))
	}
	switch {
	case f.frames < 3 || median(p.open) < bareCorners:
		m.Verdict = Bare
		return m
	case median(followed) < bareCorners:
		m.Verdict = Lost
		return m
	}
	p.solve(usualFocal*long, 0)
	if m.judge(p, long, from, to); m.Verdict == Still || m.Verdict == Lost {
		return m
	}
	focal, sd := p.findFocal(long)
	p.solve(focal, 3)
	m.FocalPx, m.FocalSD = focal*unit, sd
	m.judge(p, long, from, to)
	m.MissPx = p.usualMiss() * unit
	return m
}

// judge sets turns and verdict from a solved problem.
func (m *Motion) judge(p *problem, long, from, to float64) {
	lost := 0
	for k, t := range m.times {
		if !p.known[k] && t >= from && t <= to {
			lost++
		}
	}
	if float64(lost) > mostLostShare*float64(len(m.times)) {
		m.Verdict = Lost
		return
	}
	mid := sort.SearchFloat64s(m.times, (from+to)/2)
	for mid > 0 && (mid >= len(p.turns) || !p.known[mid]) {
		mid--
	}
	zero := p.turns[mid].inverse()
	m.turns = make([]rotation, len(p.turns))
	var way []float64
	left, right := math.Inf(1), math.Inf(-1)
	for k := range p.turns {
		m.turns[k] = zero.times(p.turns[k])
		if v := m.turns[k].vector(); p.known[k] {
			way = append(way, p.focal*math.Sqrt(v[0]*v[0]+v[1]*v[1]+0.1*v[2]*v[2]))
			left, right = math.Min(left, v[1]), math.Max(right, v[1])
		}
	}
	m.PanDeg = (right - left) * 180 / math.Pi
	sort.Float64s(way)
	m.Verdict = Moving
	if way[len(way)*95/100] < stillShare*long {
		m.Verdict = Still
	}
}

// findFocal gives the focal length, pixels of the small picture, with which
// the corners miss least – turning far enough shows it, since a pixel at the
// picture's edge is a smaller angle than one in its middle – weighed against
// a telephone's usual lens, with the relative standard uncertainty of both.
func (p *problem) findFocal(long float64) (focal, sd float64) {
	const step, n = 0.17, 5 // of the logarithm, on each side of the usual
	var cost [2*n + 1]float64
	count := 0
	best := 0
	for i := range cost {
		p.solve(usualFocal*long*math.Exp(step*float64(i-n)), 1)
		cost[i], count = p.cost()
		if cost[i] < cost[best] {
			best = i
		}
	}
	prior := 1 / (usualFocalSD * usualFocalSD)
	i := min(max(best, 1), 2*n-1)
	curve := (cost[i-1] - 2*cost[i] + cost[i+1]) / (step * step)
	if !(curve > 0) || best == 0 || best == 2*n {
		return usualFocal * long, usualFocalSD
	}
	at := step*float64(i-n) - (cost[i+1]-cost[i-1])/(2*step)/curve
	// A corner is seen in many frames with the same error: some thirty of them
	// are worth one.
	worth := float64(count) / 30 * curve / 2 / math.Max(cost[best], 0.01)
	log := at * worth / (worth + prior)
	return usualFocal * long * math.Exp(log), math.Max(1/math.Sqrt(worth+prior), 0.02)
}

// usualMiss is the median of what the corners miss by, pixels.
func (p *problem) usualMiss() float64 {
	var all []float64
	for k, seen := range p.frames {
		for _, s := range seen {
			if _, _, a, b, ok := p.miss(k, s); ok && p.known[k] {
				all = append(all, math.Hypot(a, b)*p.focal)
			}
		}
	}
	return median(all)
}

// at is the turn at a time, between two frames in proportion.
func (m *Motion) at(t float64) rotation {
	if len(m.turns) == 0 {
		return unturned
	}
	i := sort.SearchFloat64s(m.times, t)
	switch {
	case i == 0:
		return m.turns[0]
	case i == len(m.times):
		return m.turns[i-1]
	}
	a, b := m.turns[i-1], m.turns[i]
	share := (t - m.times[i-1]) / (m.times[i] - m.times[i-1])
	w := a.inverse().times(b).vector()
	for k := range w {
		w[k] *= share
	}
	return a.times(turn(w))
}

// mostOff is the tangent of the angle from the steady picture's middle beyond
// which nothing is laid into it: 55°.
const mostOff = 1.43

// Steady gives the place in the steady picture of a place shown at time t; ok
// is false where it lies too far to the side.
func (m *Motion) Steady(t, x, y float64) (sx, sy float64, ok bool) {
	return m.pass(m.at(t), x, y)
}

// Shown is the inverse of Steady: the place shown at time t of a place in the
// steady picture.
func (m *Motion) Shown(t, x, y float64) (sx, sy float64, ok bool) {
	return m.pass(m.at(t).inverse(), x, y)
}

func (m *Motion) pass(r rotation, x, y float64) (sx, sy float64, ok bool) {
	d := r.apply(vec3{(x - m.width/2) / m.FocalPx, (y - m.height/2) / m.FocalPx, 1})
	if d[2] <= 0 || math.Hypot(d[0], d[1]) > mostOff*d[2] {
		return 0, 0, false
	}
	return m.width/2 + m.FocalPx*d[0]/d[2], m.height/2 + m.FocalPx*d[1]/d[2], true
}

// RollDeg is how far the scene is turned clockwise in the frame at time t
// against the steady picture, in the picture's middle.
func (m *Motion) RollDeg(t float64) float64 {
	r := m.at(t)
	// The steady picture's down, as the frame sees it.
	d := r.back(vec3{0, 1, 0})
	return -math.Atan2(d[0], d[1]) * 180 / math.Pi
}

// Lay gives the track in the steady picture; points too far to the side are
// missing there.
func (m *Motion) Lay(t form.Track) form.Track {
	frames := make([]form.Frame, len(t.Frames))
	for i, f := range t.Frames {
		r := m.at(f.Time)
		for j := range f.Spots {
			s := &f.Spots[j]
			if !s.Seen() {
				continue
			}
			x, y, ok := m.pass(r, s.X, s.Y)
			s.X, s.Y = x, y
			if !ok {
				*s = form.Spot{}
			}
		}
		frames[i] = f
	}
	t.Frames = frames
	return t
}
