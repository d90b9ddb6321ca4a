package steady

import "math"

// The picture is searched in cells of cellSide pixels, one corner each, so
// that corners are spread over all of it.
const (
	cellSide   = 48
	cornerSide = 7     // pixels: over which a corner's strength is summed
	leastEigen = 250.0 // levels² per pixel: below this it is noise, not a corner
)

type vec struct{ x, y float64 }

// corners gives the strongest corner of each cell for which want is true: where the smaller
// eigenvalue of the summed products of gradients is largest (Shi & Tomasi
// 1994, Good features to track, CVPR, 593–600).
func (p plane) corners(want func(cell int) bool) []vec {
	gx, gy := newPlane(p.w, p.h), newPlane(p.w, p.h)
	for y := 1; y < p.h-1; y++ {
		for x := 1; x < p.w-1; x++ {
			i := y*p.w + x
			gx.v[i] = (p.v[i+1] - p.v[i-1]) / 2
			gy.v[i] = (p.v[i+p.w] - p.v[i-p.w]) / 2
		}
	}
	var out []vec
	cols, rows := p.cells()
	for cell := range cols * rows {
		if !want(cell) {
			continue
		}
		if v, ok := p.best(gx, gy, cell%cols, cell/cols); ok {
			out = append(out, v)
		}
	}
	return out
}

// cells is how many cells lie along each side.
func (p plane) cells() (cols, rows int) {
	return max(1, p.w/cellSide), max(1, p.h/cellSide)
}

// cell is the number of the cell in which a place lies.
func (p plane) cell(v vec) int {
	cols, rows := p.cells()
	c := min(cols-1, max(0, int(v.x)*cols/p.w))
	r := min(rows-1, max(0, int(v.y)*rows/p.h))
	return r*cols + c
}

// best is a cell's strongest corner, away from the picture's edge.
func (p plane) best(gx, gy plane, col, row int) (vec, bool) {
	cols, rows := p.cells()
	const margin, step, half = patchSide/2 + 2, 2, cornerSide / 2
	x0, x1 := max(margin, col*p.w/cols), min(p.w-margin, (col+1)*p.w/cols)
	y0, y1 := max(margin, row*p.h/rows), min(p.h-margin, (row+1)*p.h/rows)
	most, at := 0.0, vec{}
	for y := y0; y < y1; y += step {
		for x := x0; x < x1; x += step {
			var xx, yy, xy float32
			for dy := -half; dy <= half; dy++ {
				i := (y+dy)*p.w + x - half
				for k := range cornerSide {
					a, b := gx.v[i+k], gy.v[i+k]
					xx, yy, xy = xx+a*a, yy+b*b, xy+a*b
				}
			}
			small := (float64(xx+yy) - math.Hypot(float64(xx-yy), 2*float64(xy))) / 2
			if small > most {
				most, at = small, vec{float64(x), float64(y)}
			}
		}
	}
	return at, most > leastEigen
}
