package judge

import (
	"math"

	"plumbstride/internal/body"
)

// The six areas, in the order in which they are shown.
const (
	Alignment = "alignment"
	Landing   = "landing"
	Cadence   = "cadence"
	Lean      = "lean"
	Bounce    = "bounce"
	Symmetry  = "symmetry"
)

// unsourced marks a value that is a rule of thumb.
const unsourced = "common practice, no source"

// Row is everything that the judgement knows of one measure.
type Row struct {
	// Measure and Unit are those of form.Measure; Title is for people.
	Measure, Title, Unit string
	// Area is the area the measure speaks for; "" for speed.
	Area string
	// Low and High are the ends of the band at AtSpeedMS and AtHeightM, in
	// the row's base unit (see Convert); NaN is an open end. SD is the spread
	// between runners in the same unit.
	Low, High, SD float64
	// AtSpeedMS is the speed the ends hold at; both move by PerMS for each
	// m/s more. Speeds are taken as within 2.0 to 4.5 m/s.
	AtSpeedMS, PerMS float64
	// OnlySpeedMS, where not zero, are the speeds between which there is a
	// band at all: nothing was published beyond.
	OnlySpeedMS [2]float64
	// AtHeightM is the height the ends hold at; both move by PerM for each
	// metre more.
	AtHeightM, PerM float64
	// Convert turns a value in the base unit into Unit for a runner of the
	// height; nil where they are the same.
	Convert func(base, heightM float64) float64
	// Below and Above tell what it means to lie under Low or over High.
	Below, Above Direction
	// Source names the papers, or says "common practice, no source".
	Source string
	// Population tells who was measured, Note what to know beside.
	Population, Note string
	inches           bool // write its centimetres as inches
}

// Direction is one way of lying outside a band. Weight is how much it counts
// (0: it is shown, never judged); Says tells it to coach and runner, without
// a full stop; Do is what to practise, without a full stop.
type Direction struct {
	Weight   float64
	Says, Do string
}

// Judged tells whether the measure can ever count.
func (r Row) Judged() bool { return r.Below.Weight > 0 || r.Above.Weight > 0 }

// Find gives the first row of a measure.
func Find(measure string) (Row, bool) {
	for _, r := range Rows() {
		if r.Measure == measure {
			return r, true
		}
	}
	return Row{}, false
}

// legAngleCm turns the leg's angle to the vertical, degrees, into the
// horizontal distance from the body to the foot, cm, through a leg length of
// 0.530 H (Drillis & Contini 1966).
func legAngleCm(deg, heightM float64) float64 {
	return 100 * body.LegLength(heightM) * math.Sin(deg*math.Pi/180)
}

// legAnglePercent is the same distance in percent of thigh and shank, 0.491 H.
func legAnglePercent(deg, heightM float64) float64 {
	return legAngleCm(deg, heightM) / (body.ThighLength(heightM) + body.ShankLength(heightM))
}

// heelCm is legAngleCm less the heel's distance behind the ankle at contact,
// 0.02 H (3.5 cm at 1.75 m; from memory).
func heelCm(deg, heightM float64) float64 { return legAngleCm(deg, heightM) - 2*heightM }

// withHeight scales a length that holds for 1.75 m with body height.
func withHeight(cm, heightM float64) float64 { return cm * heightM / 1.75 }
