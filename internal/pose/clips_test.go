package pose

import (
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"plumbstride/internal/clip"
	"plumbstride/internal/form"
	"plumbstride/internal/testkit"
)

// In the running clips drawn elsewhere the runner is found in at least 98 % of
// the frames in which the truth has the whole body in the picture, with the
// hips where they are and the legs not exchanged.
func TestFindOnRenderedClips(t *testing.T) {
	nets := networks(t)
	for _, name := range []string{"cmu_m_c162_30", "cmu_m_mirror_blur_60", "cmu_m_off15_60", "pass_cmu_m_left_120"} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(testkit.OpenData(t, "rendered-clips"), name+".mp4")
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
		reader, total := openClip(t, filepath.Join(testkit.OpenData(t, "rendered-clips"), "empty_60.mp4"))
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
	source := filepath.Join(testkit.OpenData(b, "rendered-clips"), "cmu_m_c162_60.mp4")
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

// passerBy is a Source that lays the moving figure of one clip, twice as
// large, over another clip of the same size: somebody goes past close to the
// camera.
type passerBy struct {
	behind, front *clip.Reader
	room          *clip.Frame // the front clip's picture without the figure
}

// emptyRoom is the median picture of a clip through which somebody passes.
func emptyRoom(t *testing.T, path string) *clip.Frame {
	t.Helper()
	r, total := openClip(t, path)
	var some []*clip.Frame
	for i := range total {
		f, err := r.Next()
		if err != nil {
			t.Fatal(err)
		}
		if i%(total/9) == 0 {
			some = append(some, f)
		} else {
			r.Recycle(f)
		}
	}
	room := *some[0]
	room.Y = make([]byte, len(some[0].Y))
	var values [16]byte
	for i := range room.Y {
		column := values[:0]
		for _, f := range some {
			column = append(column, f.Y[i])
		}
		slices.Sort(column)
		room.Y[i] = column[len(column)/2]
	}
	return &room
}

func (p passerBy) Next() (*clip.Frame, error) {
	f, err := p.behind.Next()
	if err != nil {
		return nil, err
	}
	g, err := p.front.Next()
	if err != nil {
		return f, nil // gone
	}
	defer p.front.Recycle(g)
	differs := func(x, y int) bool {
		d := int(g.Y[y*g.YStride+x]) - int(p.room.Y[y*p.room.YStride+x])
		return d > 9 || d < -9
	}
	for y := range f.Height {
		for x := range f.Width {
			gx, gy := f.Width/4+x/2, f.Height/4+y/2
			if differs(gx, gy) || differs(gx-2, gy) && differs(gx+2, gy) {
				f.Y[y*f.YStride+x] = g.Y[gy*g.YStride+gx]
				f.Cb[y/2*f.CStride+x/2] = g.Cb[gy/2*g.CStride+gx/2]
				f.Cr[y/2*f.CStride+x/2] = g.Cr[gy/2*g.CStride+gx/2]
			}
		}
	}
	return f, nil
}

func (p passerBy) Recycle(f *clip.Frame) { p.behind.Recycle(f) }

// Somebody goes past between the camera and the runner on
// the treadmill. The track must stay the runner's: in all frames in which it
// shows somebody, the hips are where the truth has the runner's.
func TestFindKeepsTheRunnerBehindAPasserBy(t *testing.T) {
	nets := networks(t)
	dir := testkit.OpenData(t, "rendered-clips")
	path, passing := filepath.Join(dir, "cmu_m_c162_60.mp4"), filepath.Join(dir, "pass_cmu_m_left_120.mp4")
	src := passerBy{room: emptyRoom(t, passing)}
	var total int
	src.behind, total = openClip(t, path)
	src.front, _ = openClip(t, passing)
	r, err := Find(context.Background(), nets, src, total, Options{})
	if err != nil {
		t.Fatal(err)
	}
	tr := readTruth(t, path)
	seen, elsewhere := 0, 0
	for i := range r.Track.Frames {
		f := &r.Track.Frames[i]
		if !f.Spots[0].Seen() {
			continue
		}
		seen++
		a, b := f.Spot(form.Hip, form.Left), tr.pixels[i]["left_hip"]
		if off := math.Hypot(a.X-b[0], a.Y-b[1]) * tr.scale; off > 0.2 {
			elsewhere++
			t.Logf("frame %d: the hip is %.2f m off", i, off)
		}
	}
	t.Logf("seen in %d of %d frames, %d elsewhere, %d people", seen, total, elsewhere, r.Persons)
	if elsewhere > total/100 {
		t.Errorf("in %d frames the track is not the runner's", elsewhere)
	}
	if seen < total*8/10 {
		t.Errorf("the runner is seen in %d of %d frames", seen, total)
	}
	if r.Persons != 2 {
		t.Errorf("%d people followed, want 2", r.Persons)
	}
}
