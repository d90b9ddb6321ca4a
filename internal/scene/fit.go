package scene

import (
	"math"
	"slices"
)

// vertical is the fitted direction of the vertical: at the picture's centre the
// tangent of the roll, slope, with its standard uncertainty as an angle, sd, rad;
// and how much the tangent changes over the picture's width, tilt.
type vertical struct{ slope, tilt, sd float64 }

const (
	rad          = math.Pi / 180
	plumbSD      = 0.2 * rad  // how far from plumb walls, frames and posts are: common practice, no source
	agreeSD      = 0.35 * rad // how far a hypothesis may miss an edge, beside the edge's own sd
	pitchSD      = 0.1        // of the convergence: pitch 5° seen at a focal length of 0.9 widths
	pitchWide    = 0.25       // what a hypothesis may have
	mostAsked    = 60         // edges that hypotheses are made of
	nearTogether = 0.05       // of the width: edges that may belong to one thing
	leastSpan    = 0.15       // of the width between the outermost things
	leastShare   = 0.5        // of the squared lengths that must agree, if things are many
	shareOfFew   = 1.2        // more of it over the number of things
	mostShare    = 0.9        // but no more than this
	leastBend    = 1 * rad    // times levels: how far a coder bends an edge of one level's contrast
	mostBend     = 12 * rad   // the same, as seen in drawn rooms
	wildBend     = 2 * rad    // residuals beyond it tell no more
	mostDoubt    = 0.1        // of the squared lengths that may be of doubtful edges
	strongSD     = 0.1 * rad  // how far a strong edge may miss, beside its own sd
	strongShare  = 0.7        // of the strong edges' squared lengths that bear a level camera out
	strongLength = 0.2        // of the height: their lengths together
	leastLength  = 0.5        // of the height: the things' lengths together
	widestRoll   = 0.213      // tan 12°
)

// trusted gives the vertical if a coder can't have had a hand in it.
//
// A coder short of bits draws faint edges that are exactly upright, anywhere and
// of any length, by continuing each block's upper border downwards, and draws
// slanted edges in upright steps. Where exactly upright faint edges are many,
// either that is so or the camera is level. Strong edges, which a coder bends
// last, tell the two apart: they have to agree closely, and their scatter counts
// in full, since what a coder does to one edge it does to all.
func trusted(edges []edge, w, h float64) (vertical, bool) {
	v, ok := fitVertical(edges, w, h)
	doubt, sum := 0.0, 0.0
	for _, e := range edges {
		q := e.length * e.length
		sum += q
		if e.doubtful() {
			doubt += q
		}
	}
	if !ok || doubt <= mostDoubt*sum {
		return v, ok
	}
	scatter, ok := v.borneOut(edges, w, h)
	v.sd = math.Hypot(v.sd, scatter)
	return v, ok && v.sd <= poorestDeg*rad
}

// borneOut tells whether the strong edges agree with v, and how much they
// scatter about it, as an angle, rad.
func (v vertical) borneOut(edges []edge, w, h float64) (scatter float64, ok bool) {
	agree, all, length, squares := 0.0, 0.0, 0.0, 0.0
	for _, e := range edges {
		if e.contrast < strong {
			continue
		}
		l := e.plumb(w, h)
		q := l.length * l.length
		all += q
		r := math.Abs(l.s - v.slope - v.tilt*l.u)
		if r < l.tolerance() {
			squares += q * r * r
			length += l.length
		}
		if r < 2*math.Hypot(l.sd, strongSD) {
			agree += q
		}
	}
	return math.Sqrt(squares / max(all, 1)), length >= strongLength*h && agree >= strongShare*all
}

// fitVertical finds the roll from the edges of a picture w × h pixels in size.
//
// A camera pitched by θ and rolled by ρ, with focal length f and square pixels,
// sees all plumb lines run through one point. One that crosses the middle row
// at x then leans by s (tangent), exactly
//
//	s = tan ρ + B·u,  u = (x − w/2)/w,  B = −(w/f)·tan θ / cos ρ
//
// so tan ρ is the lean at the picture's centre. See Hartley & Zisserman,
// Multiple View Geometry (2004), section 8.6, for vanishing points. B is held
// near 0 by what phones do (pitchSD), which only matters where there are few
// edges or all are on one side.
func fitVertical(edges []edge, w, h float64) (vertical, bool) {
	if len(edges) < 2 {
		return vertical{}, false
	}
	lines := make([]plumb, len(edges))
	all := 0.0
	for i, e := range edges {
		lines[i] = e.plumb(w, h)
		all += lines[i].length * lines[i].length
	}
	slices.SortStableFunc(lines, func(a, b plumb) int { return sign(b.length - a.length) })
	a, b := consensus(lines)
	bend(lines, a, b)
	in := agreeing(lines, a, b)
	a, b = refine(in, a, b)
	in = agreeing(lines, a, b)
	things := group(in)
	share, length := 0.0, 0.0
	for _, l := range in {
		share += l.length * l.length / all
	}
	for _, t := range things {
		length += t.length
	}
	if len(things) < 2 || share < needed(len(things)) || length < leastLength*h || math.Abs(a) > widestRoll ||
		things[len(things)-1].u-things[0].u < leastSpan {
		return vertical{}, false
	}
	if len(things) == 2 && !alike(things) {
		return vertical{}, false
	}
	v := vertical{slope: a, tilt: b, sd: uncertainty(in, things, a, b) * (2 - share)}
	v.sd = math.Hypot(v.sd, leastSDDeg*rad)
	return v, v.sd <= poorestDeg*rad
}

// needed is the share of the squared lengths that has to agree on n things: by
// chance some of many leaning edges always agree, n the less often the more
// they are and the fewer others there are.
func needed(n int) float64 {
	return min(mostShare, leastShare+shareOfFew/float64(n))
}

// plumb is an edge in the terms of the fit. bend is how far a coder may have
// turned it, the more the fainter it is, which makes it count for less. crowd is
// the number of edges in the same thing, which err together in so far as the
// thing isn't plumb or is bent.
type plumb struct {
	u, s, sd, length, contrast float64
	bend, crowd                float64
}

func (l plumb) weight() float64 {
	return 1 / (l.sd*l.sd + max(1, l.crowd)*(l.bend*l.bend+plumbSD*plumbSD))
}

func (e edge) plumb(w, h float64) plumb {
	return plumb{u: e.x0/w - 0.5, s: e.slope, sd: e.sd, contrast: e.contrast, length: min(e.length, h/2)}
}

func (l plumb) agrees(a, b float64) bool { return math.Abs(l.s-a-b*l.u) < l.tolerance() }

func (l plumb) tolerance() float64 { return 2.5 * math.Hypot(l.sd, agreeSD) }

// consensus tries the lines through each two of the longest edges, and the
// level one through each, and gives the one that most of the squared length
// agrees with.
func consensus(lines []plumb) (a, b float64) {
	best := -1.0
	try := func(ta, tb float64) {
		score := 0.0
		for _, l := range lines {
			r := (l.s - ta - tb*l.u) / l.tolerance()
			score += l.length * l.length * max(0, 1-r*r)
		}
		score *= math.Exp(-0.5 * (tb / pitchWide) * (tb / pitchWide))
		if score > best {
			best, a, b = score, ta, tb
		}
	}
	asked := lines[:min(len(lines), mostAsked)]
	for i, p := range asked {
		try(p.s, 0)
		for _, q := range asked[:i] {
			if math.Abs(p.u-q.u) < nearTogether {
				continue
			}
			tb := (p.s - q.s) / (p.u - q.u)
			if math.Abs(tb) < 3*pitchWide {
				try(p.s-tb*p.u, tb)
			}
		}
	}
	return a, b
}

// bend tells each line how far a coder may have turned it, in proportion to
// 1/contrast, by how far the faint ones lie from s = a + b·u.
func bend(lines []plumb, a, b float64) {
	squares, all := 0.0, 0.0
	for _, l := range lines {
		if l.contrast >= strong {
			continue
		}
		q := l.length * l.length
		r := min(math.Abs(l.s-a-b*l.u), wildBend) * l.contrast
		squares += q * r * r
		all += q
	}
	k := max(leastBend, min(mostBend, math.Sqrt(squares/max(all, 1))))
	for i := range lines {
		lines[i].bend = k / lines[i].contrast
	}
}

func agreeing(lines []plumb, a, b float64) []plumb {
	var in []plumb
	for _, l := range lines {
		if l.agrees(a, b) {
			in = append(in, l)
		}
	}
	group(in)
	return in
}

// group puts the edges that stand close together into things, left to right,
// and tells each edge how many share its thing. A thing's slope is the mean by
// the squared length, its length that of its longest edge.
func group(in []plumb) []plumb {
	slices.SortStableFunc(in, func(a, b plumb) int { return sign(a.u - b.u) })
	var things []plumb
	for i := 0; i < len(in); {
		j := i + 1
		for j < len(in) && in[j].u-in[j-1].u < nearTogether {
			j++
		}
		var t plumb
		sum := 0.0
		for k := i; k < j; k++ {
			in[k].crowd = float64(j - i)
			q := in[k].length * in[k].length
			sum += q
			t.u += q * in[k].u
			t.s += q * in[k].s
			t.sd += q * in[k].sd
			t.bend += q * in[k].bend
			t.length = max(t.length, in[k].length)
		}
		t.u, t.s, t.sd, t.bend, t.crowd = t.u/sum, t.s/sum, t.sd/sum, t.bend/sum, 1
		things = append(things, t)
		i = j
	}
	return things
}

// refine fits a and b by least squares, edges far off counting less (Tukey's
// biweight).
func refine(in []plumb, a, b float64) (float64, float64) {
	for range 6 {
		var n normal
		for _, l := range in {
			r := (l.s - a - b*l.u) / l.tolerance()
			k := max(0, 1-r*r)
			n.add(l, l.weight()*k*k)
		}
		a, b = n.solve(a, b)
	}
	return a, b
}

// normal holds the normal equations of s = a + b·u, with b known to be 0 ± pitchSD.
type normal struct{ w, wu, wuu, ws, wus float64 }

func (n *normal) add(l plumb, w float64) {
	n.w += w
	n.wu += w * l.u
	n.wuu += w * l.u * l.u
	n.ws += w * l.s
	n.wus += w * l.u * l.s
}

// solve gives a and b, or those it was given when there is nothing to solve.
func (n normal) solve(a, b float64) (float64, float64) {
	q := n.wuu + 1/(pitchSD*pitchSD)
	det := n.w*q - n.wu*n.wu
	if n.w == 0 || det <= 0 {
		return a, b
	}
	return (n.ws*q - n.wus*n.wu) / det, (n.w*n.wus - n.wu*n.ws) / det
}

// uncertainty is the standard uncertainty of a, larger where the things agree
// less well than their own uncertainties say, and where they are few.
func uncertainty(in, things []plumb, a, b float64) float64 {
	var n normal
	for _, l := range in {
		n.add(l, l.weight())
	}
	q := n.wuu + 1/(pitchSD*pitchSD)
	variance := q / (n.w*q - n.wu*n.wu)
	chi := 0.0
	for _, t := range things {
		r := t.s - a - b*t.u
		chi += r * r * t.weight()
	}
	free := max(1, float64(len(things)-2))
	few := 1 + 1/free
	return math.Sqrt(variance * max(1, chi/free) * few)
}

// alike tells whether two things, which any convergence would reconcile, lean
// alike without one.
func alike(things []plumb) bool {
	return math.Abs(things[0].s-things[1].s) < things[0].tolerance()
}

func sign(v float64) int {
	switch {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 0
}
