package steady

// Luma is one frame's brightness plane: the sample of column x and row y is
// Pix[y·Stride+x], 8 bits.
type Luma struct {
	Width, Height, Stride int
	Pix                   []byte
}

// workSide is the longest side, pixels, at which corners are followed.
const workSide = 640

// levels is the number of pictures in a pyramid, each half the size of the
// one before.
const levels = 4

// plane is a small picture in floating point.
type plane struct {
	w, h int
	v    []float32
}

func newPlane(w, h int) plane { return plane{w, h, make([]float32, w*h)} }

// Picture is a frame made ready to be followed: its pyramid, the finest first.
type Picture struct {
	pyramid []plane
	// shrunk is how many of the frame's pixels, along a side, make one.
	shrunk int
}

// Prepare makes a frame smaller by whole-number averaging, and its pyramid.
// The frame is not needed any more afterwards. It panics when the plane is
// shorter than its size says.
func Prepare(f Luma) *Picture {
	if f.Width < 0 || f.Height < 0 || f.Stride < f.Width || f.Height > 0 && len(f.Pix) < (f.Height-1)*f.Stride+f.Width {
		panic("steady: a plane is shorter than its size")
	}
	k := max(1, (max(f.Width, f.Height)+workSide-1)/workSide)
	p := newPlane(f.Width/k, f.Height/k)
	scale := 1 / float32(k*k)
	for y := range p.h {
		row := p.v[y*p.w : (y+1)*p.w]
		for dy := range k {
			line := f.Pix[(y*k+dy)*f.Stride:]
			for x := range row {
				sum := 0
				for _, b := range line[x*k : x*k+k] {
					sum += int(b)
				}
				row[x] += float32(sum) * scale
			}
		}
	}
	out := &Picture{pyramid: []plane{p}, shrunk: k}
	for len(out.pyramid) < levels {
		last := out.pyramid[len(out.pyramid)-1]
		if min(last.w, last.h) < 40 {
			break
		}
		out.pyramid = append(out.pyramid, last.halved())
	}
	return out
}

// halved is the picture at half the size, each pixel the mean of four.
func (p plane) halved() plane {
	q := newPlane(p.w/2, p.h/2)
	for y := range q.h {
		a, b := p.v[2*y*p.w:], p.v[(2*y+1)*p.w:]
		for x := range q.w {
			q.v[y*q.w+x] = (a[2*x] + a[2*x+1] + b[2*x] + b[2*x+1]) / 4
		}
	}
	return q
}

// patch fills out, side·side long, with the picture around (x, y), pixels
// whose centres are whole numbers, by bilinear interpolation; ok is false
// where it reaches beyond the edge.
func (p plane) patch(x, y float64, side int, out []float32) bool {
	half := float64(side-1) / 2
	x0, y0 := x-half, y-half
	if !(x0 >= 0 && y0 >= 0 && x0+float64(side) < float64(p.w) && y0+float64(side) < float64(p.h)) {
		return false
	}
	ix, iy := int(x0), int(y0)
	fx, fy := float32(x0-float64(ix)), float32(y0-float64(iy))
	for r := range side {
		a := p.v[(iy+r)*p.w+ix : (iy+r)*p.w+ix+side+1]
		b := p.v[(iy+r+1)*p.w+ix : (iy+r+1)*p.w+ix+side+1]
		line := out[r*side : (r+1)*side]
		for c := range line {
			top := a[c] + fx*(a[c+1]-a[c])
			low := b[c] + fx*(b[c+1]-b[c])
			line[c] = top + fy*(low-top)
		}
	}
	return true
}
