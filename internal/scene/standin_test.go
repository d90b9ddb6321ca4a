package scene_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/scene"
	"plumbstride/internal/standin"
)

// Clips of the invented runner: the truth is the camera that they were drawn
// with, whose roll turns the picture clockwise.
func TestInventedRunner(t *testing.T) {
	runner, camera, look, _ := standin.Demo()
	for i, roll := range []float64{0, -4, -1.2, 0.6, 2, 5} {
		cam := camera
		cam.RollDeg, cam.RateHz = roll, 10
		switch i % 3 {
		case 1:
			cam.HeightM += 0.3 // looks down
			cam.Facing = form.Left
		case 2:
			cam.YawDeg = 12
		}
		t.Run(fmt.Sprintf("roll %g", roll), func(t *testing.T) {
			file := filepath.Join(t.TempDir(), "clip.mp4")
			rng := rand.New(rand.NewPCG(uint64(i), 1))
			if _, err := standin.WriteClip(context.Background(), "ffmpeg", file, runner, cam, look, 1.2, rng, nil); err != nil {
				t.Fatal(err)
			}
			frames := sixFrames(t, file, 0)
			for name, boxes := range map[string][]scene.Box{"whole": nil, "runner left out": middle(frames)} {
				deg, sd, ok := scene.Level(frames, boxes)
				t.Logf("%s: %.2f ± %.2f° %v, drawn with %.1f°", name, deg, sd, ok, roll)
				if !ok || math.Abs(deg-roll) > 2*sd || math.Abs(deg-roll) > 0.5 {
					t.Errorf("%s: %.2f ± %.2f° %v, want %.1f°", name, deg, sd, ok, roll)
				}
			}
		})
	}
}
