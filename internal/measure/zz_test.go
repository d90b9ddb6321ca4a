package measure

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/geom"
	"plumbstride/internal/standin"
	"plumbstride/internal/track"
	"testing"
	"time"
)

func TestZS(t *testing.T) {
	for i := range 12 {
		rng := rand.New(rand.NewPCG(7, uint64(i)))
		r, cam := standin.Random(rng)
		if os.Getenv("CLEAN") != "" {
			cam.NoisePx = 0.1
			cam.Dropout = 0
			cam.RollDeg = 0
			cam.YawDeg = 0
		}
		t0 := time.Now()
		tr, truth, _ := standin.Track(r, cam, 8, rng)
		t1 := time.Now()
		g, err := gait.Analyse(track.Smooth(tr), gait.Facts{HeightM: r.HeightM})
		if err != nil {
			fmt.Println(err)
			continue
		}
		t2 := time.Now()
		got, _ := All(g, Who{HeightM: r.HeightM})
		t3 := time.Now()
		for _, mm := range got {
			if w, ok := truth.Value(mm.Name, mm.Unit, mm.Side); ok {
				if os.Getenv("SHOW") == mm.Name {
					fmt.Printf("%s %s %.2f true %.2f diff %+.2f sd %.2f; ", mm.Name, mm.Side, mm.Value, w.Value, mm.Value-w.Value, mm.SD)
				}
			}
		}
		e := map[string][]float64{}
		for _, x := range g.Events {
			best := 1.0
			for _, y := range truth.Events {
				if y.Kind == x.Kind && y.Side == x.Side && math.Abs(x.Time-y.Time) < math.Abs(best) {
					best = x.Time - y.Time
				}
			}
			k := string(x.Kind) + x.Side.String()
			if math.Abs(best) < .15 {
				e[k] = append(e[k], 1000*best)
			}
		}
		m := func(k string) float64 {
			s := 0.0
			for _, v := range e[k] {
				s += v
			}
			return s / float64(len(e[k]))
		}
		fmt.Printf("%2d v%.1f fsa%+.0f con L%+.0f R%+.0f off L%+.0f R%+.0f roll %.1f/%.1f yaw %.1f/%.1f rate %.0f  gen %v an %v me %v\n", i, r.SpeedMS, r.FootContactDeg.Left, m("contactleft"), m("contactright"), m("toe_offleft"), m("toe_offright"), g.Plane.RollDeg, cam.RollDeg, g.Plane.YawDeg, -cam.YawDeg, cam.RateHz, t1.Sub(t0).Round(time.Millisecond), t2.Sub(t1).Round(time.Millisecond), t3.Sub(t2).Round(time.Millisecond))
		if os.Getenv("DUMP") == fmt.Sprint(i) {
			for _, s := range []form.Side{form.Left} {
				c := g.Cycles[s]
				fmt.Println(s, c.ContactS, c.ToeOffS)
				for tt := -0.16; tt < 0.26; tt += 0.0125 {
					h, hv, _, _ := c.At(form.At(form.Heel, s), tt)
					q, qv, _, _ := c.At(form.At(form.Toe, s), tt)
					a, av, _, _ := c.At(form.At(form.Ankle, s), tt)
					fmt.Printf("%+.3f heelY %.3f toeY %.3f ankY %.3f v heel %.2f toe %.2f ank %.2f ankX %.3f foot %.1f\n", tt, h.Y, q.Y, a.Y, hv.X, qv.X, av.X, a.X, geom.Slope(h, q))
				}
			}
		}
	}
}
