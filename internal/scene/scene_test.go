package scene

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// The truth of all drawn pictures is the roll they were drawn with.

func TestRollOfARoom(t *testing.T) {
	for _, roll := range []float64{-8, -5, -3, -1.5, -0.5, 0, 0.3, 1, 2, 4, 5, 9} {
		for _, pitch := range []float64{-8, 0, 4} {
			for _, yaw := range []float64{0, 15} {
				t.Run(fmt.Sprintf("roll %g pitch %g yaw %g", roll, pitch, yaw), func(t *testing.T) {
					c := camera{roll: roll, pitch: pitch, yaw: yaw, focal: 0.9, height: 1}
					frames := film(gym().see(c, 640, 360), 640, 360, 4, 3, rand.New(rand.NewPCG(1, 2)))
					deg, sd, ok := Level(frames, nil)
					if !ok {
						t.Fatal("not known")
					}
					if math.Abs(deg-roll) > 2*sd || math.Abs(deg-roll) > 0.3 {
						t.Errorf("%.2f ± %.2f°, want %.2f", deg, sd, roll)
					}
				})
			}
		}
	}
}

// The stated uncertainty covers the error as often as a normal law says: 68 %
// within one, 95 % within two.
func TestUncertaintyIsHonest(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	known, one, two, three := 0, 0, 0, 0
	const rooms = 120
	var errs []float64
	for i := range rooms {
		c := camera{roll: -6 + 12*rng.Float64(), pitch: 4 * rng.NormFloat64(), yaw: 10 * rng.NormFloat64(), focal: 0.7 + 0.5*rng.Float64(), height: 0.8 + 0.6*rng.Float64()}
		w, h := 640, 360
		if i%4 == 0 {
			w, h = 360, 640
		}
		frames := film(randomRoom(rng).see(c, w, h), w, h, 2, 1+4*rng.Float64(), rng)
		if i%3 == 0 {
			frames = pressed(t, frames, 10+rng.IntN(60))
		}
		deg, sd, ok := Level(frames, nil)
		if !ok {
			continue
		}
		known++
		e := math.Abs(deg - c.roll)
		errs = append(errs, e)
		for k, n := range []*int{&one, &two, &three} {
			if e <= float64(k+1)*sd {
				*n++
			}
		}
		if e > 3*sd {
			t.Errorf("room %d: %.2f ± %.2f, drawn with %.2f", i, deg, sd, c.roll)
		}
	}
	var ss float64
	for _, e := range errs {
		ss += e * e
	}
	t.Logf("%d of %d known; within 1 sd %d, 2 sd %d, 3 sd %d; rms error %.2f°", known, rooms, one, two, three, math.Sqrt(ss/float64(known)))
	if known < rooms*6/10 {
		t.Errorf("only %d of %d known", known, rooms)
	}
	if one < known*68/100 || two < known*95/100 || three < known*99/100 {
		t.Errorf("of %d: %d within 1 sd, %d within 2, %d within 3", known, one, two, three)
	}
}

// Pictures that hold nothing upright: no answer.
func TestNothingUpright(t *testing.T) {
	const w, h = 640, 360
	level := camera{focal: 0.9, height: 1}
	flat := func(f func(x, y float64) float64) []float64 {
		out := make([]float64, w*h)
		for i := range out {
			out[i] = f(float64(i%w), float64(i/w))
		}
		return out
	}
	diagonals := func(from, to float64, rng *rand.Rand) []float64 {
		r := room{wall: 140, floor: 100}
		for i := range 14 {
			lean := (from + (to-from)*rng.Float64()) * float64(1-2*(i%2))
			x := -2 + 4*rng.Float64()
			r.slabs = append(r.slabs, slab{x, x + 0.1, 0.2, 1.8, lean, 60 + 100*rng.Float64()})
		}
		return r.see(level, w, h)
	}
	cases := map[string]func(rng *rand.Rand) []float64{
		"black":           func(*rand.Rand) []float64 { return flat(func(x, y float64) float64 { return 0 }) },
		"wall":            func(*rand.Rand) []float64 { return room{wall: 140, floor: 90}.see(level, w, h) },
		"light falls off": func(*rand.Rand) []float64 { return flat(func(x, y float64) float64 { return 40 + x/4 + y/9 }) },
		"light in a round": func(*rand.Rand) []float64 {
			return flat(func(x, y float64) float64 { return 230 - math.Hypot(x-320, y-100)/2 })
		},
		"foliage":   func(rng *rand.Rand) []float64 { return foliage(w, h, rng) },
		"diagonals": func(rng *rand.Rand) []float64 { return diagonals(20, 60, rng) },
		"fan":       func(rng *rand.Rand) []float64 { return diagonals(3, 14, rng) },
		"one post": func(*rand.Rand) []float64 {
			return room{wall: 140, floor: 90, slabs: []slab{{0.8, 0.9, 0, 1.5, 3, 60}}}.see(level, w, h)
		},
	}
	for name, draw := range cases {
		for seed := range uint64(2) {
			rng := rand.New(rand.NewPCG(seed, 6))
			picture := draw(rng)
			for _, noise := range []float64{0, 5, 25} {
				for _, quality := range []int{100, 20, 2} {
					frames := pressed(t, film(picture, w, h, 2, noise, rng), quality)
					if deg, sd, ok := Level(frames, nil); ok {
						t.Errorf("%s, noise %g, quality %d: %.2f ± %.2f°", name, noise, quality, deg, sd)
					}
				}
			}
		}
	}
}

// A hard-pressed picture keeps its roll; the blocks don't pull it upright.
func TestBlocks(t *testing.T) {
	for _, roll := range []float64{-4, -1, 0, 0.7, 2.5} {
		for _, quality := range []int{50, 20, 10, 5, 2} {
			c := camera{roll: roll, pitch: -3, focal: 0.9, height: 1}
			frames := pressed(t, film(gym().see(c, 960, 540), 960, 540, 2, 4, rand.New(rand.NewPCG(7, 8))), quality)
			deg, sd, ok := Level(frames, nil)
			t.Logf("roll %g quality %d: %.2f ± %.2f %v", roll, quality, deg, sd, ok)
			if quality >= 20 && !ok {
				t.Errorf("roll %g, quality %d: not known", roll, quality)
			}
			if ok && math.Abs(deg-roll) > 2*sd+0.1 {
				t.Errorf("roll %g, quality %d: %.2f ± %.2f°", roll, quality, deg, sd)
			}
		}
	}
}

// leaning is a person-like figure of straight, leaning outlines, 8° forward.
func leaning(x float64) []slab {
	return []slab{
		{x - 0.12, x + 0.12, 0.85, 1.45, 8, 40}, {x + 0.05, x + 0.2, 1.5, 1.75, 8, 200},
		{x - 0.1, x + 0.05, 0.1, 0.85, 8, 30}, {x - 0.04, x + 0.04, 0.8, 1.4, 7, 220},
	}
}

// The runner in the box has no say, nor one that moves and has no box.
func TestRunnerHasNoSay(t *testing.T) {
	const w, h = 640, 360
	c := camera{roll: -2, focal: 0.9, height: 1}
	rng := rand.New(rand.NewPCG(9, 10))
	var frames, moved, alone []Luma
	var boxes []Box
	for i := range 5 {
		r, m := gym(), gym()
		r.slabs = append(r.slabs, leaning(0)...)
		m.slabs = append(m.slabs, leaning(-0.5+0.25*float64(i))...)
		a := room{wall: 140, floor: 90, slabs: leaning(0)}
		frames = append(frames, film(r.see(c, w, h), w, h, 1, 3, rng)...)
		moved = append(moved, film(m.see(c, w, h), w, h, 1, 3, rng)...)
		alone = append(alone, film(a.see(c, w, h), w, h, 1, 3, rng)...)
		boxes = append(boxes, Box{240, 60, 420, 330})
	}
	with, sd, ok := Level(frames, boxes)
	if !ok || math.Abs(with+2) > 2*sd {
		t.Errorf("in the box: %.2f ± %.2f %v", with, sd, ok)
	}
	if deg, sd, ok := Level(moved, nil); !ok || math.Abs(deg+2) > 2*sd {
		t.Errorf("moving: %.2f ± %.2f %v", deg, sd, ok)
	}
	if deg, sd, ok := Level(alone, boxes); ok {
		t.Errorf("alone in the box: %.2f ± %.2f", deg, sd)
	}
	if deg, sd, ok := Level(alone, nil); ok {
		t.Errorf("alone without a box: %.2f ± %.2f", deg, sd)
	}
}

// Mirrored pictures give the negative roll, and the size of the picture
// doesn't matter.
func TestMirrorAndSize(t *testing.T) {
	c := camera{roll: 3.3, pitch: 2, yaw: 5, focal: 0.8, height: 1.2}
	for _, width := range []int{480, 960, 1920} {
		height := width * 9 / 16
		frames := film(gym().see(c, width, height), width, height, 1, 0, rand.New(rand.NewPCG(1, 1)))
		f := frames[0]
		m := Luma{f.Width, f.Height, f.Stride, make([]byte, len(f.Pix))}
		for y := range f.Height {
			for x := range f.Width {
				m.Pix[y*f.Stride+x] = f.Pix[y*f.Stride+f.Width-1-x]
			}
		}
		deg, sd, ok := Level(frames, nil)
		back, backSD, backOK := Level([]Luma{m}, nil)
		if !ok || !backOK || math.Abs(deg+back) > 0.02 || math.Abs(sd-backSD) > 0.02 {
			t.Errorf("%d: %.3f ± %.3f %v, mirrored %.3f ± %.3f %v", width, deg, sd, ok, back, backSD, backOK)
		}
		if math.Abs(deg-c.roll) > 0.2 {
			t.Errorf("%d: %.3f, want %.1f", width, deg, c.roll)
		}
	}
}

func TestOddInput(t *testing.T) {
	small := Luma{8, 8, 8, make([]byte, 64)}
	for name, frames := range map[string][]Luma{"none": nil, "tiny": {small}, "nothing": {{}}} {
		if deg, sd, ok := Level(frames, nil); ok || !math.IsNaN(deg) || !math.IsNaN(sd) {
			t.Errorf("%s: %v %v %v", name, deg, sd, ok)
		}
	}
	for name, call := range map[string]func(){
		"boxes": func() { Level([]Luma{small}, []Box{}) },
		"sizes": func() { Level([]Luma{small, {4, 4, 4, make([]byte, 16)}}, nil) },
		"short": func() { Level([]Luma{{8, 8, 8, make([]byte, 63)}}, nil) },
		"width": func() { Level([]Luma{{8, 8, 7, make([]byte, 64)}}, nil) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			call()
		}()
	}
}

func BenchmarkLevel(b *testing.B) {
	c := camera{roll: 2, focal: 0.9, height: 1}
	frames := film(gym().see(c, 1920, 1080), 1920, 1080, 6, 4, rand.New(rand.NewPCG(1, 2)))
	for b.Loop() {
		if _, _, ok := Level(frames, nil); !ok {
			b.Fatal("not known")
		}
	}
}

func BenchmarkLevelFoliage(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	frames := film(foliage(1920, 1080, rng), 1920, 1080, 6, 4, rng)
	for b.Loop() {
		Level(frames, nil)
	}
}
