package gait

import (
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/signal"
)

// A runner over ground passes the camera: once, or several times there and
// back. A pass is a stretch of frames in which the hips go one way at a steady
// speed and the body is whole in the picture.
const (
	travelShare  = 0.8  // of the body's height: hips that wander less stay in place
	goingShare   = 0.35 // of the body's height a second: slower is standing or turning
	speedSpan    = 0.35 // s, either side, over which the hips' speed is taken
	longestBreak = 0.5  // s without the runner that don't end a pass
	slowestShare = 0.68 // of the pass's own speed: where it begins and ends
	fastestShare = 1.45
	edgeShare    = 0.008 // of the picture's width: a point nearer to its edge may be cut off
)

// Passes gives the passes in a track, each as a track of its own that faces
// the way the runner goes. A runner who stays in place – on a treadmill, on
// the spot, before a camera that follows them unnoticed – gives the track as
// it is, and so does one who travels but never steadily.
func Passes(t form.Track) []form.Track {
	w := newWay(t)
	if !w.travels() {
		return []form.Track{t}
	}
	var out []form.Track
	for _, s := range w.stretches() {
		if a, b, ok := w.steady(s[0], s[1]); ok {
			p := t
			p.Frames = append([]form.Frame(nil), t.Frames[a:b+1]...)
			for i := range p.Frames {
				if !w.whole[a+i] {
					p.Frames[i].Spots = [form.NumJoints]form.Spot{}
				}
			}
			p.Facing = form.Right
			if w.speed[a]+w.speed[(a+b)/2]+w.speed[b] < 0 {
				p.Facing = form.Left
			}
			out = append(out, p)
		}
	}
	if len(out) == 0 {
		return []form.Track{t}
	}
	return out
}

// Whole tells whether the body is whole between the left and right edges of a
// picture of the given width: head, trunk, legs and feet; not the arms. A
// width of 0 is not known, and everything is whole.
func Whole(f *form.Frame, width int) bool {
	w := float64(width)
	for j := range form.Joint(form.NumJoints) {
		switch j.Point() {
		case form.Elbow, form.Wrist, form.Eye, form.Nose:
			continue
		}
		if s := f.Spots[j]; width > 0 && s.Seen() && (s.X < edgeShare*w || s.X > (1-edgeShare)*w) {
			return false
		}
	}
	return true
}

// way is where the hips go.
type way struct {
	times, x, speed []float64 // s, px, px/s
	seen, whole     []bool
	size            float64 // the body's height, px
}

func newWay(t form.Track) *way {
	n := len(t.Frames)
	w := &way{times: make([]float64, n), x: make([]float64, n), speed: make([]float64, n), seen: make([]bool, n), whole: make([]bool, n)}
	width := t.Width
	if t.FocalPx > 0 {
		width = 0 // one steady picture out of many: it has no edges
	}
	var heights []float64
	for i := range t.Frames {
		f := &t.Frames[i]
		w.times[i] = f.Time
		l, r := f.Spot(form.Hip, form.Left), f.Spot(form.Hip, form.Right)
		switch {
		case l.Seen() && r.Seen():
			w.x[i], w.seen[i] = (l.X+r.X)/2, true
		case l.Seen():
			w.x[i], w.seen[i] = l.X, true
		case r.Seen():
			w.x[i], w.seen[i] = r.X, true
		}
		w.whole[i] = w.seen[i] && Whole(f, width)
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, s := range f.Spots {
			if s.Seen() {
				lo, hi = math.Min(lo, s.Y), math.Max(hi, s.Y)
			}
		}
		if w.whole[i] && hi > lo {
			heights = append(heights, hi-lo)
		}
	}
	w.size = 1.1 * signal.Quantile(heights, 0.8) // ears lie below the crown
	w.findSpeed()
	return w
}

// findSpeed fits a line to the hips' place around each frame.
func (w *way) findSpeed() {
	n := len(w.times)
	a, b := 0, 0
	for i, t := range w.times {
		for a < n && w.times[a] < t-speedSpan {
			a++
		}
		for b < n && w.times[b] <= t+speedSpan {
			b++
		}
		var s, st, sx, stt, stx float64
		for k := a; k < b; k++ {
			if w.seen[k] {
				d := w.times[k] - t
				s, st, sx, stt, stx = s+1, st+d, sx+w.x[k], stt+d*d, stx+d*w.x[k]
			}
		}
		if det := s*stt - st*st; s >= 3 && det > 1e-9 {
			w.speed[i] = (s*stx - st*sx) / det
		}
	}
}

// travels tells whether the hips leave the place they began at.
func (w *way) travels() bool {
	var x []float64
	for i, v := range w.x {
		if w.seen[i] {
			x = append(x, v)
		}
	}
	return len(x) >= minFrames && w.size > 0 && signal.Quantile(x, 0.98)-signal.Quantile(x, 0.02) > travelShare*w.size
}

// stretches are the first and last frames of each way one way.
func (w *way) stretches() [][2]int {
	var out [][2]int
	last := -1
	for i, v := range w.speed {
		if !w.whole[i] || math.Abs(v) < goingShare*w.size {
			continue
		}
		if n := len(out); n > 0 && w.speed[last]*v > 0 && w.times[i]-w.times[last] <= longestBreak {
			out[n-1][1] = i
		} else {
			out = append(out, [2]int{i, i})
		}
		last = i
	}
	return out
}

// steady gives the longest part of a stretch at one speed: somebody who walks
// up and then runs is measured where they run.
func (w *way) steady(first, last int) (a, b int, ok bool) {
	var v []float64
	for i := first; i <= last; i++ {
		v = append(v, math.Abs(w.speed[i]))
	}
	usual := signal.Median(v)
	if fast := signal.Quantile(v, 0.9); usual < 0.62*fast {
		usual = fast // two gaits: the faster one
	}
	best, begin := 0.0, -1
	for i := first; i <= last+1; i++ {
		in := i <= last && math.Abs(w.speed[i]) > slowestShare*usual && math.Abs(w.speed[i]) < fastestShare*usual
		switch {
		case in && begin < 0:
			begin = i
		case !in && begin >= 0:
			if span := w.times[i-1] - w.times[begin]; span > best {
				best, a, b = span, begin, i-1
			}
			begin = -1
		}
	}
	return a, b, best >= minSeconds && b-a+1 >= minFrames
}
