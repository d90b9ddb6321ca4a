package scene

import (
	"math/rand/v2"
	"testing"
)

// patterned draws a background of soft blocks seen by a camera moved by dx,
// dy pixels, with noise of the given size and a figure in the box.
func patterned(dx, dy int, noise float64, seed uint64, box Box) Luma {
	const w, h = 320, 180
	rng := rand.New(rand.NewPCG(seed, 1))
	pix := make([]byte, w*h)
	for y := range h {
		for x := range w {
			block := ((x+dx+400)/23*7 + (y+dy+400)/17*13) % 11
			v := 60 + 12*float64(block) + noise*rng.NormFloat64()
			if box.holds(float64(x), float64(y)) {
				v = 255 * rng.Float64()
			}
			pix[y*w+x] = byte(max(0, min(255, v)))
		}
	}
	return Luma{Width: w, Height: h, Stride: w, Pix: pix}
}

func TestStill(t *testing.T) {
	box := Box{X0: 120, Y0: 40, X1: 180, Y1: 170}
	for _, c := range []struct {
		name   string
		dx, dy int
		noise  float64
		want   bool
	}{
		{"stood still", 0, 0, 1, true},
		{"stood still, much noise", 0, 0, 12, true},
		{"moved aside by four pixels", 4, 0, 1, false},
		{"moved up by three pixels", 0, 3, 1, false},
		{"moved far", 90, 20, 1, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			pictures := []Luma{patterned(0, 0, c.noise, 1, box), patterned(0, 0, c.noise, 2, box), patterned(c.dx, c.dy, c.noise, 3, box)}
			if got := Still(pictures, []Box{box, box, box}); got != c.want {
				t.Errorf("still: %v, want %v", got, c.want)
			}
		})
	}
	plain := patterned(0, 0, 0, 1, Box{})
	for i := range plain.Pix {
		plain.Pix[i] = 128
	}
	if Still([]Luma{plain, plain}, make([]Box, 2)) {
		t.Error("a plain wall tells nothing, yet it was called still")
	}
	if Still([]Luma{plain}, make([]Box, 1)) {
		t.Error("one picture tells nothing")
	}
}
