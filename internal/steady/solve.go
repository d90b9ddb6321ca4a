package steady

import (
	"math"
	"sort"
)

// Box is a part of a frame to be left out, pixels of the frame as given to
// Prepare. A box without area holds nothing.
type Box struct{ X0, Y0, X1, Y1 float64 }

// Verdict is what the background says of the camera.
type Verdict uint8

// The verdicts: it stood still; it moved, and how is known; the background
// shows nothing to hold on to; it moved so much, or so much moves before it,
// that it can't be followed.
const (
	Still Verdict = iota
	Moving
	Bare
	Lost
)

const (
	leastCorners  = 6    // in a frame, to know its turn
	bareCorners   = 8    // fewer than this, usually, and nothing is known
	mostLostShare = 0.06 // of the frames may be unknown
	stillShare    = 7e-4 // of the picture's longer side: a camera on a tripod
	agree         = 4.685
	finest        = 0.08 // pixels: no corner is better than this
	// The focal length over the picture's longer side: a telephone's usual
	// lens, 26 mm equivalent with a crop of 1.2 (from memory), and by how much,
	// as a natural logarithm, lenses differ from it.
	usualFocal   = 0.9
	usualFocalSD = 0.25
)

// sight is one corner seen in one frame, in pixels about the picture's middle.
type sight struct {
	path int
	x, y float64
}

// problem is everything seen, without what lies on the runner.
type problem struct {
	frames [][]sight
	paths  int
	// open is how many corners off the runner each frame shows, whether they
	// could be followed or not.
	open []float64
	// focal is in pixels of the small picture.
	focal float64
	turns []rotation
	where []vec3 // direction of each path; zero where not known
	known []bool // frames whose turn is known
	off   float64
}

// gather takes the corners that are not on the runner.
func (f *Follower) gather(box func(frame int) Box) *problem {
	p := &problem{frames: make([][]sight, f.frames), paths: len(f.paths), open: make([]float64, f.frames)}
	k := float64(f.shrunk)
	for i, path := range f.paths {
		hidden := 0
		var seen []sight
		var frames []int
		for n, v := range path.at {
			b := box(path.first + n)
			x, y := (v.x+0.5)*k, (v.y+0.5)*k
			in := x >= b.X0 && x <= b.X1 && y >= b.Y0 && y <= b.Y1
			if in {
				hidden++
				continue
			}
			seen = append(seen, sight{path: i, x: v.x + 0.5 - float64(f.w)/2, y: v.y + 0.5 - float64(f.h)/2})
			frames = append(frames, path.first+n)
			p.open[path.first+n]++
		}
		if len(seen) < 3 || hidden > len(path.at)/4 {
			continue // it belongs to the runner
		}
		for n, k := range frames {
			p.frames[k] = append(p.frames[k], seen[n])
		}
	}
	return p
}

// solve finds every frame's turn for a focal length: frame after frame, then
// all corners and all frames against each other.
func (p *problem) solve(focal float64, sweeps int) {
	p.focal = focal
	p.turns = make([]rotation, len(p.frames))
	p.known = make([]bool, len(p.frames))
	p.where = make([]vec3, p.paths)
	weight := make([]float64, p.paths)
	last := unturned
	begun := false
	for k, seen := range p.frames {
		p.turns[k] = last
		if begun {
			p.known[k] = p.fit(k)
		} else {
			p.known[k] = len(seen) >= leastCorners
		}
		if !p.known[k] {
			continue
		}
		begun, last = true, p.turns[k]
		p.place(k, weight)
	}
	for range sweeps {
		p.where = make([]vec3, p.paths)
		clear(weight)
		for k := range p.frames {
			if p.known[k] {
				p.place(k, weight)
			}
		}
		for k := range p.frames {
			if p.known[k] {
				p.fit(k)
			}
		}
	}
}

// place adds where frame k sees its corners to their directions; what is far
// from where it was known to be does not count.
func (p *problem) place(k int, weight []float64) {
	for _, s := range p.frames[k] {
		d := p.turns[k].apply(vec3{s.x / p.focal, s.y / p.focal, 1})
		w := &p.where[s.path]
		if weight[s.path] > 0 {
			q := p.turns[k].back(*w)
			if q[2] <= 0 || math.Hypot(q[0]/q[2]-s.x/p.focal, q[1]/q[2]-s.y/p.focal)*p.focal > 3 {
				continue
			}
		}
		n := math.Sqrt(d[0]*d[0] + d[1]*d[1] + d[2]*d[2])
		t := weight[s.path]
		for i := range w {
			w[i] = (w[i]*t + d[i]/n) / (t + 1)
		}
		weight[s.path]++
	}
}

// miss is how far, and which way, frame k sees a corner from where its turn
// says, over the focal length; ok is false for a corner that is not known.
func (p *problem) miss(k int, s sight) (u, v, du, dv float64, ok bool) {
	q := p.turns[k].back(p.where[s.path])
	if q[2] <= 1e-6 {
		return 0, 0, 0, 0, false
	}
	u, v = q[0]/q[2], q[1]/q[2]
	return u, v, s.x/p.focal - u, s.y/p.focal - v, true
}

// fit finds the turn of frame k from the corners whose direction is known, by
// least squares with Tukey's weights, beginning from the turn it has.
func (p *problem) fit(k int) bool {
	var du, dv []float64
	for _, s := range p.frames[k] {
		if _, _, a, b, ok := p.miss(k, s); ok {
			du, dv = append(du, a), append(dv, b)
		}
	}
	if len(du) < leastCorners {
		return false
	}
	p.turns[k] = p.turns[k].times(turn(vec3{median(dv), -median(du), 0}))
	inliers := 0.0
	for round := range 10 {
		var all []float64
		for _, s := range p.frames[k] {
			if _, _, a, b, ok := p.miss(k, s); ok {
				all = append(all, math.Hypot(a, b))
			}
		}
		if len(all) < leastCorners {
			return false
		}
		reach := agree * math.Max(0.85*median(all), finest/p.focal)
		if round < 2 {
			reach *= 2
		}
		var m [3][3]float64
		var r vec3
		inliers = 0
		for _, s := range p.frames[k] {
			u, v, a, b, ok := p.miss(k, s)
			z := math.Hypot(a, b) / reach
			if !ok || z >= 1 {
				continue
			}
			w := (1 - z*z) * (1 - z*z)
			inliers++
			for _, row := range [2]struct {
				j vec3
				e float64
			}{{vec3{u * v, -(1 + u*u), v}, a}, {vec3{1 + v*v, -u * v, -u}, b}} {
				for i := range 3 {
					r[i] += w * row.j[i] * row.e
					for j := range 3 {
						m[i][j] += w * row.j[i] * row.j[j]
					}
				}
			}
		}
		w, ok := solve3(m, r)
		if !ok || inliers < leastCorners {
			return false
		}
		p.turns[k] = p.turns[k].times(turn(w))
		if math.Abs(w[0])+math.Abs(w[1])+math.Abs(w[2]) < 1e-7 {
			break
		}
	}
	return inliers >= 0.4*float64(len(du))
}

// cost is the mean of what all corners miss by, squared and bounded, pixels².
func (p *problem) cost() (mean float64, n int) {
	const most = 1.5 // pixels
	for k, seen := range p.frames {
		if !p.known[k] {
			continue
		}
		for _, s := range seen {
			if _, _, a, b, ok := p.miss(k, s); ok {
				mean += math.Min((a*a+b*b)*p.focal*p.focal, most*most)
				n++
			}
		}
	}
	return mean / float64(max(n, 1)), n
}

// solve3 solves m·x = r.
func solve3(m [3][3]float64, r vec3) (x vec3, ok bool) {
	det := func(a [3][3]float64) float64 {
		return a[0][0]*(a[1][1]*a[2][2]-a[1][2]*a[2][1]) -
			a[0][1]*(a[1][0]*a[2][2]-a[1][2]*a[2][0]) +
			a[0][2]*(a[1][0]*a[2][1]-a[1][1]*a[2][0])
	}
	d := det(m)
	if !(math.Abs(d) > 1e-12) {
		return x, false
	}
	for i := range 3 {
		c := m
		for j := range 3 {
			c[j][i] = r[j]
		}
		x[i] = det(c) / d
	}
	return x, true
}

// median of values; 0 of none.
func median(values []float64) float64 {
	if len(values) == 0 {
		return 0
	}
	v := append([]float64(nil), values...)
	sort.Float64s(v)
	return (v[(len(v)-1)/2] + v[len(v)/2]) / 2
}
