package scene

import (
	"math"
	"slices"
)

// piece is a straight piece of a nearly upright edge in one frame, pixels of
// the smaller picture with its top left corner at 0, 0 and y down:
// x = x0 + slope·(y0 − y) for top ≤ y ≤ bottom, y0 being the middle row of the
// picture. slope is the tangent of the lean, positive with the top to the right.
type piece struct {
	x0, slope   float64
	top, bottom float64
	contrast    float64 // brightness step across it, levels, signed left to right
	sd          float64 // standard uncertainty of slope
	onGrid      bool    // it could be the border of a video coder's blocks
	// whole marks an edge that wasn't cut into straight pieces. It tells of
	// steps, pixels², and nothing else; what is straight in it is there again.
	whole bool
	steps float64
}

func (p piece) length() float64 { return p.bottom - p.top }

// at gives the place of the edge at row y of a picture with middle row y0.
func (p piece) at(y, y0 float64) float64 { return p.x0 + p.slope*(y0-y) }

const (
	reach        = 3    // pixels to either side that may belong to one edge
	weakestStep  = 2.0  // levels a pixel; a step of twice that
	noiseTimes   = 3.5  // times the picture's own typical gradient
	steepest     = 0.25 // tan 14°: lean of the edges looked at
	gradientTurn = 0.45 // |gy/gx| allowed: steepest, and noise
	longestGap   = 3    // rows an edge may be lost
	roughest     = 0.3  // pixels: root mean square deviation from straight
	stepRows     = 4    // rows: noise is independent over them, a coder's blocks are not
	roughestStep = 0.8  // pixels: as roughest, for an edge whose steps are looked at
	shortestPart = 0.08 // of the picture's height: shortest piece
	shortestPx   = 24
	mostPieces   = 200
	gridPx       = 8    // full pixels: block size common to the usual coders
	gridNear     = 0.75 // full pixels
)

// point is a place where an edge crosses a row.
type point struct{ x, y, contrast float64 }

// chain is an edge followed downwards.
type chain struct {
	points []point
}

// tracer follows edges from row to row. own[polarity][x] is the chain that was
// last seen at column x, and one more than its number.
type tracer struct {
	p      plane
	least  float32
	box    Box
	chains []chain
	own    [2][]int32
	v, gx  []float32
}

// pieces gives the straight, nearly upright pieces of edges outside the box
// (its own pixels), the longest first and mostPieces at most.
func (p plane) pieces(box Box) []piece {
	t := tracer{p: p, box: box, v: make([]float32, p.w), gx: make([]float32, p.w)}
	t.own = [2][]int32{make([]int32, p.w), make([]int32, p.w)}
	t.least = t.threshold()
	for y := 1; y < p.h-1; y++ {
		t.gradient(y)
		t.row(y)
	}
	shortest := int(max(shortestPx, shortestPart*float64(p.h)))
	var out []piece
	for _, c := range t.chains {
		out = p.whole(out, c.points, shortest)
		out = p.straight(out, c.points, shortest)
	}
	slices.SortFunc(out, func(a, b piece) int {
		switch {
		case a.length() > b.length():
			return -1
		case a.length() < b.length():
			return 1
		}
		return 0
	})
	return out[:min(len(out), mostPieces)]
}

// gradient fills gx with the horizontal central difference of row y, levels a
// pixel, smoothed over three rows with the weights 1:2:1.
func (t *tracer) gradient(y int) {
	w := t.p.w
	up, mid, low := t.p.pix[(y-1)*w:y*w], t.p.pix[y*w:(y+1)*w], t.p.pix[(y+1)*w:(y+2)*w]
	v, gx := t.v, t.gx
	for x := range v {
		v[x] = 0.25 * (up[x] + 2*mid[x] + low[x])
	}
	for x := 1; x < w-1; x++ {
		gx[x] = 0.5 * (v[x+1] - v[x-1])
	}
}

// threshold is the least gradient of an edge: weakestStep, or noiseTimes the
// spread of the gradient over the picture (1.4826 × median of |gx|, the
// normal law's relation of the two).
func (t *tracer) threshold() float32 {
	var sample []float32
	for y := 1; y < t.p.h-1; y += 9 {
		t.gradient(y)
		for x := 1 + y%5; x < t.p.w-1; x += 5 {
			sample = append(sample, abs(t.gx[x]))
		}
	}
	slices.Sort(sample)
	return max(weakestStep, noiseTimes*1.4826*sample[len(sample)/2])
}

// row finds the edge points of row y and adds each to its chain.
func (t *tracer) row(y int) {
	gx, least := t.gx, t.least
	for x := reach + 1; x < t.p.w-reach-1; x++ {
		g := gx[x]
		if g < least && g > -least {
			continue
		}
		a := abs(g)
		if a < abs(gx[x-1]) || a <= abs(gx[x+1]) || !t.upright(x, y) {
			continue
		}
		pt := t.locate(x, y)
		if t.box.holds(pt.x, pt.y) {
			continue
		}
		t.link(pt)
	}
}

// upright tells whether the gradient at a pixel is nearly level.
func (t *tracer) upright(x, y int) bool {
	w := t.p.w
	up, low := t.p.pix[(y-1)*w+x-1:], t.p.pix[(y+1)*w+x-1:]
	gy := 0.125 * (low[0] + 2*low[1] + low[2] - up[0] - 2*up[1] - up[2])
	return abs(gy) <= gradientTurn*abs(t.gx[x])
}

// locate gives the edge's place to a fraction of a pixel: the centroid of the
// gradient of one sign about its peak. For an ideal step, and for an ideal
// line up to a pixel wide, averaged over the pixels' areas, it is exact.
func (t *tracer) locate(x, y int) point {
	gx := t.gx
	positive := gx[x] > 0
	sum, moment := float64(gx[x]), 0.0
	for d := 1; d <= reach && gx[x+d] != 0 && (gx[x+d] > 0) == positive; d++ {
		sum += float64(gx[x+d])
		moment += float64(d) * float64(gx[x+d])
	}
	for d := 1; d <= reach && gx[x-d] != 0 && (gx[x-d] > 0) == positive; d++ {
		sum += float64(gx[x-d])
		moment -= float64(d) * float64(gx[x-d])
	}
	return point{x: float64(x) + 0.5 + moment/sum, y: float64(y) + 0.5, contrast: sum}
}

// link adds a point to the nearest chain of its polarity that ends within
// reach above it, or begins one.
func (t *tracer) link(pt point) {
	own := t.own[0]
	if pt.contrast < 0 {
		own = t.own[1]
	}
	column := int(pt.x)
	best, nearest := -1, math.Inf(1)
	for x := max(0, column-2); x <= min(len(own)-1, column+2); x++ {
		if own[x] == 0 {
			continue
		}
		c := t.chains[own[x]-1].points
		last := c[len(c)-1]
		rows := pt.y - last.y
		d := math.Abs(pt.x - last.x)
		if rows >= 1 && rows <= longestGap && d < nearest && d <= 0.5+steepest*rows {
			best, nearest = int(own[x])-1, d
		}
	}
	if best < 0 {
		t.chains = append(t.chains, chain{})
		best = len(t.chains) - 1
	}
	t.chains[best].points = append(t.chains[best].points, pt)
	own[column] = int32(best + 1)
}

// whole adds a chain that is long enough as it is, for its steps, marked
// as unfit for its lean.
func (p plane) whole(out []piece, pts []point, shortest int) []piece {
	if len(pts) < shortest {
		return out
	}
	a, b, rms := line(pts)
	if rms > roughestStep || math.Abs(b) > steepest {
		return out
	}
	w := p.piece(pts, a, b, rms)
	w.whole, w.steps = true, steps(pts, a, b)
	return append(out, w)
}

// steps gives the covariance of the deviations from x = a + b·y stepRows apart
// less that at twice the distance, pixels². Noise makes neither, a lens makes
// both alike, a coder's blocks make the first only.
func steps(pts []point, a, b float64) float64 {
	sum := 0.0
	near := pts[:len(pts)-2*stepRows]
	for i, p := range near {
		q, r := pts[i+stepRows], pts[i+2*stepRows]
		sum += (p.x - a - b*p.y) * (q.x - r.x - b*(q.y-r.y))
	}
	return sum / float64(len(near))
}

// straight cuts a chain at its corners and adds the pieces that are straight
// and long enough.
func (p plane) straight(out []piece, pts []point, shortest int) []piece {
	if len(pts) < 2*shortest/3 || pts[len(pts)-1].y-pts[0].y < float64(shortest) {
		return out
	}
	a, b, rms := line(pts)
	if rms <= roughest {
		if math.Abs(b) <= steepest {
			out = append(out, p.piece(pts, a, b, rms))
		}
		return out
	}
	cut := corner(pts)
	out = p.straight(out, pts[:cut], shortest)
	return p.straight(out, pts[cut:], shortest)
}

// line fits x = a + b·y by least squares and gives the root mean square
// deviation.
func line(pts []point) (a, b, rms float64) {
	n := float64(len(pts))
	var mx, my float64
	for _, q := range pts {
		mx += q.x / n
		my += q.y / n
	}
	var xx, xy, yy float64
	for _, q := range pts {
		dx, dy := q.x-mx, q.y-my
		xx += dx * dx
		xy += dx * dy
		yy += dy * dy
	}
	b = xy / yy
	return mx - b*my, b, math.Sqrt(max(0, xx-b*xy) / n)
}

// corner gives the point furthest from the line between the ends, not at an end.
func corner(pts []point) int {
	first, last := pts[0], pts[len(pts)-1]
	b := (last.x - first.x) / (last.y - first.y)
	cut, far := len(pts)/2, 0.0
	for i := 1; i < len(pts)-1; i++ {
		if d := math.Abs(pts[i].x - first.x - b*(pts[i].y-first.y)); d > far {
			cut, far = i, d
		}
	}
	return cut
}

// piece makes a piece of the points on x = a + b·y. The uncertainty of the
// slope is that of least squares, rms·√(12/n³), three times as large because
// neighbours err alike, and over the length 0.15 pixels for what bends an edge
// slowly and 1.5 levels for what whole levels do to a faint one.
func (p plane) piece(pts []point, a, b, rms float64) piece {
	n := float64(len(pts))
	out := piece{slope: -b, x0: a + b*float64(p.h)/2, top: pts[0].y - 0.5, bottom: pts[len(pts)-1].y + 0.5}
	for _, q := range pts {
		out.contrast += q.contrast / n
	}
	out.sd = math.Hypot(3*rms*math.Sqrt(12/(n*n*n)), (0.15+1.5/math.Abs(out.contrast))/out.length())
	out.onGrid = p.onGrid(out)
	return out
}

// onGrid tells whether a piece is exactly upright and lies where a coder's
// blocks meet. A real edge has one chance in five to be taken for a block's
// border when the camera is level to within a pixel, and none otherwise.
func (p plane) onGrid(e piece) bool {
	k := float64(p.factor)
	if math.Abs(e.slope)*e.length()*k > 1 {
		return false
	}
	x := k * e.at((e.top+e.bottom)/2, float64(p.h)/2)
	return math.Abs(x-gridPx*math.Round(x/gridPx)) <= gridNear
}

func abs(v float32) float32 {
	if v < 0 {
		return -v
	}
	return v
}
