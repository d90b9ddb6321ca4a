package infer_test

import (
	"math"
	"math/rand/v2"
)

// pictures are the fixed pictures of the parity test, size×size×3 in [0, 1]:
// smooth noise, and figures drawn in several poses and places.
func pictures(size int) map[string][]float32 {
	out := map[string][]float32{}
	for seed := range uint64(2) {
		out["noise "+string(rune('a'+seed))] = smoothNoise(size, seed)
	}
	for i, phase := range []float64{0.05, 0.3, 0.55, 0.8} {
		scale, shift := 0.8+0.05*float64(i), 0.04*float64(i-1)
		out["runner "+string(rune('a'+i))] = drawnRunner(size, phase, scale, shift)
	}
	return out
}

// smoothNoise is a sum of a few waves of random direction in each colour.
func smoothNoise(size int, seed uint64) []float32 {
	r := rand.New(rand.NewPCG(seed, 7))
	out := make([]float32, size*size*3)
	for c := range 3 {
		for range 8 {
			kx, ky, phase := r.NormFloat64()*12, r.NormFloat64()*12, r.Float64()*2*math.Pi
			for y := range size {
				for x := range size {
					u, v := float64(x)/float64(size), float64(y)/float64(size)
					out[(y*size+x)*3+c] += float32(math.Sin(kx*u+ky*v+phase) / 16)
				}
			}
		}
	}
	for i := range out {
		out[i] = min(1, max(0, out[i]+0.5))
	}
	return out
}

type place struct{ x, y float64 }

func (p place) along(angle, length float64) place {
	return place{p.x + length*math.Sin(angle), p.y + length*math.Cos(angle)}
}

// drawnRunner draws a person in running posture from the side as thick soft
// lines before a plain room; coordinates are fractions of the picture.
func drawnRunner(size int, phase, scale, shift float64) []float32 {
	out := make([]float32, size*size*3)
	for y := range size {
		for x := range size {
			i := (y*size + x) * 3
			v := float32(y) / float32(size)
			out[i], out[i+1], out[i+2] = 0.72-0.2*v, 0.75-0.22*v, 0.8-0.3*v
			if v > 0.9 {
				out[i], out[i+1], out[i+2] = 0.35, 0.33, 0.3
			}
		}
	}
	hip := place{0.5 + shift, 0.52}
	at := func(p place) place { return place{0.5 + shift + (p.x-0.5-shift)*scale, 0.9 + (p.y-0.9)*scale} }
	limb := func(a, b place, width float64, colour [3]float32) {
		stroke(out, size, at(a), at(b), width*scale, colour)
	}
	skin, shirt, shorts, shoe := [3]float32{0.85, 0.62, 0.5}, [3]float32{0.75, 0.12, 0.15},
		[3]float32{0.1, 0.12, 0.3}, [3]float32{0.95, 0.9, 0.2}
	shoulder := hip.along(math.Pi-0.12, 0.27)
	for side := range 2 { // the far side first
		swing := 2 * math.Pi * (phase + 0.5*float64(side))
		upper := shoulder.along(-0.6*math.Sin(swing), 0.15)
		limb(shoulder, upper, 0.045, shirt)
		limb(upper, upper.along(-0.6*math.Sin(swing)+1.3, 0.14), 0.035, skin)
		thigh := 0.55 * math.Sin(swing)
		knee := hip.along(thigh, 0.2)
		bend := 0.35 + 0.55*(1+math.Cos(swing))
		ankle := knee.along(thigh-bend, 0.19)
		limb(hip, knee, 0.07, shorts)
		limb(knee, ankle, 0.05, skin)
		limb(ankle.along(math.Pi/2+thigh-bend+math.Pi, 0.02), ankle.along(math.Pi/2+thigh-bend, 0.07), 0.035, shoe)
	}
	limb(hip, shoulder, 0.12, shirt)
	head := shoulder.along(math.Pi-0.2, 0.11)
	limb(shoulder, head, 0.05, skin)
	limb(head, head.along(math.Pi-0.2, 0.03), 0.095, skin)
	limb(head.along(math.Pi-0.4, 0.045), head.along(math.Pi-0.9, 0.05), 0.06, [3]float32{0.2, 0.12, 0.08})
	return out
}

// stroke draws a line with round ends and a soft, shaded edge.
func stroke(out []float32, size int, a, b place, width float64, colour [3]float32) {
	for y := range size {
		for x := range size {
			u, v := (float64(x)+0.5)/float64(size), (float64(y)+0.5)/float64(size)
			dx, dy := b.x-a.x, b.y-a.y
			t := min(1, max(0, ((u-a.x)*dx+(v-a.y)*dy)/max(1e-9, dx*dx+dy*dy)))
			d := math.Hypot(u-a.x-t*dx, v-a.y-t*dy)
			cover := float32(min(1, max(0, (width/2-d)*float64(size)+0.5)))
			if cover == 0 {
				continue
			}
			shade := float32(1 - 0.45*d/(width/2))
			for c := range 3 {
				p := &out[(y*size+x)*3+c]
				*p += cover * (colour[c]*shade - *p)
			}
		}
	}
}
