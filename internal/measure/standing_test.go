package measure

import (
	"flag"
	"math/rand/v2"
	"sort"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/signal"
	"plumbstride/internal/stand"
	"plumbstride/internal/standin"
)

var standers = flag.Int("standers", 300, "how many invented standing people the coverage test draws a view")

// TestStandingCoverage draws invented people standing, seen from side and
// front, half of them with a level that is known, and asks that the truth lie
// within each measure's 95 % interval about that often.
func TestStandingCoverage(t *testing.T) {
	type count struct {
		hit, n   int
		errs, zs []float64
	}
	counts := map[string]*count{}
	for i := range 2 * *standers {
		rng := rand.New(rand.NewPCG(11, uint64(i)))
		view := []form.View{form.ViewSide, form.ViewFront}[i%2]
		r, cam := standin.RandomStander(rng, view)
		tr, truth, err := standin.Track(r, cam, 1.5, rng)
		if err != nil {
			t.Fatalf("person %d: %v", i, err)
		}
		tr.View, tr.Facing = "", form.Both
		facts := stand.Facts{HeightM: r.HeightM}
		if i%4 < 2 {
			facts.Level = gait.Level{Deg: cam.RollDeg + 0.3*rng.NormFloat64(), SD: 0.3, Known: true}
		}
		p, err := stand.Find(tr, facts)
		if err != nil {
			t.Errorf("person %d (%s, yaw %.1f): %v", i, view, cam.YawDeg, err)
			continue
		}
		if p.View != view || view == form.ViewSide && p.Facing != cam.Facing {
			t.Errorf("person %d: %s facing %s, taken for %s facing %s", i, view, cam.Facing, p.View, p.Facing)
			continue
		}
		got, no := Standing(p, Who{HeightM: r.HeightM})
		for _, x := range no {
			t.Errorf("person %d: %s %s refused: %s", i, x.Name, x.Side, x.Reason)
		}
		for _, m := range got {
			want, ok := truth.Value(m.Name, m.Unit, m.Side)
			if !ok {
				t.Fatalf("no truth of %s", m.Name)
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
	keys := make([]string, 0, len(counts))
	for k := range counts {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	for _, k := range keys {
		c := counts[k]
		bias, sd := signal.MeanSD(c.errs)
		share := float64(c.hit) / float64(c.n)
		_, zsd := signal.MeanSD(c.zs)
		t.Logf("%-28s n %3d  within %5.1f %%  bias %+7.3f  error sd %6.3f  z sd %.2f", k, c.n, 100*share, bias, sd, zsd)
		if share < 0.93 || share > 0.985 {
			t.Errorf("%s: the 95 %% interval holds the truth in %.1f %% of %d cases", k, 100*share, c.n)
		}
	}
}
