package steady

import "math"

const (
	patchSide  = 15   // pixels: the piece of picture that is followed
	looks      = 12   // steps towards the best place, at most
	closeTo    = 0.02 // pixels: near enough
	leastAlike = 0.80 // correlation with what was first seen, below which a corner is lost
	renewAfter = 40   // frames, after which what is seen now is taken as the pattern
	renewLooks = 6    // frames between searches for new corners
)

// corner is a place of the background that is being followed.
type corner struct {
	path  int
	at    vec
	age   int
	level []pattern
}

// pattern is what a corner looks like in one picture of the pyramid: its
// brightness less the mean, its gradients, and the inverse of their summed
// products.
type pattern struct {
	v, gx, gy  [patchSide * patchSide]float32
	a, b, c    float64 // inverse matrix, rows (a b) (b c)
	size       float64 // norm of v
	good       bool
	wide, edge [(patchSide + 2) * (patchSide + 2)]float32
}

// Path is one corner through the frames: where it was seen from frame First on,
// pixels of the small picture.
type path struct {
	first int
	at    []vec
}

// Follower follows the background through a clip.
type Follower struct {
	live   []corner
	paths  []path
	frames int
	times  []float64
	w, h   int
	shrunk int
	drift  vec // median way of the corners in the last frame
	last   *Picture
}

// NewFollower is ready for the first frame.
func NewFollower() *Follower { return &Follower{} }

// Add follows the corners into the next frame, taken at the given time in
// seconds. Frames of another size than the first are passed over as blank.
func (f *Follower) Add(p *Picture, time float64) {
	base := p.pyramid[0]
	if f.frames == 0 {
		f.w, f.h, f.shrunk = base.w, base.h, p.shrunk
	}
	f.times = append(f.times, time)
	if base.w != f.w || base.h != f.h {
		f.live = f.live[:0]
		f.frames++
		return
	}
	f.follow(p)
	cols, rows := base.cells()
	if f.frames%renewLooks == 0 || len(f.live) < cols*rows/4 {
		f.search(p)
	}
	f.frames++
}

// follow moves every corner, and drops those that are lost.
func (f *Follower) follow(p *Picture) {
	kept := f.live[:0]
	var dx, dy []float64
	guess := f.drift
	for _, c := range f.live {
		before := c.at
		if !c.move(p, vec{before.x + guess.x, before.y + guess.y}) && (guess == vec{} || !c.move(p, before)) {
			continue
		}
		if c.age++; c.age%renewAfter == 0 {
			c.level = patterns(p, c.at)
		}
		if c.level == nil {
			continue
		}
		path := &f.paths[c.path]
		path.at = append(path.at, c.at)
		dx, dy = append(dx, c.at.x-before.x), append(dy, c.at.y-before.y)
		kept = append(kept, c)
	}
	f.live = kept
	f.drift = vec{}
	if len(dx) > 4 {
		f.drift = vec{median(dx), median(dy)}
	}
}

// search finds corners where there are none.
func (f *Follower) search(p *Picture) {
	base := p.pyramid[0]
	taken := map[int]bool{}
	for _, c := range f.live {
		taken[base.cell(c.at)] = true
	}
	for _, v := range base.corners(func(cell int) bool { return !taken[cell] }) {
		if l := patterns(p, v); l != nil {
			f.live = append(f.live, corner{path: len(f.paths), at: v, level: l})
			f.paths = append(f.paths, path{first: f.frames, at: []vec{v}})
		}
	}
}

// patterns keeps what a place looks like in each picture of the pyramid; nil
// where the finest has none.
func patterns(p *Picture, at vec) []pattern {
	out := make([]pattern, len(p.pyramid))
	for l := range out {
		out[l].take(p.pyramid[l], onLevel(at, l))
	}
	if !out[0].good {
		return nil
	}
	return out
}

// onLevel is a place of the finest picture in that of a pyramid's level.
func onLevel(v vec, l int) vec {
	k := float64(int(1) << l)
	return vec{(v.x+0.5)/k - 0.5, (v.y+0.5)/k - 0.5}
}

func (t *pattern) take(p plane, at vec) {
	t.good = false
	const wide = patchSide + 2
	if !p.patch(at.x, at.y, wide, t.wide[:]) {
		return
	}
	var xx, yy, xy, mean float64
	for r := range patchSide {
		for c := range patchSide {
			i, k := r*patchSide+c, (r+1)*wide+c+1
			t.v[i] = t.wide[k]
			t.gx[i] = (t.wide[k+1] - t.wide[k-1]) / 2
			t.gy[i] = (t.wide[k+wide] - t.wide[k-wide]) / 2
			xx += float64(t.gx[i] * t.gx[i])
			yy += float64(t.gy[i] * t.gy[i])
			xy += float64(t.gx[i] * t.gy[i])
			mean += float64(t.v[i]) / (patchSide * patchSide)
		}
	}
	det := xx*yy - xy*xy
	if !(det > 1e-3*math.Max(xx, yy)*math.Max(xx, yy)) || xx+yy < leastEigen {
		return
	}
	t.a, t.b, t.c = yy/det, -xy/det, xx/det
	sum := 0.0
	for i := range t.v {
		t.v[i] -= float32(mean)
		sum += float64(t.v[i] * t.v[i])
	}
	t.size = math.Sqrt(sum)
	t.good = t.size > 0
}

// move looks for the corner near a guess, from the coarsest picture to the
// finest; it tells whether it was found. The pattern is aligned by the inverse compositional
// method (Baker & Matthews 2004, IJCV 56:221–255) with a shift alone.
func (c *corner) move(p *Picture, guess vec) bool {
	at := guess
	var now [patchSide * patchSide]float32
	for l := len(p.pyramid) - 1; l >= 0; l-- {
		t := &c.level[l]
		if !t.good {
			continue
		}
		q := onLevel(at, l)
		alike, ok := t.align(p.pyramid[l], &q, now[:])
		if l == 0 && (!ok || alike < leastAlike) {
			return false
		}
		if ok && alike > 0.6 {
			k := float64(int(1) << l)
			at = vec{(q.x+0.5)*k - 0.5, (q.y+0.5)*k - 0.5}
		}
	}
	c.at = at
	return true
}

// align shifts q to where the picture looks most like the pattern and gives
// the correlation there.
func (t *pattern) align(p plane, q *vec, now []float32) (alike float64, ok bool) {
	for range looks {
		if !p.patch(q.x, q.y, patchSide, now) {
			return 0, false
		}
		mean := float32(0)
		for _, v := range now {
			mean += v
		}
		mean /= patchSide * patchSide
		var ex, ey, dot, size float32
		for i, v := range now {
			v -= mean
			d := v - t.v[i]
			ex += t.gx[i] * d
			ey += t.gy[i] * d
			dot += v * t.v[i]
			size += v * v
		}
		if size > 0 {
			alike = float64(dot) / (math.Sqrt(float64(size)) * t.size)
		}
		sx := t.a*float64(ex) + t.b*float64(ey)
		sy := t.b*float64(ex) + t.c*float64(ey)
		if math.Hypot(sx, sy) > patchSide/2 {
			return 0, false
		}
		q.x -= sx
		q.y -= sy
		if math.Hypot(sx, sy) < closeTo {
			return alike, true
		}
	}
	return alike, true
}
