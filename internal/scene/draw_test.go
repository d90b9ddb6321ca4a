package scene

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"testing"
)

// camera looks along −Z at a wall; angles in degrees. Roll is clockwise
// positive, pitch up positive, yaw to the right positive. focal is the focal
// length in picture widths.
type camera struct {
	roll, pitch, yaw, focal float64
	height                  float64 // metres
}

// ray gives the direction in the room (X right, Y up, Z to the viewer) of a
// place in a picture w × h pixels in size.
func (c camera) ray(x, y, w, h float64) (dx, dy, dz float64) {
	x, y = (x-w/2)/(c.focal*w), (y-h/2)/(c.focal*w)
	s, k := math.Sincos(c.roll * math.Pi / 180)
	x, y = k*x+s*y, -s*x+k*y
	dx, dy, dz = x, -y, -1
	s, k = math.Sincos(c.pitch * math.Pi / 180)
	dy, dz = k*dy-s*dz, s*dy+k*dz
	s, k = math.Sincos(c.yaw * math.Pi / 180)
	return k*dx - s*dz, dy, s*dx + k*dz
}

// slab is a rectangle before the wall, metres, its sides leaning by the
// tangent π/180·lean, top to the right.
type slab struct{ x0, x1, y0, y1, lean, level float64 }

func (s slab) covers(x, y float64) bool {
	if y <= s.y0 || y >= s.y1 {
		return false
	}
	x -= (y - s.y0) * s.lean * math.Pi / 180
	return x > s.x0 && x < s.x1
}

// room is a wall 4 m away with slabs in front of it, the last one nearest, and
// a floor.
type room struct {
	wall, floor float64
	slabs       []slab
}

func (r room) at(x, y float64) float64 {
	if y < 0 {
		return r.floor
	}
	for i := len(r.slabs) - 1; i >= 0; i-- {
		if r.slabs[i].covers(x, y) {
			return r.slabs[i].level
		}
	}
	return r.wall
}

const wallM = 4.0

// see draws the room with 2 × 2 rays a pixel.
func (r room) see(c camera, w, h int) []float64 {
	out := make([]float64, w*h)
	for y := range h {
		for x := range w {
			sum := 0.0
			for i := range 4 {
				dx, dy, dz := c.ray(float64(x)+(float64(i%2)+0.5)/2, float64(y)+(float64(i/2)+0.5)/2, float64(w), float64(h))
				k := -wallM / dz
				sum += r.at(k*dx, c.height+k*dy)
			}
			out[y*w+x] = sum / 4
		}
	}
	return out
}

// film makes n frames of a picture, each with its own noise, in levels.
func film(picture []float64, w, h, n int, noise float64, rng *rand.Rand) []Luma {
	table := make([]float64, 1<<12)
	for i := range table {
		table[i] = noise * rng.NormFloat64()
	}
	out := make([]Luma, n)
	for i := range out {
		pix := make([]byte, w*h)
		for j, v := range picture {
			pix[j] = byte(math.Round(max(0, min(255, v+table[rng.Uint32()>>20]))))
		}
		out[i] = Luma{w, h, w, pix}
	}
	return out
}

// pressed puts frames through JPEG at a quality, 1…100: its blocks are 8 × 8.
func pressed(t testing.TB, frames []Luma, quality int) []Luma {
	t.Helper()
	out := make([]Luma, len(frames))
	for i, f := range frames {
		var b bytes.Buffer
		g := &image.Gray{Pix: f.Pix, Stride: f.Stride, Rect: image.Rect(0, 0, f.Width, f.Height)}
		if err := jpeg.Encode(&b, g, &jpeg.Options{Quality: quality}); err != nil {
			t.Fatal(err)
		}
		m, err := jpeg.Decode(&b)
		if err != nil {
			t.Fatal(err)
		}
		d := m.(*image.Gray)
		out[i] = Luma{f.Width, f.Height, d.Stride, d.Pix}
	}
	return out
}

// gym is a plain room: window, panel seams, door, a treadmill's post.
func gym() room {
	return room{wall: 150, floor: 90, slabs: []slab{
		{-1.9, -1.2, 1.2, 2.2, 0, 110}, {-1.85, -1.25, 1.25, 2.15, 0, 200},
		{-0.602, -0.598, 0, 3, 0, 120}, {0.598, 0.602, 0, 3, 0, 120},
		{1.3, 2.1, 0, 2.0, 0, 125}, {1.35, 2.05, 0, 1.95, 0, 180},
		{0.85, 0.9, 0.2, 1.2, 0, 60},
	}}
}

// randomRoom has 3…9 uprights of any width, place and height, each out of
// plumb by 0.2° (s.d.), and level and slanted clutter.
func randomRoom(rng *rand.Rand) room {
	r := room{wall: 60 + 140*rng.Float64(), floor: 50 + 100*rng.Float64()}
	for range 3 + rng.IntN(7) {
		x, y := -2.2+4.4*rng.Float64(), 1.2*rng.Float64()
		step := (12 + 50*rng.Float64()) * float64(1-2*rng.IntN(2))
		width := math.Exp(math.Log(0.01) + rng.Float64()*math.Log(80))
		r.slabs = append(r.slabs, slab{x, x + width, y, y + 0.5 + 1.5*rng.Float64(), 0.2 * rng.NormFloat64(), r.wall + step})
	}
	for range rng.IntN(4) {
		x, y := -2+4*rng.Float64(), 2*rng.Float64()
		r.slabs = append(r.slabs, slab{x, x + 0.1, y, y + 0.4, -45 + 90*rng.Float64(), r.wall - 40})
	}
	return r
}

// foliage is leaves: many small ellipses at all angles.
func foliage(w, h int, rng *rand.Rand) []float64 {
	out := make([]float64, w*h)
	for i := range out {
		out[i] = 100
	}
	for range w * h / 150 {
		cx, cy := rng.Float64()*float64(w), rng.Float64()*float64(h)
		a, b := 4+14*rng.Float64(), 2+5*rng.Float64()
		s, k := math.Sincos(rng.Float64() * math.Pi)
		level := 30 + 150*rng.Float64()
		for y := max(0, int(cy-a)); y < min(h, int(cy+a)+1); y++ {
			for x := max(0, int(cx-a)); x < min(w, int(cx+a)+1); x++ {
				dx, dy := float64(x)-cx, float64(y)-cy
				u, v := (k*dx+s*dy)/a, (-s*dx+k*dy)/b
				if u*u+v*v < 1 {
					out[y*w+x] = level
				}
			}
		}
	}
	return out
}
