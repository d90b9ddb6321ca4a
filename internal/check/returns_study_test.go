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

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/signal"
	"plumbstride/internal/standin"
)

// The study of what returns of a network's part from one evening to another:
// go test ./internal/check -run Returns -returns 6 -v -timeout 60m
var returnsRunners = flag.Int("returns", 0, "how many invented runners the study of two evenings films")

// evening films an invented runner as on one evening: other clothes, light,
// room and camera, the same side.
func evening(t *testing.T, deps Deps, r standin.Runner, facing form.Side, name string, rng *rand.Rand) (map[string]card.Measure, standin.Truth) {
	t.Helper()
	cam := standin.RandomCamera(r, rng)
	cam.Facing, cam.Width, cam.Height, cam.RateHz = facing, 960, 540, 60
	cam.YawDeg, cam.RollDeg = 6*rng.Float64()-3, 3*rng.Float64()-1.5
	scene := anyScene(rng, rng.Uint64)
	path := filepath.Join(t.TempDir(), name+".mp4")
	truth, err := standin.WriteClip(context.Background(), deps.Tools.FFmpeg, path, r, cam, scene, 5, rng, nil)
	if err != nil {
		t.Fatal(err)
	}
	out, err := Clip(context.Background(), deps, path, Ask{HeightM: r.HeightM})
	if err != nil {
		t.Logf("%s: %v", name, err)
		return nil, truth
	}
	keepTrack(t, name, out.Track)
	found := map[string]card.Measure{}
	for _, m := range out.Card.Measures {
		found[m.Name+" "+m.Unit+" "+m.Side.String()] = m
	}
	return found, truth
}

// For each measure: how far the errors of two evenings differ, against the
// parts that don't return (own) and twice the lasting part. What is left over
// own, as a share of 2·lasting², is 1 − returns.
func TestReturns(t *testing.T) {
	if *returnsRunners == 0 {
		t.Skip("a study, run on request: -returns 6")
	}
	deps := realDeps(t)
	type sums struct{ square, own, lasting []float64 }
	all := map[string]*sums{}
	for i := range *returnsRunners {
		rng := rand.New(rand.NewPCG(4711, uint64(i)))
		r, cam := standin.Random(rng)
		one, truth1 := evening(t, deps, r, cam.Facing, fmt.Sprintf("%d-1", i), rng)
		two, truth2 := evening(t, deps, r, cam.Facing, fmt.Sprintf("%d-2", i), rng)
		for key, a := range one {
			b, ok := two[key]
			want1, ok1 := truth1.Value(a.Name, a.Unit, a.Side)
			want2, ok2 := truth2.Value(a.Name, a.Unit, a.Side)
			if !ok || !ok1 || !ok2 || a.SDLasting == 0 {
				continue
			}
			d := (b.Value - want2.Value) - (a.Value - want1.Value)
			s := all[a.Name+" "+a.Unit]
			if s == nil {
				s = &sums{}
				all[a.Name+" "+a.Unit] = s
			}
			s.square = append(s.square, d*d)
			s.own = append(s.own, a.SD*a.SD-a.SDLasting*a.SDLasting+b.SD*b.SD-b.SDLasting*b.SDLasting)
			s.lasting = append(s.lasting, a.SDLasting*a.SDLasting+b.SDLasting*b.SDLasting)
		}
		t.Logf("runner %d of %d", i+1, *returnsRunners)
	}
	keys := slices.Sorted(maps.Keys(all))
	var differs, claims []float64
	for _, k := range keys {
		s := all[k]
		square, _ := signal.MeanSD(s.square)
		own, _ := signal.MeanSD(s.own)
		lasting, _ := signal.MeanSD(s.lasting)
		t.Logf("%-32s n %3d  rms difference %6.2f  own %6.2f  lasting (two) %6.2f  of the lasting part differs %+.2f",
			k, len(s.square), math.Sqrt(square), math.Sqrt(own), math.Sqrt(lasting), (square-own)/lasting)
		differs, claims = append(differs, square/lasting), append(claims, (square-own)/lasting)
	}
	t.Logf("of the lasting variance differs: median %.2f if own is as claimed, at most %.2f if own were nothing", signal.Median(claims), signal.Median(differs))
}
