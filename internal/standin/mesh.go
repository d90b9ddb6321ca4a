package standin

import "math"

// paint is a colour in linear light, 0…1 each.
type paint struct{ r, g, b float32 }

// hex gives the paint of an sRGB colour 0xRRGGBB.
func hex(c uint32) paint {
	lin := func(v uint32) float32 {
		s := float64(v&255) / 255
		if s <= 0.04045 {
			return float32(s / 12.92)
		}
		return float32(math.Pow((s+0.055)/1.055, 2.4))
	}
	return paint{lin(c >> 16), lin(c >> 8), lin(c)}
}

func (p paint) scale(k float32) paint { return paint{p.r * k, p.g * k, p.b * k} }

func (p paint) mix(q paint, k float32) paint {
	return paint{p.r + (q.r-p.r)*k, p.g + (q.g-p.g)*k, p.b + (q.b-p.b)*k}
}

// mesh is a set of triangles with a colour at each corner; normals are made
// smooth over shared corners.
type mesh struct {
	at     []Vec3
	colour []paint
	normal []Vec3
	tri    [][3]int32
}

func (m *mesh) reset() {
	m.at, m.colour, m.tri = m.at[:0], m.colour[:0], m.tri[:0]
}

func (m *mesh) vertex(v Vec3, c paint) int32 {
	m.at = append(m.at, v)
	m.colour = append(m.colour, c)
	return int32(len(m.at) - 1)
}

// smooth computes the normals: the mean of the adjoining triangles, weighted
// by area.
func (m *mesh) smooth() {
	if cap(m.normal) < len(m.at) {
		m.normal = make([]Vec3, len(m.at))
	}
	m.normal = m.normal[:len(m.at)]
	clear(m.normal)
	for _, t := range m.tri {
		a, b, c := m.at[t[0]], m.at[t[1]], m.at[t[2]]
		n := b.sub(a).cross(c.sub(a))
		for _, i := range t {
			m.normal[i] = m.normal[i].add(n)
		}
	}
	for i, n := range m.normal {
		m.normal[i] = n.unit()
	}
}

// ring is one cross-section of a loft: an oval about a centre, front and back
// half-axes of their own, side half-axis shared.
type ring struct {
	centre            Vec3
	front, side       Vec3 // unit directions
	ahead, back, wide float64
	colour            paint
}

// loft joins rings to a closed tube of n corners a ring; both ends are capped.
func (m *mesh) loft(rings []ring, n int) {
	base := int32(len(m.at))
	for _, r := range rings {
		for k := range n {
			s, c := math.Sincos(2 * math.Pi * float64(k) / float64(n))
			along := r.ahead
			if c < 0 {
				along = r.back
			}
			m.vertex(r.centre.add(r.front.scale(along*c)).add(r.side.scale(r.wide*s)), r.colour)
		}
	}
	m.skin(base, len(rings), n)
	m.cap(base, n, rings[0], true)
	m.cap(base+int32((len(rings)-1)*n), n, rings[len(rings)-1], false)
}

// skin lays triangles between the rings of n corners that begin at base.
func (m *mesh) skin(base int32, rings, n int) {
	for i := range int32(rings - 1) {
		for k := range int32(n) {
			k1 := (k + 1) % int32(n)
			a, b := base+i*int32(n)+k, base+i*int32(n)+k1
			c, d := a+int32(n), b+int32(n)
			m.tri = append(m.tri, [3]int32{a, b, d}, [3]int32{a, d, c})
		}
	}
}

// cap closes a ring with a fan.
func (m *mesh) cap(base int32, n int, r ring, start bool) {
	mid := m.vertex(r.centre, r.colour)
	for k := range int32(n) {
		a, b := base+k, base+(k+1)%int32(n)
		if start {
			a, b = b, a
		}
		m.tri = append(m.tri, [3]int32{a, b, mid})
	}
}

// ball adds an ellipsoid with half-axes along three directions.
func (m *mesh) ball(centre, x, y, z Vec3, c paint) {
	const rows, n = 10, 14
	base := int32(len(m.at))
	for i := range rows + 1 {
		s, k := math.Sincos(math.Pi * float64(i) / rows)
		for j := range n {
			sj, cj := math.Sincos(2 * math.Pi * float64(j) / n)
			m.vertex(centre.add(x.scale(s*cj)).add(z.scale(s*sj)).add(y.scale(k)), c)
		}
	}
	m.skin(base, rows+1, n)
}

// box adds a block with flat sides; the corners are not shared, so that the
// edges stay sharp.
func (m *mesh) box(low, high Vec3, c paint) {
	p := func(i int) Vec3 {
		v := low
		if i&1 != 0 {
			v.X = high.X
		}
		if i&2 != 0 {
			v.Y = high.Y
		}
		if i&4 != 0 {
			v.Z = high.Z
		}
		return v
	}
	for _, f := range [][4]int{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 4, 6, 2}, {1, 3, 7, 5}, {2, 6, 7, 3}, {0, 1, 5, 4}} {
		a, b := m.vertex(p(f[0]), c), m.vertex(p(f[1]), c)
		d, e := m.vertex(p(f[2]), c), m.vertex(p(f[3]), c)
		m.tri = append(m.tri, [3]int32{a, b, d}, [3]int32{a, d, e})
	}
}

// profile is a table of values over a place along a limb, rising in the first
// column; between the rows it is a smooth curve.
type profile [][]float64

// at gives the row at t, Catmull–Rom between rows, the end rows beyond.
func (p profile) at(t float64, out []float64) {
	n := len(p)
	i := 0
	for i < n-2 && t > p[i+1][0] {
		i++
	}
	a, b := p[i], p[i+1]
	u := clamp((t-a[0])/(b[0]-a[0]), 0, 1)
	for k := range out {
		slope := func(j int) float64 {
			lo, hi := max(j-1, 0), min(j+1, n-1)
			return (p[hi][k+1] - p[lo][k+1]) / (p[hi][0] - p[lo][0])
		}
		out[k] = hermite(a[0], b[0], a[k+1], b[k+1], slope(i), slope(i+1), a[0]+u*(b[0]-a[0]))
	}
}
