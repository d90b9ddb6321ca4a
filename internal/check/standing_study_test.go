package check

import (
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"plumbstride/internal/clip"
	"plumbstride/internal/form"
	"plumbstride/internal/geom"
	"plumbstride/internal/pose"
	"plumbstride/internal/signal"
	"plumbstride/internal/standin"
)

// The study of where a network puts the points of somebody standing, on
// pictures of invented people:
//
//	go test ./internal/check -run StandingStudy -standing 60 [-standing.network full] -v
var (
	standingStudy   = flag.Int("standing", 0, "how many invented people the study of the standing placing draws")
	standingNetwork = flag.String("standing.network", "heavy", "the network studied")
)

// TestStandingStudy gives, by view, point and limb, the mean and the spread
// of what the network is off from the joint, in % of body height: forward and
// up from the side, outward and up from the front.
func TestStandingStudy(t *testing.T) {
	if *standingStudy == 0 {
		t.Skip("a study, run on request: -standing 60")
	}
	deps := realDeps(t)
	dir := t.TempDir()
	along, up := map[string][]float64{}, map[string][]float64{}
	for i := range *standingStudy {
		rng := rand.New(rand.NewPCG(77, uint64(i)))
		r, cam := standin.RandomStander(rng, []form.View{form.ViewSide, form.ViewFront}[i%2])
		cam.Width, cam.Height, cam.RateHz = 960, 720, 20
		path := filepath.Join(dir, fmt.Sprintf("%d.mp4", i))
		scene := standin.Scene{Look: standin.RandomLook(rng), Light: 0.6 + 0.4*rng.Float64(), Noise: 2, Seed: uint64(i)}
		if _, err := standin.WriteClip(context.Background(), ffmpegOf(deps), path, r, cam, scene, 0.35, rng, nil); err != nil {
			t.Fatal(err)
		}
		m, err := standin.NewMotion(r, 0.35, nil)
		if err != nil {
			t.Fatal(err)
		}
		cam.NoisePx, cam.Dropout = 0, 0
		seen := studied(t, deps, path)
		if seen == nil {
			t.Logf("person %d is not found", i)
			continue
		}
		misplaced(medians(*seen), medians(m.Track(cam, nil)), cam, along, up)
	}
	for _, view := range []form.View{form.ViewSide, form.ViewFront} {
		for pt := form.Ear; pt <= form.Toe; pt++ {
			for _, limb := range []string{"near", "far", "both"} {
				k := fmt.Sprintf("%-5s %-8s %-4s", view, pt, limb)
				if len(along[k]) > 0 {
					x, sx := signal.MeanSD(along[k])
					y, sy := signal.MeanSD(up[k])
					t.Logf("%s n %3d  along %+5.2f ± %4.2f  up %+5.2f ± %4.2f %% of height", k, len(along[k]), x, sx, y, sy)
				}
			}
		}
	}
}

// studied is what the network makes of a clip; nil where nobody is found.
func studied(t *testing.T, deps Deps, path string) *form.Track {
	t.Helper()
	info, err := clip.Probe(context.Background(), deps.Tools, path, clip.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	reader, err := clip.Open(context.Background(), deps.Tools, info, clip.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer reader.Close()
	found, err := pose.Find(context.Background(), deps.Networks, reader, len(info.Times), pose.Options{Measure: *standingNetwork, Twice: true})
	if err != nil {
		return nil
	}
	return &found.Track
}

// medians gives each joint's median place, pixels.
func medians(tr form.Track) map[form.Joint]geom.Vec {
	out := map[form.Joint]geom.Vec{}
	for j := range form.Joint(form.NumJoints) {
		var x, y []float64
		for i := range tr.Frames {
			if s := tr.Frames[i].Spots[j]; s.Seen() {
				x, y = append(x, s.X), append(y, s.Y)
			}
		}
		if len(x) > 0 {
			out[j] = geom.Vec{X: signal.Median(x), Y: signal.Median(y)}
		}
	}
	return out
}

// misplaced adds one person's offsets. Thigh and shank are 0.491 of the
// body's height.
func misplaced(seen, truth map[form.Joint]geom.Vec, cam standin.Camera, along, up map[string][]float64) {
	near := form.Right
	if cam.View == form.ViewSide {
		near = cam.Facing
	}
	at := func(pt form.Point) geom.Vec { return truth[form.At(pt, near)] }
	leg := at(form.Knee).Sub(at(form.Hip)).Norm() + at(form.Ankle).Sub(at(form.Knee)).Norm()
	percent := 100 * 0.491 / leg
	for pt := form.Ear; pt <= form.Toe; pt++ {
		for _, s := range []form.Side{form.Left, form.Right} {
			a, ok1 := seen[form.At(pt, s)]
			b, ok2 := truth[form.At(pt, s)]
			if !ok1 || !ok2 {
				continue
			}
			limb, dir := "both", 1.0
			switch {
			case cam.View == form.ViewFront && s == form.Right, cam.View == form.ViewSide && cam.Facing == form.Left:
				dir = -1
			}
			if cam.View == form.ViewSide {
				limb = "far"
				if s == near {
					limb = "near"
				}
			}
			k := fmt.Sprintf("%-5s %-8s %-4s", cam.View, pt, limb)
			along[k] = append(along[k], dir*percent*(a.X-b.X))
			up[k] = append(up[k], -percent*(a.Y-b.Y))
		}
	}
}
