package scene

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"testing"
)

// coded puts frames through an H.264 coder at a constant rate factor and gives
// back every sixth.
func coded(t testing.TB, frames []Luma, crf int) []Luma {
	t.Helper()
	w, h := frames[0].Width, frames[0].Height
	var raw bytes.Buffer
	for _, f := range frames {
		raw.Write(f.Pix)
	}
	size := fmt.Sprintf("%dx%d", w, h)
	code := exec.Command("ffmpeg", "-v", "error", "-f", "rawvideo", "-pix_fmt", "gray", "-s", size, "-r", "30", "-i", "pipe:0",
		"-pix_fmt", "yuv420p", "-c:v", "libx264", "-crf", fmt.Sprint(crf), "-f", "h264", "pipe:1")
	code.Stdin = &raw
	stream, err := code.Output()
	if err != nil {
		t.Fatal("ffmpeg:", err)
	}
	back := exec.Command("ffmpeg", "-v", "error", "-f", "h264", "-i", "pipe:0", "-f", "rawvideo", "-pix_fmt", "gray", "pipe:1")
	back.Stdin = bytes.NewReader(stream)
	pix, err := back.Output()
	if err != nil {
		t.Fatal("ffmpeg:", err)
	}
	var out []Luma
	for i := 0; (i+1)*w*h <= len(pix); i += 6 {
		out = append(out, Luma{w, h, w, pix[i*w*h : (i+1)*w*h]})
	}
	return out
}

// A video coder short of bits draws upright lines of its own; they aren't
// taken for the room's. Beyond a rate factor of 40, where little is left of the
// room, a wrong answer may slip through.
func TestCoderShortOfBits(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 15))
	const w, h = 640, 360
	known, far := 0, 0
	const clips = 24
	for i := range clips {
		c := camera{roll: -5 + 10*rng.Float64(), pitch: 3 * rng.NormFloat64(), focal: 0.9, height: 1}
		r := gym()
		if i%2 == 0 {
			r = randomRoom(rng)
		}
		crf, noise := 24+2*(i%8), 12*rng.Float64()
		frames := coded(t, film(r.see(c, w, h), w, h, 13, noise, rng), crf)
		deg, sd, ok := Level(frames, nil)
		t.Logf("roll %5.2f, noise %4.1f, rate factor %d: %5.2f ± %.2f° %v", c.roll, noise, crf, deg, sd, ok)
		if !ok {
			continue
		}
		known++
		if math.Abs(deg-c.roll) > 2*sd {
			far++
		}
		if math.Abs(deg-c.roll) > 3.5*sd {
			t.Errorf("roll %.2f, noise %.1f, rate factor %d: %.2f ± %.2f°", c.roll, noise, crf, deg, sd)
		}
	}
	if known < clips/2 || far > 1+known/20 {
		t.Errorf("%d of %d known, %d of them off by more than 2 sd", known, clips, far)
	}
}
