package measure

import (
	"math"
	"math/rand/v2"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/standin"
	"plumbstride/internal/track"
)

// A runner whose feet really land and leave differently keeps that difference,
// within the intervals, where both feet's events are matched.
func TestUnevenFeetStayUneven(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*standin.Runner)
	}{
		{"steps and contacts", func(r *standin.Runner) {
			r.StepTimeAsymmetryPct, r.ContactS = 9, standin.Pair{Left: 0.262, Right: 0.236}
		}},
		{"knees", func(r *standin.Runner) { r.KneeContactDeg = standin.Pair{Left: 12, Right: 22} }},
		{"heel and ball", func(r *standin.Runner) {
			r.FootContactDeg = standin.Pair{Left: 15, Right: -4}
		}},
		{"landing", func(r *standin.Runner) { r.LandingM = standin.Pair{Left: 0.16, Right: 0.22} }},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := standin.DefaultRunner()
			r.StepSpread = 0.5
			c.change(&r)
			cam := standin.DefaultCamera()
			cam.RateHz, cam.NoisePx = 60, 1
			rng := rand.New(rand.NewPCG(7, 8))
			tr, truth, err := standin.Track(r, cam, 10, rng)
			if err != nil {
				t.Fatal(err)
			}
			tr.Network = "full+legs"
			g, err := gait.Analyse(track.Smooth(tr), gait.Facts{HeightM: r.HeightM, Level: gait.Level{SD: 0.3, Known: true}})
			if err != nil {
				t.Fatal(err)
			}
			judged := 0
			ms, _ := All(g, Who{HeightM: r.HeightM})
			for _, m := range ms {
				switch m.Name {
				case "contact_time", "step_time_asymmetry", "shank_angle", "knee_flexion_contact", "landing_distance", "foot_strike_angle":
				default:
					continue
				}
				want, ok := truth.Value(m.Name, m.Unit, m.Side)
				if !ok {
					continue
				}
				judged++
				if want.Value < m.Low || want.Value > m.High {
					t.Errorf("%s %s: %.2f to %.2f %s, truth %.2f", m.Name, m.Side, m.Low, m.High, m.Unit, want.Value)
				}
			}
			if judged < 13 {
				t.Errorf("%d measures to hold against the truth, 13 expected", judged)
			}
			for _, s := range []form.Side{form.Left, form.Right} {
				if c := g.Cycles[s]; math.Abs(c.ContactMoved) > 0.003 || math.Abs(c.ToeOffMoved) > 0.006 {
					t.Errorf("the %s foot's contact was moved by %.1f ms and its toe-off by %.1f, though the points are exact", s, 1e3*c.ContactMoved, 1e3*c.ToeOffMoved)
				}
			}
		})
	}
}
