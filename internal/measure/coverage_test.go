package measure

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"testing"

	"plumbstride/internal/body"
	"plumbstride/internal/gait"
	"plumbstride/internal/signal"
	"plumbstride/internal/standin"
	"plumbstride/internal/track"
)

var runners = flag.Int("runners", 200, "how many invented runners the coverage test draws")

// TestCoverage draws invented runners and cameras and asks that the truth lie
// within the 95 % interval of each measure at least 93 % of the time.
func TestCoverage(t *testing.T) {
	type count struct {
		hit, n   int
		errs, zs []float64
	}
	counts := map[string]*count{}
	refused, unusable := map[string]int{}, map[string]int{}
	for i := range *runners {
		rng := rand.New(rand.NewPCG(7, uint64(i)))
		r, cam := standin.Random(rng)
		tr, truth, err := standin.Track(r, cam, 8, rng)
		if err != nil {
			t.Fatalf("runner %d: %v", i, err)
		}
		g, err := gait.Analyse(track.Smooth(tr), gait.Facts{HeightM: r.HeightM})
		if err != nil {
			unusable[err.Error()]++
			continue
		}
		got, no := All(g, Who{HeightM: r.HeightM, Sex: body.NotStated})
		for _, x := range no {
			refused[x.Name+": "+x.Reason]++
		}
		for _, m := range got {
			want, ok := truth.Value(m.Name, m.Unit, m.Side)
			if !ok {
				continue
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
		}
	}
	for why, n := range unusable {
		t.Logf("%d clips refused: %s", n, why)
	}
	for why, n := range refused {
		t.Logf("%d × refused: %s", n, why)
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
		t.Logf("%-32s n %3d  within %5.1f %%  bias %+7.3f  error sd %6.3f  z sd %.2f  worst %s", k, c.n, 100*share, bias, sd, signal.RobustSD(c.zs), worst(c.errs))
		if share < 0.93 {
			t.Errorf("%s: the 95 %% interval holds the truth in %.1f %% of %d cases, less than 93 %%", k, 100*share, c.n)
		}
	}
	if n := len(unusable); n > *runners/20 {
		t.Errorf("%d clips refused", n)
	}
}

func worst(errs []float64) string {
	m := 0.0
	for _, e := range errs {
		if math.Abs(e) > math.Abs(m) {
			m = e
		}
	}
	return fmt.Sprintf("%+.2f", m)
}
