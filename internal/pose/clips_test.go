package pose

import (
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"plumbstride/internal/form"
)

// In the running clips drawn elsewhere the runner is found in at least 98 % of
// the frames in which the truth has the whole body in the picture, with the
// hips where they are and the legs not exchanged.
func TestFindOnRenderedClips(t *testing.T) {
	nets := networks(t)
	for _, name := range []string{"cmu_m_c162_30", "cmu_m_mirror_blur_60", "cmu_m_off15_60", "pass_cmu_m_left_120"} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(sharedData(t, "rendered-clips"), name+".mp4")
			reader, total := openClip(t, path)
			r, err := Find(context.Background(), nets, reader, total, Options{})
			if err != nil {
				t.Fatal(err)
			}
			if len(r.Track.Frames) != total || r.Persons != 1 {
				t.Errorf("%d of %d frames, %d people", len(r.Track.Frames), total, r.Persons)
			}
			tr := readTruth(t, path)
			whole, found, exchanged, off := 0, 0, 0.0, 0.0
			for i := range r.Track.Frames {
				f := &r.Track.Frames[i]
				if !wholeBody(tr, i, r.Track.Width, r.Track.Height) {
					continue
				}
				whole++
				if !f.Spots[0].Seen() {
					continue
				}
				found++
				exchanged += exchangedIn(tr, i, f)
				a, b := f.Spot(form.Hip, form.Left), tr.pixels[i]["left_hip"]
				off += math.Hypot(a.X-b[0], a.Y-b[1]) * tr.scale
			}
			if share := float64(found) / float64(whole); share < 0.98 {
				t.Errorf("the runner is found in %.1f %% of the frames, want 98 %%", 100*share)
			}
			if share := exchanged / float64(found); share > 0.02 {
				t.Errorf("the legs are exchanged in %.1f %% of the frames, want at most 2 %%", 100*share)
			}
			if mean := off / float64(found); mean > 0.08 {
				t.Errorf("the left hip is %.3f m off on average, want at most 0.08 m", mean)
			}
			t.Logf("found %d of %d, exchanged %.1f %%, repaired %d, hip off by %.3f m", found, whole,
				100*exchanged/float64(found), r.Repair.Frames, off/float64(found))
		})
	}
	t.Run("empty_60", func(t *testing.T) {
		reader, total := openClip(t, filepath.Join(sharedData(t, "rendered-clips"), "empty_60.mp4"))
		if _, err := Find(context.Background(), nets, reader, total, Options{}); form.CodeOf(err) != form.CodeClip {
			t.Errorf("an empty room: %v, want an error about the clip", err)
		}
	})
}

// wholeBody tells whether all true points of a frame lie in the picture.
func wholeBody(tr *truthClip, i, width, height int) bool {
	for _, p := range tr.pixels[i] {
		if p[0] < 0 || p[1] < 0 || p[0] > float64(width) || p[1] > float64(height) {
			return false
		}
	}
	return true
}

// BenchmarkFind is the whole way from a 10 s clip of 1920 × 1080 at 60 Hz,
// made by looping and enlarging a rendered one, to key points.
func BenchmarkFind(b *testing.B) {
	nets := networks(b)
	source := filepath.Join(sharedData(b, "rendered-clips"), "cmu_m_c162_60.mp4")
	path := filepath.Join(b.TempDir(), "clip.mp4")
	ffmpeg := exec.Command("ffmpeg", "-v", "error", "-stream_loop", "1", "-i", source, "-vf", "scale=1920:1080",
		"-t", "10", "-c:v", "libx264", "-preset", "fast", "-crf", "20", path)
	if out, err := ffmpeg.CombinedOutput(); err != nil {
		b.Fatalf("make the clip: %v: %s", err, out)
	}
	for _, refine := range []int{0, 120} {
		b.Run(fmt.Sprintf("refine %d", refine), func(b *testing.B) {
			frames := 0
			for b.Loop() {
				reader, total := openClip(b, path)
				r, err := Find(context.Background(), nets, reader, total, Options{})
				if err != nil {
					b.Fatal(err)
				}
				chosen := make([]int, 0, refine)
				for i := range refine {
					chosen = append(chosen, i*len(r.Track.Frames)/refine)
				}
				if refine > 0 {
					if r, err = Refine(context.Background(), nets, r, chosen, Options{}); err != nil {
						b.Fatal(err)
					}
				}
				frames += len(r.Track.Frames)
			}
			b.ReportMetric(float64(frames)/b.Elapsed().Seconds(), "frames/s")
			b.ReportMetric(peakMemory(), "MB-peak")
		})
	}
}

// peakMemory is the largest memory this process has held, in MB, 0 where the
// system does not tell.
func peakMemory() float64 {
	text, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	var kb float64
	for line := range strings.Lines(string(text)) {
		if n, _ := fmt.Sscanf(line, "VmHWM: %f kB", &kb); n == 1 {
			return kb / 1000
		}
	}
	return 0
}
