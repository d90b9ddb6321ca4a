package practice

import (
	"math"
	"slices"

	"plumbstride/internal/signal"
)

// Interval is a value with its standard uncertainty and the interval that
// holds the truth with 95 % by Student's t.
type Interval struct {
	Value float64 `json:"value"`
	SD    float64 `json:"sd"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// with95 makes an interval from an uncertainty with so many degrees of
// freedom.
func with95(value, sd, freedom float64) Interval {
	half := signal.Student975(freedom) * sd
	return Interval{value, sd, value - half, value + half}
}

// huber is where a residual begins to count less, in standard deviations: 95 %
// efficient with normal errors (Huber 1981, Robust Statistics: k = 1.345).
const huber = 1.345

// slopes are how a runner's cadence goes with speed and grade within their
// runs: the runner is their own baseline.
type slopes struct {
	speed, grade     float64 // steps/min for 1 m/s; for a grade of 1
	speedSD, gradeSD float64
	freedom          float64
	runs             []level
}

// level is one run's middle: means over its samples, each weighing less the
// further its cadence lies off the line.
type level struct {
	run                  int
	cadence, mps, grade  float64
	n                    int
	weights, cad, vs, gs []float64
}

// Bounds of slopes that can be: where runs are so even that the slope is
// hardly known, these priors stand in. A runner's cadence goes up by some 3 to
// 13 steps/min for 1 m/s: 5.6 (Burns, Zendler and Zernicke 2019, doi
// 10.1152/japplphysiol.00374.2018), 6.6 outdoors (doi
// 10.1080/17461391.2019.1626911: +3 steps/min for +15 % of 3.04 m/s), 11.6
// (van Oeveren and others 2017, doi 10.1371/journal.pone.0184273: 154, 158,
// 160 at 2.4, 2.6, 2.9 m/s). For the grade there is no figure here: none is
// expected, and much is allowed.
const (
	priorSpeed, priorSpeedSD = 8.0, 4.0
	priorGrade, priorGradeSD = 0.0, 60.0
)

// blockSamples is how many half minutes are taken as one observation when
// uncertainty is told, since neighbours are alike: five minutes.
const blockSamples = 10

// within fits cadence on speed and grade in each run about that run's own
// level, by Huber's M-estimate, with the slopes' uncertainty from blocks of
// five minutes, or from whole runs where there are six or more.
func within(runs []Run) slopes {
	s := slopes{}
	for i, r := range runs {
		if len(r.Samples) == 0 {
			continue
		}
		l := level{run: i, n: len(r.Samples)}
		for _, o := range r.Samples {
			l.weights, l.cad = append(l.weights, 1), append(l.cad, o.CadenceSPM)
			l.vs, l.gs = append(l.vs, o.SpeedMPS), append(l.gs, o.Grade)
		}
		s.runs = append(s.runs, l)
	}
	s.speed, s.grade = priorSpeed, priorGrade
	for range 30 {
		scale := s.reweigh()
		before := s.speed
		s.solve(scale)
		if math.Abs(s.speed-before) < 1e-6 {
			break
		}
	}
	s.uncertain(s.reweigh())
	return s
}

// residual is how far sample k of a run lies off the line through its level.
func (s *slopes) residual(l *level, k int) float64 {
	return l.cad[k] - l.cadence - s.speed*(l.vs[k]-l.mps) - s.grade*(l.gs[k]-l.grade)
}

// reweigh settles each run's level and the weights of its samples by the
// slopes, and gives the scale of the residuals.
func (s *slopes) reweigh() float64 {
	var all []float64
	for i := range s.runs {
		l := &s.runs[i]
		l.middle()
		for k := range l.cad {
			all = append(all, math.Abs(s.residual(l, k)))
		}
	}
	if len(all) == 0 {
		return 1
	}
	slices.Sort(all)
	scale := max(1.4826*all[len(all)/2], 0.2) // 0.2 steps/min: watches write no finer
	for i := range s.runs {
		l := &s.runs[i]
		for k := range l.cad {
			l.weights[k] = 1
			if r := math.Abs(s.residual(l, k)); r > huber*scale {
				l.weights[k] = huber * scale / r
			}
		}
		l.middle()
	}
	return scale
}

// middle sets a level to the weighted means.
func (l *level) middle() {
	w := 0.0
	l.cadence, l.mps, l.grade = 0, 0, 0
	for k, weight := range l.weights {
		w += weight
		l.cadence, l.mps, l.grade = l.cadence+weight*l.cad[k], l.mps+weight*l.vs[k], l.grade+weight*l.gs[k]
	}
	l.cadence, l.mps, l.grade = l.cadence/w, l.mps/w, l.grade/w
}

// normal gives the weighted sums of squares and products about the levels,
// with what the priors add, for residuals of that scale.
func (s *slopes) normal(scale float64) (vv, vg, gg, vc, gc float64) {
	for i := range s.runs {
		l := &s.runs[i]
		for k, w := range l.weights {
			v, g, c := l.vs[k]-l.mps, l.gs[k]-l.grade, l.cad[k]-l.cadence
			vv, vg, gg, vc, gc = vv+w*v*v, vg+w*v*g, gg+w*g*g, vc+w*v*c, gc+w*g*c
		}
	}
	pv, pg := math.Pow(scale/priorSpeedSD, 2), math.Pow(scale/priorGradeSD, 2)
	return vv + pv, vg, gg + pg, vc + pv*priorSpeed, gc + pg*priorGrade
}

func (s *slopes) solve(scale float64) {
	vv, vg, gg, vc, gc := s.normal(scale)
	det := vv*gg - vg*vg
	s.speed, s.grade = (gg*vc-vg*gc)/det, (vv*gc-vg*vc)/det
}

// uncertain fills in the slopes' standard uncertainties: the sandwich of the
// sums over blocks (Liang and Zeger 1986, Biometrika 73:13–22), with the
// correction B/(B−2) for few blocks B, and the priors' share.
func (s *slopes) uncertain(scale float64) {
	vv, vg, gg, _, _ := s.normal(scale)
	det := vv*gg - vg*vg
	size := blockSamples
	if len(s.runs) >= 6 {
		size = math.MaxInt
	}
	blocks, mvv, mvg, mgg := 0.0, 0.0, 0.0, 0.0
	for i := range s.runs {
		l := &s.runs[i]
		for begin := 0; begin < len(l.cad); {
			end := len(l.cad)
			if end-begin > size {
				end = begin + size
			}
			sv, sg := 0.0, 0.0
			for k := begin; k < end; k++ {
				e := l.weights[k] * s.residual(l, k)
				sv, sg = sv+e*(l.vs[k]-l.mps), sg+e*(l.gs[k]-l.grade)
			}
			blocks, mvv, mvg, mgg = blocks+1, mvv+sv*sv, mvg+sv*sg, mgg+sg*sg
			begin = end
		}
	}
	fix := blocks / max(1, blocks-2)
	pv, pg := math.Pow(scale/priorSpeedSD, 2), math.Pow(scale/priorGradeSD, 2)
	mvv, mvg, mgg = fix*mvv+pv*scale*scale, fix*mvg, fix*mgg+pg*scale*scale
	a, b, d := gg/det, -vg/det, vv/det // the inverse
	s.speedSD = math.Sqrt(max(0, a*a*mvv+2*a*b*mvg+b*b*mgg))
	s.gradeSD = math.Sqrt(max(0, b*b*mvv+2*b*d*mvg+d*d*mgg))
	s.freedom = max(1, blocks-2)
}
