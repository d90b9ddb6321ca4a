package beside

import (
	"image"
	"image/color"
	"math"

	"golang.org/x/image/vector"
)

// pen draws smooth lines on a picture.
type pen struct{ img *image.RGBA }

// plumb is the vertical through the hip and the ground under it.
func (p pen) plumb() {
	b := p.img.Bounds()
	x := float64(b.Dx()) / 2
	p.line(x, 0, x, float64(b.Dy()), 3, light, nil)
	p.line(x, 0, x, float64(b.Dy()), 1.2, accent, nil)
	y := float64(b.Dy()) - groundDrop
	p.line(0, y, float64(b.Dx()), y, 3, light, nil)
	p.line(0, y, float64(b.Dx()), y, 1, dark, nil)
}

// line draws a straight line of a width in pixels; dash is the lengths of
// stroke and gap in turn, nil for a whole one.
func (p pen) line(x1, y1, x2, y2, width float64, ink color.RGBA, dash []float64) {
	long := math.Hypot(x2-x1, y2-y1)
	if !(long > 0) || math.IsInf(long, 0) || long > 1e4 {
		return
	}
	if len(dash) < 2 {
		dash = []float64{long, 1}
	}
	ux, uy := (x2-x1)/long, (y2-y1)/long
	for from := 0.0; from < long; from += dash[0] + dash[1] {
		to := math.Min(from+dash[0], long)
		p.stroke(x1+from*ux, y1+from*uy, x1+to*ux, y1+to*uy, width/2, ux, uy, ink)
	}
}

func (p pen) stroke(x1, y1, x2, y2, half, ux, uy float64, ink color.RGBA) {
	b := p.img.Bounds()
	r := vector.NewRasterizer(b.Dx(), b.Dy())
	at := func(x, y, along, across float64) (float32, float32) {
		return float32(x + along*ux - across*uy), float32(y + along*uy + across*ux)
	}
	r.MoveTo(at(x1, y1, -half/2, -half))
	r.LineTo(at(x2, y2, half/2, -half))
	r.LineTo(at(x2, y2, half/2, half))
	r.LineTo(at(x1, y1, -half/2, half))
	r.ClosePath()
	r.Draw(p.img, b, image.NewUniform(ink), image.Point{})
}
