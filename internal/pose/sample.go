package pose

import (
	"encoding/binary"
	"math"

	"plumbstride/internal/clip"
)

// Sides, in pixels, of what the networks look at.
const (
	cropSize     = 256 // landmark networks
	detectorSize = 224 // detector
)

// picture is a square cut out of a frame: planar luma, and chroma at half
// the side, in the frame's own code values.
type picture struct {
	size  int
	y     []byte // size × size
	cb    []byte // size/2 × size/2
	cr    []byte
	full  bool // full-range codes, else 16…235 and 16…240
	bt709 bool // Rec. 709 matrix, else Rec. 601
}

func newPicture(size int) *picture {
	half := size / 2
	buffer := make([]byte, size*size+2*half*half)
	return &picture{
		size: size,
		y:    buffer[:size*size],
		cb:   buffer[size*size : size*size+half*half],
		cr:   buffer[size*size+half*half:],
	}
}

// bytes is the memory a picture holds.
func (p *picture) bytes() int { return len(p.y) + len(p.cb) + len(p.cr) }

// plane is a rectangle of samples, a part of a larger plane: sample i, j of
// it stands at column ox+i, row oy+j of the whole.
type plane struct {
	pix    []byte
	stride int
	w, h   int
	ox, oy int
}

// sampler cuts squares out of frames. A square much larger than the result
// is halved by exact 2×2 means until less than halveAbove samples fall on
// one of the result, and then read with bilinear weights, so that no more
// than a trace of aliasing is left and each sample of the source counts. It
// keeps scratch memory, and is for one goroutine.
type sampler struct {
	halveAbove float64
	scratch    [3][]byte
}

// defaultHalveAbove leaves 0.75 to 1.5 samples of the source for one of the
// result; see the study of the crops in this package's tests.
const defaultHalveAbove = 1.5

func newSampler() *sampler { return &sampler{halveAbove: defaultHalveAbove} }

// sample fills dst with the region of the frame. What lies outside the frame
// is black.
func (s *sampler) sample(f *clip.Frame, r Region, dst *picture) {
	dst.full, dst.bt709 = f.Full, f.BT709
	black := byte(16)
	if f.Full {
		black = 0
	}
	cw, ch := (f.Width+1)/2, (f.Height+1)/2
	luma := plane{pix: f.Y, stride: f.YStride, w: f.Width, h: f.Height}
	s.samplePlane(luma, r, dst.y, dst.size, black)
	half := r.Scaled(0.5)
	cb := plane{pix: f.Cb, stride: f.CStride, w: cw, h: ch}
	cr := plane{pix: f.Cr, stride: f.CStride, w: cw, h: ch}
	s.samplePlane(cb, half, dst.cb, dst.size/2, 128)
	s.samplePlane(cr, half, dst.cr, dst.size/2, 128)
}

// samplePlane fills dst, n × n, with the region of one plane; the region is
// in the plane's own pixels.
func (s *sampler) samplePlane(src plane, r Region, dst []byte, n int, black byte) {
	part := crop(src, r)
	if part.w <= 0 || part.h <= 0 {
		fill(dst, black)
		return
	}
	k := 1.0
	for level := 0; r.Side/float64(n)*k >= s.halveAbove && part.w >= 4 && part.h >= 4; level++ {
		part = s.halve(part, level)
		k /= 2
	}
	sin, cos := math.Sincos(r.Angle)
	step := r.Side / float64(n) * k
	const one = 1 << 16
	du, dv := int(math.Round(step*cos*one)), int(math.Round(step*sin*one))
	for j := range n {
		x, y := r.At(0.5/float64(n), (float64(j)+0.5)/float64(n))
		u := int(math.Round((x*k - 0.5 - float64(part.ox)) * one))
		v := int(math.Round((y*k - 0.5 - float64(part.oy)) * one))
		part.line(dst[j*n:(j+1)*n], u, v, du, dv, black)
	}
}

// crop gives the part of a plane that a region can touch, with its origin on
// a multiple of 64 so that halving keeps the samples in step.
func crop(src plane, r Region) plane {
	sin, cos := math.Sincos(r.Angle)
	reach := r.Side/2*(math.Abs(sin)+math.Abs(cos)) + 2*math.Max(1, r.Side/cropSize) + 2
	x0 := clampInt(int(r.X-reach), 0, src.w) &^ 63
	y0 := clampInt(int(r.Y-reach), 0, src.h) &^ 63
	x1 := clampInt(int(math.Ceil(r.X+reach)), 0, src.w)
	y1 := clampInt(int(math.Ceil(r.Y+reach)), 0, src.h)
	if x1 <= x0 || y1 <= y0 {
		return plane{}
	}
	return plane{
		pix: src.pix[y0*src.stride+x0:], stride: src.stride,
		w: x1 - x0, h: y1 - y0, ox: src.ox + x0, oy: src.oy + y0,
	}
}

// halve gives the plane at half its size, each sample the mean of 2 × 2. An
// odd last column or row is dropped.
func (s *sampler) halve(src plane, level int) plane {
	w, h := src.w/2, src.h/2
	// Levels alternate between two buffers; the source is never its own target.
	slot := level % len(s.scratch)
	if cap(s.scratch[slot]) < w*h {
		s.scratch[slot] = make([]byte, w*h)
	}
	out := s.scratch[slot][:w*h]
	for j := range h {
		a := src.pix[2*j*src.stride:][:2*w]
		b := src.pix[(2*j+1)*src.stride:][:2*w]
		halveLines(out[j*w:(j+1)*w], a, b)
	}
	return plane{pix: out, stride: w, w: w, h: h, ox: src.ox / 2, oy: src.oy / 2}
}

// halveLines writes the rounded means of 2 × 2 samples of lines a and b,
// each twice as long as dst, four at a time.
func halveLines(dst, a, b []byte) {
	const even = 0x00ff00ff00ff00ff
	i := 0
	for ; i+4 <= len(dst); i += 4 {
		va, vb := binary.LittleEndian.Uint64(a[2*i:]), binary.LittleEndian.Uint64(b[2*i:])
		sum := va&even + va>>8&even + vb&even + vb>>8&even + 0x0002000200020002
		sum = sum >> 2 & even
		sum = (sum | sum>>8) & 0x0000ffff0000ffff
		sum |= sum >> 16
		binary.LittleEndian.PutUint32(dst[i:], uint32(sum))
	}
	for ; i < len(dst); i++ {
		dst[i] = byte((int(a[2*i]) + int(a[2*i+1]) + int(b[2*i]) + int(b[2*i+1]) + 2) / 4)
	}
}

// line reads len(dst) samples, the first at column u and row v and each next
// one du, dv further (all in 1/65536 of a sample, whole numbers being the
// centres of samples), with bilinear weights.
func (p plane) line(dst []byte, u, v, du, dv int, black byte) {
	n := len(dst)
	lo, hi := inside(u, du, (p.w-1)<<16, 0, n)
	lo, hi = inside(v, dv, (p.h-1)<<16, lo, hi)
	if lo > hi {
		lo, hi = 0, 0
	}
	for i := range lo {
		dst[i] = p.edge(u+i*du, v+i*dv, black)
	}
	uu, vv := u+lo*du, v+lo*dv
	inner := dst[lo:hi]
	for i := range inner {
		at := (vv>>16)*p.stride + uu>>16
		fx, fy := uu>>8&0xff, vv>>8&0xff
		top, bottom := p.pix[at:at+2:at+2], p.pix[at+p.stride:at+p.stride+2:at+p.stride+2]
		t := int(top[0])<<8 + (int(top[1])-int(top[0]))*fx
		b := int(bottom[0])<<8 + (int(bottom[1])-int(bottom[0]))*fx
		inner[i] = byte((t<<8 + (b-t)*fy + 1<<15) >> 16)
		uu += du
		vv += dv
	}
	for i := hi; i < n; i++ {
		dst[i] = p.edge(u+i*du, v+i*dv, black)
	}
}

// inside narrows lo…hi to the steps i at which 0 ≤ start + i·step < end.
func inside(start, step, end, lo, hi int) (int, int) {
	ok := func(i int) bool { x := start + i*step; return x >= 0 && x < end }
	if step == 0 {
		if !ok(0) {
			return lo, lo
		}
		return lo, hi
	}
	// The range is one piece: start at the bounds and walk at most a step or
	// two over the rounding of the division.
	a, b := float64(-start)/float64(step), float64(end-start)/float64(step)
	if a > b {
		a, b = b, a
	}
	first := clampInt(int(math.Floor(a))-1, lo, hi)
	last := clampInt(int(math.Ceil(b))+1, lo, hi)
	for first < last && !ok(first) {
		first++
	}
	for last > first && !ok(last-1) {
		last--
	}
	return first, last
}

// edge reads one sample whose four neighbours may lie outside.
func (p plane) edge(u, v int, black byte) byte {
	x, y := u>>16, v>>16
	if x < -1 || y < -1 || x >= p.w || y >= p.h {
		return black
	}
	fx, fy := u>>8&0xff, v>>8&0xff
	at := func(x, y int) int {
		if x < 0 || y < 0 || x >= p.w || y >= p.h {
			return int(black)
		}
		return int(p.pix[y*p.stride+x])
	}
	t := at(x, y)<<8 + (at(x+1, y)-at(x, y))*fx
	b := at(x, y+1)<<8 + (at(x+1, y+1)-at(x, y+1))*fx
	return byte((t<<8 + (b-t)*fy + 1<<15) >> 16)
}

func clampInt(x, lo, hi int) int { return max(lo, min(x, hi)) }

func fill(dst []byte, value byte) {
	for i := range dst {
		dst[i] = value
	}
}
