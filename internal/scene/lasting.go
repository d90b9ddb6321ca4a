package scene

import (
	"math"
	"slices"
)

// edge is one edge of the background over all frames, pixels of the smaller
// picture; x0 and slope are those of piece.
type edge struct {
	x0, slope, sd, length float64
	contrast              float64 // levels, without its sign
	whole                 bool
	steps                 float64
}

const (
	faint   = 30.0      // levels: a coder may have drawn it
	strong  = 45.0      // levels: a coder keeps it nearly as it is
	upright = 0.6 * rad // within which an edge counts as exactly upright
)

// doubtful tells whether a coder may have made an edge: it is faint and
// exactly upright.
func (e edge) doubtful() bool { return e.contrast < faint && math.Abs(e.slope) < upright }

// lasting gathers the pieces of all frames into edges.
type lasting struct {
	w, h  float64 // of the smaller picture
	boxes []Box
	seen  []sighting
	// grid and all are the squared lengths of the pieces on a coder's grid and
	// of all pieces.
	grid, all float64
}

// sighting is an edge as it was seen so far: one piece a frame at most.
type sighting struct {
	pieces []piece
	frame  int // the last one with a piece of it
}

const (
	wander     = 0.02  // of a picture's width: how far an edge may shift in a hand-held clip
	wanderLean = 0.02  // tangent: how far it may turn
	mostSteps  = 0.025 // pixels²: steps of strong edges; hard-pressed pictures have 0.03 and more, sound ones less than 0.02
	judgeable  = 0.3   // of the height: strong edges' lengths together that tell of steps
	mostGrid   = 0.6   // of the squared lengths; one in five lie on the grid by chance in a level picture
	lastingIn  = 0.6   // of the frames in which it isn't hidden
)

// add takes the pieces of the next frame and the box of the runner in it.
func (l *lasting) add(pieces []piece, box Box) {
	frame := len(l.boxes)
	l.boxes = append(l.boxes, box)
	known := len(l.seen)
	for _, p := range pieces {
		q := p.length() * p.length()
		if !p.whole {
			l.all += q
		}
		if p.onGrid && !p.whole {
			l.grid += q
			continue
		}
		best, nearest := -1, wander*l.w
		for i := range l.seen[:known] {
			s := &l.seen[i]
			if d := p.apart(s.pieces[len(s.pieces)-1], l.h); s.frame < frame && d < nearest {
				best, nearest = i, d
			}
		}
		if best < 0 {
			l.seen = append(l.seen, sighting{})
			best = len(l.seen) - 1
		}
		l.seen[best].pieces = append(l.seen[best].pieces, p)
		l.seen[best].frame = frame
	}
}

// blocky tells whether most of what looks upright is the coder's grid.
func (l *lasting) blocky() bool { return l.grid > mostGrid*l.all }

// apart gives how far two pieces are from each other where they lie side by
// side, pixels; infinite when they can't be the same edge.
func (p piece) apart(q piece, h float64) float64 {
	top, bottom := max(p.top, q.top), min(p.bottom, q.bottom)
	if p.whole != q.whole || (p.contrast > 0) != (q.contrast > 0) ||
		bottom-top < 0.5*min(p.length(), q.length()) ||
		math.Abs(p.slope-q.slope) > wanderLean {
		return math.Inf(1)
	}
	y := (top + bottom) / 2
	return math.Abs(p.at(y, h/2) - q.at(y, h/2))
}

// stepped tells whether strong edges go in steps, as a coder that is short of
// bits makes them; their lean isn't to be trusted then.
func (l *lasting) stepped(edges []edge) bool {
	sum, length := 0.0, 0.0
	for _, e := range edges {
		if e.whole && e.contrast >= strong {
			sum += e.length * e.steps
			length += e.length
		}
	}
	return length > judgeable*l.h && sum > mostSteps*length
}

// edges gives what was seen in most of the frames where it wasn't hidden: the
// medians over its pieces.
func (l *lasting) edges() []edge {
	var out []edge
	for _, s := range l.seen {
		first := s.pieces[0]
		y := (first.top + first.bottom) / 2
		x := first.at(y, l.h/2)
		hidden := 0
		for _, b := range l.boxes {
			if b.holds(x, y) {
				hidden++
			}
		}
		open := max(len(l.boxes)-hidden, min(2, len(l.boxes)))
		if float64(len(s.pieces)) < lastingIn*float64(open) {
			continue
		}
		out = append(out, edge{
			x0:       medianOf(s.pieces, func(p piece) float64 { return p.x0 }),
			slope:    medianOf(s.pieces, func(p piece) float64 { return p.slope }),
			sd:       medianOf(s.pieces, func(p piece) float64 { return p.sd }),
			length:   medianOf(s.pieces, piece.length),
			contrast: medianOf(s.pieces, func(p piece) float64 { return math.Abs(p.contrast) }),
			whole:    first.whole,
			steps:    medianOf(s.pieces, func(p piece) float64 { return p.steps }),
		})
	}
	return out
}

func medianOf(pieces []piece, value func(piece) float64) float64 {
	v := make([]float64, len(pieces))
	for i, p := range pieces {
		v[i] = value(p)
	}
	slices.Sort(v)
	n := len(v)
	return (v[(n-1)/2] + v[n/2]) / 2
}
