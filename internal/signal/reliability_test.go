package signal

import (
	"math"
	"testing"
)

// The worked example of a reliability study in nephrology (jasn.asnjournals.org
// markup/10818): mean squares 19.67 between 71 patients and 1.64 of the error
// give a variance of 9.02, an ICC of 0.846 and a smallest detectable
// difference of 3.55.
func TestPublishedReliability(t *testing.T) {
	if icc := ICC(19.67, 1.64); math.Abs(icc-0.846) > 0.0005 {
		t.Errorf("ICC %.4f", icc)
	}
	if mdc := MDC95(math.Sqrt(1.64)); math.Abs(mdc-3.55) > 0.005 {
		t.Errorf("smallest detectable difference %.4f", mdc)
	}
}

// MDC arithmetic by hand from SEM = SD·√(1 − ICC) and MDC95 = 1.96·√2·SEM
// (Weir 2005, from memory).
func TestMDC(t *testing.T) {
	for _, c := range []struct{ sd, icc, sem, mdc float64 }{
		{5, 0.90, 1.581, 4.383}, {3, 0.80, 1.342, 3.719},
	} {
		if sem := SEM(c.sd, c.icc); math.Abs(sem-c.sem) > 0.0005 || math.Abs(MDC95(sem)-c.mdc) > 0.0005 {
			t.Errorf("SD %g, ICC %g: SEM %.4f, MDC %.4f", c.sd, c.icc, SEM(c.sd, c.icc), MDC95(SEM(c.sd, c.icc)))
		}
	}
	// The typical error of a foot strike angle by 2-D video, 2.5° (240 Hz, 155
	// videos), makes 6.9°: more than the width of the midfoot class's margin.
	for sem, mdc := range map[float64]float64{1: 2.772, 2.5: 6.930} {
		if math.Abs(MDC95(sem)-mdc) > 0.0005 {
			t.Errorf("SEM %g: %.4f", sem, MDC95(sem))
		}
	}
}
