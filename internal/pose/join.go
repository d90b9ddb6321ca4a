package pose

import "math"

// partner is the landmark of the other side: 1–3 and 4–6 are the eyes, from 7
// on left and right take turns, the nose and the points that place the region
// have none.
func partner(i int) int {
	switch {
	case i == 0 || i >= hipCentre:
		return i
	case i <= 3:
		return i + 3
	case i <= 6:
		return i - 3
	case i%2 == 1:
		return i + 1
	default:
		return i - 1
	}
}

// mirrored gives the body that stands in the mirror image of b's picture.
func (b *body) mirrored() body {
	m := *b
	for i := range b.points {
		p := b.points[partner(i)]
		p.x = 1 - p.x
		m.points[i] = p
		w := b.world[partner(i)]
		m.world[i] = [3]float64{-w[0], w[1], w[2]}
	}
	return m
}

// agreeWithin is how far, in sides of the region, two looks at a point may
// lie apart and still be the same point: about a hand's breadth.
const agreeWithin = 0.045

// join gives the mean of two looks at one body, in the coordinates of one
// region. Where they put a point far apart, the surer look has it; where they
// have the legs the other way round, the surer look says which is which.
func join(a, b body) body {
	if a.presence < presentAbove {
		a, b = b, a
	}
	if b.presence < presentAbove {
		return a
	}
	if legsApart(&a, &b, partner) < legsApart(&a, &b, func(i int) int { return i }) {
		if legsSure(&b) > legsSure(&a) {
			a, b = b, a
		}
		for i := legFirst; i <= legLast; i += 2 {
			b.points[i], b.points[i+1] = b.points[i+1], b.points[i]
			b.world[i], b.world[i+1] = b.world[i+1], b.world[i]
		}
	}
	out := a
	out.presence = (a.presence + b.presence) / 2
	for i := range out.points {
		p, q := a.points[i], b.points[i]
		if math.Hypot(p.x-q.x, p.y-q.y) > agreeWithin && i < hipCentre {
			if q.visible*q.present*q.peak > p.visible*p.present*p.peak {
				out.points[i], out.world[i] = q, b.world[i]
			}
			continue
		}
		out.points[i] = landmark{
			x: (p.x + q.x) / 2, y: (p.y + q.y) / 2, z: (p.z + q.z) / 2,
			visible: (p.visible + q.visible) / 2, present: (p.present + q.present) / 2, peak: (p.peak + q.peak) / 2,
		}
		for k := range out.world[i] {
			out.world[i][k] = (a.world[i][k] + b.world[i][k]) / 2
		}
	}
	return out
}

// The landmarks of the legs from the knees down, left and right by turns.
const legFirst, legLast = 25, 32

func legsApart(a, b *body, of func(int) int) float64 {
	sum := 0.0
	for i := legFirst; i <= legLast; i++ {
		p, q := a.points[i], b.points[of(i)]
		sum += math.Hypot(p.x-q.x, p.y-q.y)
	}
	return sum
}

func legsSure(b *body) float64 {
	sum := 0.0
	for _, p := range b.points[legFirst : legLast+1] {
		sum += p.visible * p.present * p.peak
	}
	return sum
}

// mirror turns a network's input over, left to right.
func mirror(input []float32) {
	for j := range cropSize {
		row := input[3*j*cropSize : 3*(j+1)*cropSize]
		for a, b := 0, cropSize-1; a < b; a, b = a+1, b-1 {
			for k := range 3 {
				row[3*a+k], row[3*b+k] = row[3*b+k], row[3*a+k]
			}
		}
	}
}
