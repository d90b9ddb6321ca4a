package measure

import (
	"math"
	"testing"
)

// Worked rows of the model of Morin et al. 2005, doi 10.1123/jab.21.2.167
// (arithmetic by hand from the published formulas).
func TestSineSpringWorkedRows(t *testing.T) {
	for _, c := range []struct {
		m, v, tc, tf, leg                   float64
		force, drop, vertical, legDrop, knm float64
	}{
		{70, 3.0, .25, .10, .93, 1510.13, .05997, 25180, .13893, 10870},
		{70, 3.3333, .24, .11, .9275, 1573.05, .06052, 25993, .15120, 10403},
		{60, 4.0, .22, .12, .90, 1428.88, .05744, 24878, .17232, 8292},
		{75, 2.5, .30, .06, .95, 1386.86, .05826, 23805, .13540, 10242},
	} {
		s, ok := SineSpring(c.m, c.v, c.tc, c.tf, c.leg)
		if !ok {
			t.Fatalf("%+v refused", c)
		}
		near := func(what string, got, want, tol float64) {
			if math.Abs(got-want) > tol {
				t.Errorf("%s: got %.5g, want %.5g", what, got, want)
			}
		}
		near("peak force", s.PeakForceN, c.force, 0.01)
		near("drop of the centre of mass", s.CentreDropM, c.drop, 1e-5)
		near("vertical stiffness", s.VerticalNM, c.vertical, 1)
		near("leg compression", s.LegDropM, c.legDrop, 1e-5)
		near("leg stiffness", s.LegNM, c.knm, 1)
		// Identity: Fmax/BW = π/(4·duty factor).
		duty := c.tc / (2 * (c.tc + c.tf))
		near("force identity", s.PeakForceN/(c.m*gravity), math.Pi/(4*duty), 1e-9)
	}
	if _, ok := SineSpring(70, 1.4, 0.6, -0.1, 0.9); ok {
		t.Error("walking has no flight and must be refused")
	}
}

// The times of the same rows: steps a minute, duty factor and step length by
// hand (definitions as in Morin et al. 2005); and contact time × stride rate
// is the duty factor that Karamanidis & Arampatzis 2005 (J Exp Biol 208; from
// memory) print for their groups, within what averaging does.
func TestTimesBelongTogether(t *testing.T) {
	for _, c := range []struct{ v, tc, tf, spm, duty, step float64 }{
		{3.0, .25, .10, 171.43, .3571, 1.050}, {3.3333, .24, .11, 171.43, .3429, 1.167},
		{4.0, .22, .12, 176.47, .3235, 1.360}, {2.5, .30, .06, 166.67, .4167, 0.900},
	} {
		spm := 60 / (c.tc + c.tf)
		if duty := c.tc / (2 * (c.tc + c.tf)); math.Abs(spm-c.spm) > 0.005 || math.Abs(duty-c.duty) > 5e-5 {
			t.Errorf("%+v: %.3f steps/min, duty factor %.5f", c, spm, duty)
		}
		if step := 60 * c.v / spm; math.Abs(step-c.step) > 0.0005 { // step length = 60·v / step rate
			t.Errorf("%+v: step of %.4f m", c, step)
		}
	}
	for _, c := range []struct{ contact, strideHz, duty float64 }{
		{.271, 1.31, .355}, {.282, 1.28, .367}, {.276, 1.41, .389}, {.284, 1.38, .388},
	} {
		if got := c.contact * c.strideHz; math.Abs(got-c.duty) > 0.008 {
			t.Errorf("%.3f s at %.2f strides/s: %.3f, printed %.3f", c.contact, c.strideHz, got, c.duty)
		}
	}
}

// Limits of Altman & Davis 2012 (from memory); the values near them are
// worked by hand.
func TestClassify(t *testing.T) {
	for _, c := range []struct {
		angle float64
		want  string
	}{{8.0, "midfoot"}, {9.0, "rearfoot"}, {-1.0, "midfoot"}, {-2.0, "forefoot"}, {20, "rearfoot"}, {-15, "forefoot"}} {
		if got, _ := Classify(c.angle, 0); got != c.want {
			t.Errorf("%.1f°: %s, want %s", c.angle, got, c.want)
		}
	}
	// Typical error of a foot strike angle from 2-D video 2.5°: near a limit
	// no class is sure.
	_, p := Classify(8.0, 2.5)
	if math.Abs(p["rearfoot"]-0.5) > 1e-9 || p["midfoot"] < 0.45 {
		t.Errorf("at the limit: %v", p)
	}
	// Another fit puts the limits at −0.8 and 7.4° (Mo et al. 2023): between
	// either pair, with that error, no class may be called sure.
	for _, angle := range []float64{-1.6, -1.2, -0.8, 7.4, 7.7, 8.0} {
		class, p := Classify(angle, 2.5)
		if p[class] > 0.65 {
			t.Errorf("%.1f°: %s with %.2f", angle, class, p[class])
		}
	}
	if sum := p["rearfoot"] + p["midfoot"] + p["forefoot"]; math.Abs(sum-1) > 1e-12 {
		t.Errorf("classes sum to %v", sum)
	}
}
