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
	if sum := p["rearfoot"] + p["midfoot"] + p["forefoot"]; math.Abs(sum-1) > 1e-12 {
		t.Errorf("classes sum to %v", sum)
	}
}
