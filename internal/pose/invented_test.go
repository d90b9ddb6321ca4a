package pose

import (
	"context"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/standin"
)

// inventedClip renders a random invented runner seen by a random camera for
// three seconds, and gives the clip's path and its truth. The same seed gives
// the same clip.
func inventedClip(t testing.TB, seed uint64) (string, *truthClip) {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 11))
	runner, camera := standin.Random(rng)
	camera.Width, camera.Height, camera.RateHz = 1280, 720, 60
	camera.NoisePx, camera.Dropout = 0, 0
	scene := standin.DefaultScene()
	scene.Look, scene.Seed = standin.RandomLook(rng), seed
	const seconds = 3
	path := filepath.Join(t.TempDir(), fmt.Sprintf("invented_%02d.mp4", seed))
	truth, err := standin.WriteClip(context.Background(), "ffmpeg", path, runner, camera, scene, seconds, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	track, _, err := standin.Track(runner, camera, seconds, nil)
	if err != nil {
		t.Fatal(err)
	}
	tr := &truthClip{name: fmt.Sprintf("invented_%02d", seed), facing: 1}
	if camera.Facing == form.Left {
		tr.facing = -1
	}
	// Pixels per metre at the runner's distance, from the field of view.
	m, err := standin.NewMotion(runner, seconds, nil)
	if err != nil {
		t.Fatal(err)
	}
	lens := camera.Lens()
	pose := m.Pose(0)
	_, y1, _ := lens.Project(pose.Pelvis)
	_, y2, _ := lens.Project(standin.Vec3{X: pose.Pelvis.X, Y: pose.Pelvis.Y + 1, Z: pose.Pelvis.Z})
	tr.scale = 1 / (y1 - y2)
	for i := range track.Frames {
		f := &track.Frames[i]
		places := map[string][2]float64{}
		for j, spot := range f.Spots {
			if spot.Seen() {
				places[strings.ReplaceAll(form.Joint(j).String(), " ", "_")] = [2]float64{spot.X, spot.Y}
			}
		}
		tr.pixels = append(tr.pixels, places)
		for s, side := range []form.Side{form.Left, form.Right} {
			down, strike := stanceAt(truth.Events, side, f.Time, 0.51/camera.RateHz)
			tr.stance[s], tr.strike[s] = append(tr.stance[s], down), append(tr.strike[s], strike)
		}
	}
	return path, tr
}

// stanceAt tells whether a foot is down at a time, and whether it lands
// within a margin of it.
func stanceAt(events []form.Event, side form.Side, t, margin float64) (down, strike bool) {
	for _, e := range events {
		if e.Side != side {
			continue
		}
		if e.Kind == form.Contact {
			strike = strike || t >= e.Time-margin && t <= e.Time+margin
		}
		if e.Time <= t {
			down = e.Kind == form.Contact
		}
	}
	return down, strike
}
