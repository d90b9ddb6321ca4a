package check

import (
	"context"
	"flag"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"

	"plumbstride/internal/signal"
	"plumbstride/internal/standin"
)

// The study of what a network adds to each measure on clips of invented
// runners: go test ./internal/check -run Bias -bias 12 [-bias.network full] -v
var (
	biasClips   = flag.Int("bias", 0, "how many invented runners the study of the networks' bias renders")
	biasNetwork = flag.String("bias.network", "", "network, or the usual mix")
)

// anyScene is an invented runner's clothes, light and camera; the seed is drawn
// last.
func anyScene(rng *rand.Rand, seed func() uint64) standin.Scene {
	return standin.Scene{Look: standin.RandomLook(rng), Light: 0.5 + 0.5*rng.Float64(), Noise: 2, Shutter: 0.3 * rng.Float64(), Seed: seed()}
}

func TestBiasOfNetworks(t *testing.T) {
	if *biasClips == 0 {
		t.Skip("a study, run on request: -bias 12")
	}
	deps := realDeps(t)
	dir := t.TempDir()
	errs := map[string][]float64{}
	for i := range *biasClips {
		rng := rand.New(rand.NewPCG(2026, uint64(i)))
		r, cam := standin.Random(rng)
		cam.Width, cam.Height, cam.RateHz = 960, 540, 60
		path := filepath.Join(dir, fmt.Sprintf("%d.mp4", i))
		truth, err := standin.WriteClip(context.Background(), deps.Tools.FFmpeg, path, r, cam, anyScene(rng, func() uint64 { return uint64(i) }), 5, rng, nil)
		if err != nil {
			t.Fatal(err)
		}
		out, err := Clip(context.Background(), deps, path, Ask{HeightM: r.HeightM, Network: *biasNetwork})
		if err != nil {
			t.Logf("runner %d: %v", i, err)
			continue
		}
		keepTrack(t, fmt.Sprintf("runner%d", i), out.Track)
		for _, x := range out.Card.Measures {
			if want, ok := truth.Value(x.Name, x.Unit, x.Side); ok {
				key := x.Name + " " + x.Unit
				errs[key] = append(errs[key], x.Value-want.Value)
			}
		}
		t.Logf("runner %d of %d: strike %.0f°", i+1, *biasClips, r.FootContactDeg.Left)
	}
	keys := slices.Sorted(maps.Keys(errs))
	for _, k := range keys {
		mean, sd := signal.MeanSD(errs[k])
		t.Logf("%-32s n %3d  mean %+7.2f  sd %5.2f  median %+7.2f  robust sd %5.2f  sem %.2f",
			k, len(errs[k]), mean, sd, signal.Median(errs[k]), signal.RobustSD(errs[k]), sd/math.Sqrt(float64(len(errs[k]))))
	}
}
