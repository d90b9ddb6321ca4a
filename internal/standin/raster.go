package standin

import "math"

// samples is the number of samples along each side of a pixel.
const samples = 2

// layer is a picture of meshes at samples×samples a pixel, with depth. Only
// its window in use is ever cleared and read.
type layer struct {
	w, h   int // samples
	depth  []float32
	colour []paint
	used   window
}

// window is a rectangle of samples, the ends excluded.
type window struct{ x0, y0, x1, y1 int }

func (w window) empty() bool { return w.x0 >= w.x1 || w.y0 >= w.y1 }

func newLayer(width, height int) *layer {
	w, h := width*samples, height*samples
	l := &layer{w: w, h: h, depth: make([]float32, w*h), colour: make([]paint, w*h)}
	for i := range l.depth {
		l.depth[i] = far
	}
	l.used = window{w, h, 0, 0}
	return l
}

// far is the depth of a sample that nothing covers.
const far = math.MaxFloat32

// reset forgets everything drawn.
func (l *layer) reset() {
	for y := l.used.y0; y < l.used.y1; y++ {
		row := l.depth[y*l.w+l.used.x0 : y*l.w+l.used.x1]
		for i := range row {
			row[i] = far
		}
	}
	l.used = window{l.w, l.h, 0, 0}
}

// spot is a projected corner: samples, depth, lit colour.
type spot struct {
	x, y, z float64
	c       paint
}

// draw projects, lights and rasterises the mesh. Triangles that are seen
// from behind are left out.
func (l *layer) draw(m *mesh, lens *Lens, light *lamp, spots []spot) []spot {
	m.smooth()
	spots = spots[:0]
	for i, v := range m.at {
		x, y, z := lens.Project(v)
		spots = append(spots, spot{x * samples, y * samples, z, light.lit(m.colour[i], v, m.normal[i])})
	}
	for _, t := range m.tri {
		a, b, c := &spots[t[0]], &spots[t[1]], &spots[t[2]]
		if a.z < 0.1 || b.z < 0.1 || c.z < 0.1 {
			continue
		}
		l.triangle(a, b, c)
	}
	return spots
}

// triangle fills one triangle, sample centres at .5, with depth test.
func (l *layer) triangle(a, c, b *spot) { // from the front: anticlockwise, y down
	area := (b.x-a.x)*(c.y-a.y) - (c.x-a.x)*(b.y-a.y)
	if area <= 0 {
		return
	}
	x0 := max(0, int(math.Ceil(min(a.x, b.x, c.x)-0.5)))
	x1 := min(l.w, int(math.Floor(max(a.x, b.x, c.x)-0.5))+1)
	y0 := max(0, int(math.Ceil(min(a.y, b.y, c.y)-0.5)))
	y1 := min(l.h, int(math.Floor(max(a.y, b.y, c.y)-0.5))+1)
	if x0 >= x1 || y0 >= y1 {
		return
	}
	u := &l.used
	u.x0, u.y0, u.x1, u.y1 = min(u.x0, x0), min(u.y0, y0), max(u.x1, x1), max(u.y1, y1)
	inv := 1 / area
	// Weights of b and c at the first sample, and their steps.
	px, py := float64(x0)+0.5, float64(y0)+0.5
	wb := ((px-a.x)*(c.y-a.y) - (c.x-a.x)*(py-a.y)) * inv
	wc := ((b.x-a.x)*(py-a.y) - (px-a.x)*(b.y-a.y)) * inv
	bx, by := (c.y-a.y)*inv, -(c.x-a.x)*inv
	cx, cy := -(b.y-a.y)*inv, (b.x-a.x)*inv
	dzb, dzc := b.z-a.z, c.z-a.z
	for y := y0; y < y1; y++ {
		row := y * l.w
		p, q := wb, wc
		for x := x0; x < x1; x++ {
			if p >= 0 && q >= 0 && p+q <= 1 {
				z := float32(a.z + p*dzb + q*dzc)
				if i := row + x; z < l.depth[i] {
					l.depth[i] = z
					fp, fq := float32(p), float32(q)
					l.colour[i] = paint{
						a.c.r + fp*(b.c.r-a.c.r) + fq*(c.c.r-a.c.r),
						a.c.g + fp*(b.c.g-a.c.g) + fq*(c.c.g-a.c.g),
						a.c.b + fp*(b.c.b-a.c.b) + fq*(c.c.b-a.c.b),
					}
				}
			}
			p, q = p+bx, q+cx
		}
		wb, wc = wb+by, wc+cy
	}
}

// lamp is the room's light: one soft lamp from high up on the camera's side
// and the light that comes back from walls and floor.
type lamp struct {
	dir     Vec3 // towards the lamp
	level   float32
	eye     Vec3
	behindZ float64 // the camera's side: +1 or −1, 0 for none
}

// lit gives the colour of a surface under the lamp.
func (p *lamp) lit(c paint, at, n Vec3) paint {
	wrap := math.Max(0, (n.dot(p.dir)+0.30)/1.30)
	sky := 0.5 + 0.5*n.Y
	view := p.eye.sub(at).unit()
	edge := 1 - math.Max(0, n.dot(view))
	// Surfaces on the body's far side get less of the lamp.
	shade := 1.0
	if p.behindZ != 0 {
		shade = clamp(1+0.9*(at.Z*p.behindZ-0.02), 0.74, 1)
	}
	warm := float32(0.80 * wrap * shade)
	cool := float32((0.16 + 0.20*sky) * (0.55 + 0.45*shade) * (1 - 0.25*edge*edge))
	k := p.level
	return paint{k * c.r * (warm*1.02 + cool*0.98), k * c.g * (warm + cool), k * c.b * (warm*0.95 + cool*1.06)}
}
