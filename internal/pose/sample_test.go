package pose

import (
	"math"
	"math/rand/v2"
	"testing"

	"plumbstride/internal/clip"
)

// paint makes a frame with even sides from functions of the pixel.
func paint(w, h int, luma, cb, cr func(x, y int) byte) *clip.Frame {
	cw, ch := (w+1)/2, (h+1)/2
	f := &clip.Frame{
		Width: w, Height: h, Scale: 1, YStride: w + 3, CStride: cw + 5,
		Y: make([]byte, (w+3)*h), Cb: make([]byte, (cw+5)*ch), Cr: make([]byte, (cw+5)*ch),
	}
	for y := range h {
		for x := range w {
			f.Y[y*f.YStride+x] = luma(x, y)
		}
	}
	for y := range ch {
		for x := range cw {
			f.Cb[y*f.CStride+x] = cb(x, y)
			f.Cr[y*f.CStride+x] = cr(x, y)
		}
	}
	return f
}

func grey(int, int) byte { return 128 }

// A region of the picture's own size, pixel on pixel, gives its samples.
func TestSampleCopiesPixels(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	f := paint(400, 300, func(int, int) byte { return byte(rnd.UintN(256)) },
		func(int, int) byte { return byte(rnd.UintN(256)) }, grey)
	pic := newPicture(cropSize)
	newSampler().sample(f, Region{X: 20 + 128, Y: 10 + 128, Side: 256}, pic)
	for y := range cropSize {
		for x := range cropSize {
			if got, want := pic.y[y*cropSize+x], f.Y[(y+10)*f.YStride+x+20]; got != want {
				t.Fatalf("luma at %d, %d is %d, in the frame %d", x, y, got, want)
			}
		}
	}
	for y := range cropSize / 2 {
		for x := range cropSize / 2 {
			if got, want := pic.cb[y*cropSize/2+x], f.Cb[(y+5)*f.CStride+x+10]; got != want {
				t.Fatalf("Cb at %d, %d is %d, in the frame %d", x, y, got, want)
			}
		}
	}
}

// A ramp is reproduced to within rounding by any region, whatever its scale
// and angle, because bilinear weights and means keep straight lines: the
// sample at u, v shows a + b·x + c·y at the pixel that Region.At gives.
func TestSampleKeepsRamps(t *testing.T) {
	const w, h = 1200, 900
	ramp := func(x, y float64) float64 { return 30 + 0.1*x + 0.1*y }
	f := paint(w, h, func(x, y int) byte {
		return byte(math.Round(ramp(float64(x)+0.5, float64(y)+0.5)))
	}, grey, grey)
	for _, r := range []Region{
		{X: 600, Y: 450, Side: 100},
		{X: 600.3, Y: 450.8, Side: 256, Angle: 0.3},
		{X: 580, Y: 420, Side: 390, Angle: -1},
		{X: 600, Y: 450, Side: 620, Angle: 0.2},
		{X: 600, Y: 450, Side: 800},
	} {
		pic := newPicture(cropSize)
		newSampler().sample(f, r, pic)
		sum, worst := 0.0, 0.0
		for j := range cropSize {
			for i := range cropSize {
				x, y := r.At((float64(i)+0.5)/cropSize, (float64(j)+0.5)/cropSize)
				d := float64(pic.y[j*cropSize+i]) - ramp(x, y)
				sum += d
				worst = math.Max(worst, math.Abs(d))
			}
		}
		if mean := sum / (cropSize * cropSize); worst > 1.6 || math.Abs(mean) > 0.3 {
			t.Errorf("region %+v: samples are off by up to %.2f, by %.2f on average", r, worst, mean)
		}
	}
}

// Fine stripes, far finer than the result, must come out as their mean and
// not as moiré.
func TestSampleAveragesFineStripes(t *testing.T) {
	f := paint(1920, 1080, func(x, y int) byte {
		if (x/2+y/2)%2 == 0 {
			return 40
		}
		return 200
	}, grey, grey)
	pic := newPicture(cropSize)
	newSampler().sample(f, Region{X: 960, Y: 540, Side: 1024}, pic)
	for i, got := range pic.y {
		if got < 118 || got > 122 {
			t.Fatalf("sample %d of fine stripes of 40 and 200 is %d, want their mean 120", i, got)
		}
	}
}

func TestSampleIsBlackOutside(t *testing.T) {
	f := paint(100, 100, func(int, int) byte { return 200 }, func(int, int) byte { return 30 }, grey)
	pic := newPicture(cropSize)
	for _, r := range []Region{
		{X: 0, Y: 50, Side: 64}, {X: -500, Y: 50, Side: 64}, {X: 50, Y: 50, Side: 4000, Angle: 0.5}, {X: 99, Y: 99, Side: 300, Angle: 2},
	} {
		newSampler().sample(f, r, pic)
		for j := range cropSize {
			for i := range cropSize {
				x, y := r.At((float64(i)+0.5)/cropSize, (float64(j)+0.5)/cropSize)
				margin := 2 * math.Max(1, r.Side/cropSize)
				switch got := pic.y[j*cropSize+i]; {
				case x < -margin || y < -margin || x > 100+margin || y > 100+margin:
					if got != 16 {
						t.Fatalf("region %+v: outside, at %.1f, %.1f, luma is %d, not black (16)", r, x, y, got)
					}
				case x > margin && y > margin && x < 100-margin && y < 100-margin:
					if got != 200 {
						t.Fatalf("region %+v: inside, at %.1f, %.1f, luma is %d, not 200", r, x, y, got)
					}
				}
			}
		}
	}
}

// The corner points of the colour cube, from Rec. ITU-R BT.709 and BT.601
// with 8-bit narrow range: Y = 16 + 219(Kr·R + Kg·G + Kb·B), and so on.
func TestColours(t *testing.T) {
	tests := []struct {
		name        string
		full, bt709 bool
		y, cb, cr   byte
		want        [3]float64
	}{
		{"black", false, true, 16, 128, 128, [3]float64{0, 0, 0}},
		{"white", false, true, 235, 128, 128, [3]float64{1, 1, 1}},
		{"black, full range", true, true, 0, 128, 128, [3]float64{0, 0, 0}},
		{"white, full range", true, false, 255, 128, 128, [3]float64{1, 1, 1}},
		{"red, BT.709", false, true, 63, 102, 240, [3]float64{1, 0, 0}},
		{"green, BT.709", false, true, 173, 42, 26, [3]float64{0, 1, 0}},
		{"blue, BT.709", false, true, 32, 240, 118, [3]float64{0, 0, 1}},
		{"red, BT.601", false, false, 81, 90, 240, [3]float64{1, 0, 0}},
		{"green, BT.601", false, false, 145, 54, 34, [3]float64{0, 1, 0}},
		{"blue, BT.601", false, false, 41, 240, 110, [3]float64{0, 0, 1}},
		{"below black", false, true, 0, 128, 128, [3]float64{0, 0, 0}},
		{"above white", false, true, 255, 255, 255, [3]float64{1, 0.72, 1}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			pic := newPicture(cropSize)
			pic.full, pic.bt709 = tt.full, tt.bt709
			fill(pic.y, tt.y)
			fill(pic.cb, tt.cb)
			fill(pic.cr, tt.cr)
			for _, target := range []struct{ low, high float32 }{{0, 1}, {-1, 1}} {
				tint := palette{low: target.low, high: target.high}
				out := make([]float32, 3*cropSize*cropSize)
				tint.fill(out, pic)
				for k, want := range tt.want {
					want = float64(target.low) + float64(target.high-target.low)*want
					for _, at := range []int{k, 3*5000 + k, len(out) - 3 + k} {
						if got := float64(out[at]); math.Abs(got-want) > 0.012*float64(target.high-target.low) {
							t.Errorf("channel %d of value %d is %.4f, want %.4f", k, at, got, want)
						}
					}
				}
			}
		})
	}
}

func TestRegionAtAndInverse(t *testing.T) {
	r := Region{X: 300, Y: 200, Side: 100, Angle: math.Pi / 2}
	// Turned a quarter clockwise, the top of the square points right.
	if x, y := r.At(0.5, 0); math.Abs(x-350) > 1e-9 || math.Abs(y-200) > 1e-9 {
		t.Errorf("the top of the turned square is at %.2f, %.2f, want 350, 200", x, y)
	}
	r.Angle = 0.7
	x, y := r.At(0.2, 0.9)
	if u, v := r.Inverse(x, y); math.Abs(u-0.2) > 1e-12 || math.Abs(v-0.9) > 1e-12 {
		t.Errorf("Inverse of At(0.2, 0.9) is %g, %g", u, v)
	}
	// A body that leans so that its size point is up and to the right by 45°
	// is cut out turned clockwise by 45°.
	got := regionFromBody(10, 20, 13, 17, 2.5)
	want := Region{X: 10, Y: 20, Side: 2.5 * math.Hypot(3, 3), Angle: math.Pi / 4}
	if math.Abs(got.Angle-want.Angle) > 1e-12 || math.Abs(got.Side-want.Side) > 1e-12 || got.X != 10 || got.Y != 20 {
		t.Errorf("region of a leaning body is %+v, want %+v", got, want)
	}
}

func BenchmarkSample(b *testing.B) {
	f := paint(1920, 1080, func(x, y int) byte { return byte(x ^ y) }, func(x, y int) byte { return byte(x) }, grey)
	for _, bench := range []struct {
		name   string
		region Region
		size   int
	}{
		{"body 900 px", Region{X: 960, Y: 540, Side: 900, Angle: 0.1}, cropSize},
		{"body 900 px upright", Region{X: 960, Y: 540, Side: 900}, cropSize},
		{"body 380 px", Region{X: 960, Y: 540, Side: 380, Angle: 0.1}, cropSize},
		{"whole picture", letterbox(1920, 1080), detectorSize},
	} {
		b.Run(bench.name, func(b *testing.B) {
			s, pic := newSampler(), newPicture(bench.size)
			for b.Loop() {
				s.sample(f, bench.region, pic)
			}
		})
	}
	b.Run("colour", func(b *testing.B) {
		pic, out := newPicture(cropSize), make([]float32, 3*cropSize*cropSize)
		tint := palette{low: 0, high: 1}
		for b.Loop() {
			tint.fill(out, pic)
		}
	})
}
