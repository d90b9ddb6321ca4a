package practice

// steepest is the grade up to which the cost of running was measured.
const steepest = 0.45

// Cost is what running costs a grade, J per kg of body mass and m of way, on
// a slope i (rise over run, clipped to ±0.45):
//
//	C(i) = 155.4 i⁵ − 30.4 i⁴ − 43.3 i³ + 46.3 i² + 19.5 i + 3.6
//
// Minetti AE, Moia C, Roi GS, Susta D, Ferretti G 2002, J Appl Physiol
// 93:1039–1046, doi 10.1152/japplphysiol.01177.2001.
func Cost(i float64) float64 {
	i = max(-steepest, min(steepest, i))
	return ((((155.4*i-30.4)*i-43.3)*i+46.3)*i+19.5)*i + 3.6
}

// LevelSpeed is the speed on the level, m/s, that costs as much a second as a
// speed on a slope.
func LevelSpeed(mps, grade float64) float64 { return mps * Cost(grade) / Cost(0) }
