package scene_test

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"plumbstride/internal/clip"
	"plumbstride/internal/scene"
)

// rendered finds the clips with exact truth beside the repository.
func rendered(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			break
		}
		up := filepath.Dir(dir)
		if up == dir {
			t.Fatal("no go.mod above the package")
		}
		dir = up
	}
	folder := filepath.Join(dir, "..", "shared", "data", "rendered-clips")
	if _, err := os.Stat(folder); err != nil {
		t.Skip("the rendered clips are not here: ../shared/data/rendered-clips")
	}
	return folder
}

// sixFrames gives the brightness of six frames spread over a clip.
func sixFrames(t testing.TB, file string, maxSide int) []scene.Luma {
	t.Helper()
	ctx := context.Background()
	info, err := clip.Probe(ctx, clip.Tools{}, file, clip.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	r, err := clip.Open(ctx, clip.Tools{}, info, clip.Options{MaxSide: maxSide, Every: max(1, len(info.Times)/6)})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	var out []scene.Luma
	for len(out) < 6 {
		f, err := r.Next()
		if err != nil {
			break
		}
		out = append(out, scene.Luma{Width: f.Width, Height: f.Height, Stride: f.YStride, Pix: append([]byte(nil), f.Y...)})
		r.Recycle(f)
	}
	return out
}

// trueRoll reads the camera's roll from the truth beside a clip; the empty
// clip has no truth and shows the same room, level.
func trueRoll(t testing.TB, file string) float64 {
	t.Helper()
	b, err := os.ReadFile(strings.TrimSuffix(file, ".mp4") + ".truth.json")
	if os.IsNotExist(err) {
		return 0
	}
	if err != nil {
		t.Fatal(err)
	}
	var truth struct{ Camera struct{ Roll float64 } }
	if err := json.Unmarshal(b, &truth); err != nil {
		t.Fatal(err)
	}
	return truth.Camera.Roll
}

// middle is about where the runner on the treadmill is, with what he swings.
func middle(frames []scene.Luma) []scene.Box {
	out := make([]scene.Box, len(frames))
	for i, f := range frames {
		w, h := float64(f.Width), float64(f.Height)
		out[i] = scene.Box{X0: 0.35 * w, Y0: 0.1 * h, X1: 0.65 * w, Y1: 0.92 * h}
	}
	return out
}

// The rendered clips' cameras have the roll that stands beside them; in the
// one rolled by 3° level lines fall to the right.
func TestRenderedClips(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(rendered(t), "*.mp4"))
	if err != nil || len(files) == 0 {
		t.Fatal("no clip", err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".mp4"), func(t *testing.T) {
			want := trueRoll(t, file)
			frames := sixFrames(t, file, 0)
			for name, boxes := range map[string][]scene.Box{"whole": nil, "runner left out": middle(frames)} {
				deg, sd, ok := scene.Level(frames, boxes)
				t.Logf("%s: %.2f ± %.2f° %v, true %.0f°", name, deg, sd, ok, want)
				if !ok || math.Abs(deg-want) > 2*sd || math.Abs(deg-want) > 0.4 {
					t.Errorf("%s: %.2f ± %.2f° %v, want %.0f°", name, deg, sd, ok, want)
				}
			}
		})
	}
}

// Hard-pressed and resized clips give no wrong level.
func TestPressedClips(t *testing.T) {
	folder := rendered(t)
	ways := map[string][]string{
		"h264.mp4":       {"-c:v", "libx264", "-crf", "36"},
		"mjpeg.avi":      {"-c:v", "mjpeg", "-q:v", "31"},
		"small.mp4":      {"-vf", "scale=640:-2", "-c:v", "libx264", "-crf", "38"},
		"upright.mp4":    {"-vf", "crop=300:540:500:0", "-c:v", "libx264", "-crf", "32"},
		"noisy-h264.mp4": {"-vf", "noise=alls=25:allf=t", "-c:v", "libx264", "-crf", "36"},
	}
	for _, name := range []string{"cmu_m_roll3_60", "cmu_m_c162_30"} {
		source := filepath.Join(folder, name+".mp4")
		want := trueRoll(t, source)
		for way, args := range ways {
			t.Run(name+"/"+way, func(t *testing.T) {
				file := filepath.Join(t.TempDir(), way)
				args := append([]string{"-v", "error", "-nostdin", "-i", source, "-t", "1.5", "-an"}, append(args, file)...)
				if out, err := exec.Command("ffmpeg", args...).CombinedOutput(); err != nil {
					t.Fatalf("ffmpeg: %v\n%s", err, out)
				}
				for _, side := range []int{0, 400} {
					deg, sd, ok := scene.Level(sixFrames(t, file, side), nil)
					t.Logf("longest side %d: %.2f ± %.2f° %v, true %.0f°", side, deg, sd, ok, want)
					if ok && math.Abs(deg-want) > 2.5*sd {
						t.Errorf("longest side %d: %.2f ± %.2f°, want %.0f°", side, deg, sd, want)
					}
				}
			})
		}
	}
}
