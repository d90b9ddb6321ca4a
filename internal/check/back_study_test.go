package check

import (
	"context"
	"flag"
	"fmt"
	"maps"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"

	"plumbstride/internal/signal"
	"plumbstride/internal/standin"
)

var behindClips = flag.Int("behind", 0, "how many invented runners from behind the study of the networks' bias renders")

// The study of what the network adds to each measure from behind, on clips of
// invented runners: go test ./internal/check -run BackBias -behind 24 -v
func TestBackBiasOfNetworks(t *testing.T) {
	if *behindClips == 0 {
		t.Skip("a study, run on request: -behind 24")
	}
	deps := realDeps(t)
	dir := t.TempDir()
	errs, within := map[string][]float64{}, map[string]int{}
	for i := range *behindClips {
		rng := rand.New(rand.NewPCG(2027, uint64(i)))
		r, cam := standin.RandomBehind(rng)
		cam.RateHz, cam.Width, cam.Height = 60, 720, 1280
		path := filepath.Join(dir, fmt.Sprintf("%d.mp4", i))
		scene := anyScene(rng, func() uint64 { return uint64(i) })
		truth, err := standin.WriteClip(context.Background(), deps.Tools.FFmpeg, path, r, cam, scene, 5, rng, nil)
		if err != nil {
			t.Fatal(err)
		}
		out, err := Clip(context.Background(), deps, path, Ask{HeightM: r.HeightM, SpeedMS: r.SpeedMS, View: "back"})
		if err != nil {
			t.Logf("runner %d: %v", i, err)
			continue
		}
		for _, x := range out.Card.Measures {
			if want, ok := truth.Value(x.Name, x.Unit, x.Side); ok {
				key := x.Name + " " + x.Unit
				errs[key] = append(errs[key], x.Value-want.Value)
				if want.Value >= x.Low && want.Value <= x.High {
					within[key]++
				}
			}
		}
	}
	keys := slices.Sorted(maps.Keys(errs))
	for _, k := range keys {
		mean, sd := signal.MeanSD(errs[k])
		t.Logf("%-28s n %3d  mean %+6.2f  sd %5.2f  median %+6.2f  within %3.0f %%",
			k, len(errs[k]), mean, sd, signal.Median(errs[k]), 100*float64(within[k])/float64(len(errs[k])))
	}
}
