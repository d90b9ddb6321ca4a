package measure

import (
	"flag"
	"math/rand/v2"
	"sort"
	"testing"

	"plumbstride/internal/gait"
	"plumbstride/internal/signal"
	"plumbstride/internal/standin"
	"plumbstride/internal/track"
)

var behind = flag.Int("behind", 60, "how many invented runners the coverage test of the view from behind draws")

// TestBackCoverage draws invented runners and cameras behind them and asks
// that the truth lie within the 95 % interval of each measure at least 93 %
// of the time.
func TestBackCoverage(t *testing.T) {
	type count struct {
		hit, n        int
		errs, zs, sds []float64
	}
	counts := map[string]*count{}
	unusable := map[string]int{}
	unmade := 0
	for i := range *behind {
		rng := rand.New(rand.NewPCG(17, uint64(i)))
		r, cam := standin.RandomBehind(rng)
		tr, truth, err := standin.Track(r, cam, 8, rng)
		if err != nil { // rare: a body that no steps fit
			unmade++
			continue
		}
		facts := gait.Facts{HeightM: r.HeightM}
		if i%2 == 0 { // as with a clip from the side, and a level seen
			facts.SpeedMS, facts.Level = r.SpeedMS, gait.Level{Deg: cam.RollDeg + 0.2*rng.NormFloat64(), SD: 0.2, Known: true}
		}
		b, err := gait.Behind(track.Smooth(tr), facts)
		if err != nil {
			unusable[err.Error()]++
			continue
		}
		got, refused := Behind(b)
		if len(refused) > 3 {
			t.Errorf("runner %d: %v", i, refused)
		}
		for _, m := range got {
			want, ok := truth.Value(m.Name, m.Unit, m.Side)
			if !ok {
				t.Fatalf("no truth of %s (%s) %s", m.Name, m.Unit, m.Side)
			}
			key := m.Name + " " + m.Unit
			if counts[key] == nil {
				counts[key] = &count{}
			}
			c := counts[key]
			c.n++
			if want.Value >= m.Low && want.Value <= m.High {
				c.hit++
			}
			c.errs = append(c.errs, m.Value-want.Value)
			c.zs = append(c.zs, (m.Value-want.Value)/m.SD)
			c.sds = append(c.sds, m.SD)
		}
	}
	n := unmade
	for why, k := range unusable {
		t.Logf("%d clips refused: %s", k, why)
		n += k
	}
	if n > *behind/20 {
		t.Errorf("%d of %d clips refused", n, *behind)
	}
	keys := make([]string, 0, len(counts))
	for k := range counts {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	for _, k := range keys {
		c := counts[k]
		bias, sd := signal.MeanSD(c.errs)
		share := float64(c.hit) / float64(c.n)
		t.Logf("%-28s n %3d  within %5.1f %%  bias %+7.3f  error sd %6.3f  stated sd %.2f  z sd %.2f  worst %s", k, c.n, 100*share, bias, sd, signal.Median(c.sds), signal.RobustSD(c.zs), worst(c.errs))
		if share < 0.93 {
			t.Errorf("%s: the 95 %% interval holds the truth in %.1f %% of %d cases, less than 93 %%", k, 100*share, c.n)
		}
	}
}
