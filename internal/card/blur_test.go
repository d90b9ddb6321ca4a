package card

import (
	"bytes"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"testing"
)

func noise(seed uint64, w, h int) *image.RGBA {
	r := rand.New(rand.NewPCG(seed, 1))
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := range img.Pix {
		img.Pix[i] = uint8(r.IntN(256))
		if i%4 == 3 {
			img.Pix[i] = 255
		}
	}
	return img
}

// Within each block the pixels are put in another order: the means stay, the
// picture doesn't. That both give the same result shows that nothing inside
// a block can be had back.
func TestBlurFaceLosesEverythingInsideABlock(t *testing.T) {
	a := noise(1, 100, 100) // a disc of radius 50: blocks of 20 × 20 pixels
	b := image.NewRGBA(a.Bounds())
	for y := range 100 {
		for x := range 100 {
			b.SetRGBA(x/20*20+19-x%20, y/20*20+19-y%20, a.RGBAAt(x, y))
		}
	}
	blurA, blurB := BlurFace(a, 50, 50, 50), BlurFace(b, 50, 50, 50)
	for y := range 100 {
		for x := range 100 {
			dx, dy := float64(x)+0.5-50, float64(y)+0.5-50
			if dx*dx+dy*dy < 50*50 && blurA.RGBAAt(x, y) != blurB.RGBAAt(x, y) {
				t.Fatalf("at %d,%d: %v and %v differ", x, y, blurA.RGBAAt(x, y), blurB.RGBAAt(x, y))
			}
		}
	}
}

func TestBlurFaceLeavesTheRest(t *testing.T) {
	a := noise(2, 120, 90)
	before := bytes.Clone(a.Pix)
	got := BlurFace(a, 40, 30, 20)
	if !bytes.Equal(before, a.Pix) {
		t.Error("the given picture was changed")
	}
	changed := 0
	for y := range 90 {
		for x := range 120 {
			d := math.Hypot(float64(x)+0.5-40, float64(y)+0.5-30)
			if got.RGBAAt(x, y) != a.RGBAAt(x, y) {
				changed++
				if d > 20 {
					t.Fatalf("changed outside the disc at %d,%d", x, y)
				}
			}
		}
	}
	if changed < 1200 { // π·20² = 1257 pixels, nearly all of noise
		t.Errorf("only %d pixels were blurred", changed)
	}
}

func TestBlurFaceAtTheEdges(t *testing.T) {
	a := noise(3, 30, 30)
	for _, d := range [][3]float64{
		{-100, 0, 10}, {15, 15, 0}, {15, 15, -1}, {15, 15, math.NaN()}, {math.NaN(), 1, 2}, {15, 15, math.Inf(1)},
	} {
		if got := BlurFace(a, d[0], d[1], d[2]); !bytes.Equal(got.Pix, a.Pix) {
			t.Errorf("disc %v changed the picture", d)
		}
	}
	for _, d := range [][3]float64{{0, 0, 10}, {29, 29, 1}, {15, 15, 500}, {0.2, 0.2, 0.3}} {
		BlurFace(a, d[0], d[1], d[2])
	}
	sub := a.SubImage(image.Rect(10, 10, 20, 20))
	if got := BlurFace(sub, 15, 15, 4); got.Bounds() != sub.Bounds() {
		t.Errorf("bounds %v, want %v", got.Bounds(), sub.Bounds())
	}
	grey := image.NewGray(image.Rect(0, 0, 9, 9))
	grey.SetGray(4, 4, color.Gray{Y: 255})
	BlurFace(grey, 4, 4, 4)
}
