package clip

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime"
	"testing"
)

// benchClip makes a moving, noisy clip, about as hard to decode as a phone's.
func benchClip(b *testing.B, name string, w, h, rate int, seconds float64, mbit int, codec ...string) *Info {
	b.Helper()
	path := b.TempDir() + "/" + name
	args := []string{"-f", "lavfi", "-i", fmt.Sprintf("testsrc2=s=%dx%d:r=%d:d=%g,noise=alls=6:allf=t,format=yuv420p", w, h, rate, seconds),
		"-b:v", fmt.Sprintf("%dM", mbit)}
	ffmpeg(b, append(append(args, codec...), path)...)
	return probe(b, path)
}

// BenchmarkReader decodes whole clips. Beside the time for one clip it gives
// pictures per second and the decoder's processor seconds for a clip.
func BenchmarkReader(b *testing.B) {
	x264 := []string{"-c:v", "libx264", "-preset", "veryfast", "-g", "60"}
	for _, c := range []struct {
		name       string
		w, h, rate int
		seconds    float64
		mbit       int
		options    []Options
		codec      []string
	}{
		{"1080p60-10s-h264", 1920, 1080, 60, 10, 20, []Options{{}, {Threads: 1}, {MaxSide: 1280}, {MaxSide: 960}}, x264},
		{"1080p60-10s-hevc", 1920, 1080, 60, 10, 12, []Options{{}}, []string{"-c:v", "libx265", "-preset", "ultrafast", "-x265-params", "log-level=error"}},
		{"2160p60-2s-h264", 3840, 2160, 60, 2, 60, []Options{{}, {MaxSide: 1920}, {MaxSide: 1280}}, x264},
	} {
		b.Run(c.name, func(b *testing.B) {
			info := benchClip(b, "bench.mp4", c.w, c.h, c.rate, c.seconds, c.mbit, c.codec...)
			for _, o := range c.options {
				b.Run(fmt.Sprintf("side=%d/threads=%d", o.MaxSide, o.Threads), func(b *testing.B) { benchReader(b, info, o) })
			}
		})
	}
}

func benchReader(b *testing.B, info *Info, o Options) {
	var cpu float64
	var sum byte
	for b.Loop() {
		r, err := Open(context.Background(), Tools{}, info, o)
		if err != nil {
			b.Fatal(err)
		}
		n := 0
		for {
			f, err := r.Next()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				b.Fatal(err)
			}
			sum ^= f.Y[len(f.Y)/2]
			r.Recycle(f)
			n++
		}
		if n != len(info.Times) {
			b.Fatalf("%d pictures", n)
		}
		cpu += r.Read().CPU.Seconds()
		r.Close()
	}
	runtime.KeepAlive(sum)
	b.ReportMetric(float64(len(info.Times)*b.N)/b.Elapsed().Seconds(), "frames/s")
	b.ReportMetric(cpu/float64(b.N), "cpu-s/clip")
}

// BenchmarkProbe lists the packets of a clip.
func BenchmarkProbe(b *testing.B) {
	info := benchClip(b, "bench.mp4", 320, 240, 240, 10, 1, "-c:v", "libx264", "-preset", "ultrafast")
	for b.Loop() {
		if _, err := Probe(context.Background(), Tools{}, info.File, Limits{}); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkPick fetches the two pictures of a card from a 1080p clip.
func BenchmarkPick(b *testing.B) {
	info := benchClip(b, "bench.mp4", 1920, 1080, 60, 10, 20, "-c:v", "libx264", "-preset", "veryfast", "-g", "60")
	for b.Loop() {
		if _, err := Pick(context.Background(), Tools{}, info, []float64{5.31, 5.42}); err != nil {
			b.Fatal(err)
		}
	}
}
