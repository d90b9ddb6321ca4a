package scene

import "math"

// plane is a frame made smaller by the whole number factor: a pixel is the mean
// of factor × factor samples. That keeps the place of an edge exact.
type plane struct {
	w, h, factor int
	pix          []float32
}

// targetWidth is about how wide a picture is looked at, pixels.
const targetWidth = 640

// factorFor gives the divisor that brings width nearest to targetWidth.
func factorFor(width int) int {
	return max(1, int(math.Ceil(float64(width)/targetWidth-0.5)))
}

func shrink(f Luma, k int) plane {
	p := plane{w: f.Width / k, h: f.Height / k, factor: k}
	p.pix = make([]float32, p.w*p.h)
	sums := make([]int32, p.w)
	scale := 1 / float32(k*k)
	for y := range p.h {
		clear(sums)
		for r := y * k; r < y*k+k; r++ {
			addRow(sums, f.Pix[r*f.Stride:r*f.Stride+p.w*k], k)
		}
		out := p.pix[y*p.w : (y+1)*p.w]
		for x, s := range sums {
			out[x] = float32(s) * scale
		}
	}
	return p
}

// addRow adds k neighbours of row to each of sums.
func addRow(sums []int32, row []byte, k int) {
	switch k {
	case 1:
		for x := range sums {
			sums[x] += int32(row[x])
		}
	case 2:
		for x := range sums {
			r := row[2*x : 2*x+2 : 2*x+2]
			sums[x] += int32(r[0]) + int32(r[1])
		}
	case 3:
		for x := range sums {
			r := row[3*x : 3*x+3 : 3*x+3]
			sums[x] += int32(r[0]) + int32(r[1]) + int32(r[2])
		}
	default:
		for x := range sums {
			for _, b := range row[x*k : (x+1)*k] {
				sums[x] += int32(b)
			}
		}
	}
}

// shrunk gives the box in pixels of the smaller picture, a little larger than
// it was, for what hangs over its edge.
func (b Box) shrunk(factor int) Box {
	if !(b.X1 > b.X0 && b.Y1 > b.Y0) {
		return Box{X0: 1, X1: -1}
	}
	k := float64(factor)
	margin := 0.02 * (b.Y1 - b.Y0) / k
	return Box{b.X0/k - margin, b.Y0/k - margin, b.X1/k + margin, b.Y1/k + margin}
}
