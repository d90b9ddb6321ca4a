package cli

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"

	"plumbstride/internal/standin"
	"plumbstride/internal/supply"
)

// benchClip gives a ten-second 1080p clip of the demo's runner at a rate
// that divides 120. It is drawn once, which takes minutes, and kept in the
// user's cache.
func benchClip(b *testing.B, kit supply.Kit, rate int) string {
	b.Helper()
	cache, err := os.UserCacheDir()
	if err != nil {
		b.Fatal(err)
	}
	dir := filepath.Join(cache, "plumbstride", "bench")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		b.Fatal(err)
	}
	path := func(rate int) string { return filepath.Join(dir, fmt.Sprintf("runner-1080p%d.mp4", rate)) }
	if _, err := os.Stat(path(120)); errors.Is(err, fs.ErrNotExist) {
		runner, camera, scene, seconds := standin.Demo()
		camera.Width, camera.Height, camera.RateHz = 1920, 1080, 120
		_, err := standin.WriteClip(context.Background(), kit.FFmpeg, path(120), runner, camera, scene, seconds, rand.New(rand.NewPCG(1, 2)), nil)
		if err != nil {
			b.Fatal(err)
		}
	}
	if _, err := os.Stat(path(rate)); errors.Is(err, fs.ErrNotExist) {
		part := path(rate) + ".part.mp4"
		out, err := exec.Command(kit.FFmpeg, "-v", "error", "-y", "-i", path(120), "-r", fmt.Sprint(rate), "-crf", "18", part).CombinedOutput()
		if err != nil {
			b.Fatalf("%v: %s", err, out)
		}
		if err := os.Rename(part, path(rate)); err != nil {
			b.Fatal(err)
		}
	}
	return path(rate)
}

// BenchmarkCheck is the whole check of a ten-second 1080p clip by the real
// program, from its start to the card on the disk: the share of the clip's
// own duration that it takes, and the peak memory of the program (the
// decoder, a child, not counted).
func BenchmarkCheck(b *testing.B) {
	kit, err := supply.Find(os.Getenv)
	if err != nil {
		b.Skipf("the networks are not set up, run plumbstride setup: %v", err)
	}
	program, err := exec.LookPath("plumbstride")
	if err != nil {
		b.Fatal(err)
	}
	for _, rate := range []int{60, 120} {
		b.Run(fmt.Sprintf("1080p%d", rate), func(b *testing.B) {
			clip, out := benchClip(b, kit, rate), filepath.Join(b.TempDir(), "card")
			peak := int64(0)
			for b.Loop() {
				cmd := exec.Command(program, "check", clip, "--height", "172cm", "--out", out)
				if said, err := cmd.CombinedOutput(); err != nil {
					b.Fatalf("%v: %s", err, said)
				}
				peak = max(peak, cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss)
			}
			const clipSeconds = 10
			b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/clipSeconds, "clip-durations")
			b.ReportMetric(float64(peak)/1024, "peak-MB")
		})
	}
}
