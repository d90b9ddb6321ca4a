package recheck

// Day is how much a runner's measure varies from one day to another without
// any change of form: the standard error of measurement (SEM) of one day, in
// the unit. What was published holds the error of its own method too, so
// that less may be the runner's; it is taken whole.
type Day struct {
	Measure, Unit string
	SEM           float64
	// GroundSEM is that over ground, 0 where none of its own is known.
	GroundSEM float64
	Source    string
}

// ownEstimate marks a value that nothing published was seen for.
const ownEstimate = "own estimate, no source"

const (
	dingenen = "Dingenen et al. 2018 Phys Ther Sport 33:40–47 doi 10.1016/j.ptsp.2018.06.009 (21 recreational runners one week apart by two-dimensional video)"
	damsted  = "Damsted et al., Int J Sports Phys Ther (18 runners by two-dimensional video)"
)

// DayToDay is the table, one row a measure and unit. Published smallest
// detectable differences become SEMs by 1.96·√2.
func DayToDay() []Day {
	return []Day{
		{"cadence", "steps/min", 1.8, 0, "derived from Sports Health 2019 11:409–415 doi 10.1177/1941738119844795 (intraclass correlation .75 to 1.00 over 8 studies; .95 taken) and 8 steps/min between runners"},
		{"contact_time", "ms", 5, 0, ownEstimate},
		{"flight_time", "ms", 6, 0, ownEstimate},
		{"duty_factor", "–", 0.008, 0, ownEstimate},
		{"step_time_asymmetry", "%", 1, 0, ownEstimate},
		{"foot_strike_angle", "deg", 0.83, 2.5, dingenen + ": foot inclination, up to 2.3°; over ground a typical error of 2.5° outdoors at 240 Hz (155 videos, University of Waikato)"},
		{"landing_distance", "cm", 1.0, 0, "derived from the shin's 1.26° over 0.246 H (" + dingenen + ")"},
		{"landing_distance", "% leg length", 1.2, 0, "as in centimetres"},
		{"heel_landing_distance", "cm", 1.0, 0, "as the landing distance"},
		{"shank_angle", "deg", 1.26, 0, dingenen + ": tibia inclination and ankle 2.2 to 4.8°, the middle"},
		{"knee_flexion_contact", "deg", 1.8, 0, "derived from " + damsted + ": prediction intervals 9 to 14° wide between days, 3 to 8° within one; the difference of their variances"},
		{"knee_flexion_peak", "deg", 1.1, 0, dingenen + ": hip and knee 2.3 to 3.8°, the middle"},
		{"trunk_lean", "deg", 0.65, 0, "as the trunk's lean to the side: " + dingenen + ", 1.3 to 2.3°, the middle"},
		{"body_lean", "deg", 0.65, 0, ownEstimate},
		{"hip_hinge", "deg", 1, 0, ownEstimate},
		{"head_forward", "cm", 0.8, 0, ownEstimate},
		{"head_forward", "deg", 2, 0, ownEstimate},
		{"midstance_stack", "cm", 1.2, 0, ownEstimate},
		{"vertical_oscillation", "cm", 0.3, 0, ownEstimate},
		{"leg_stiffness", "kN/m", 0.5, 0, ownEstimate},
		{"vertical_stiffness", "kN/m", 1, 0, ownEstimate},
		{"knee_lift", "deg", 3, 0, ownEstimate},
		{"knee_lift", "cm", 2, 0, ownEstimate},
		{"step_width", "cm", 0.7, 0, ownEstimate},
		{"foot_to_line", "cm", 0.5, 0, ownEstimate},
		{"pelvic_drop", "deg", 1, 0, dingenen + ": pelvic drop, 2.7 to 2.8°"},
		{"pelvic_drop_difference", "deg", 1.4, 0, "as the pelvic drop, of two sides"},
		{"knee_projection", "cm", 0.5, 0, ownEstimate},
		{"knee_projection", "deg", 0.65, 0, dingenen + ": femoral adduction, 1.3 to 2.3°, the middle"},
		{"trunk_side_lean", "deg", 0.65, 0, dingenen + ": trunk to the side, 1.3 to 2.3°, the middle"},
		{"walking_cadence", "steps/min", 2, 0, ownEstimate},
		{"plumb_ear", "cm", 1, 0, ownEstimate},
		{"plumb_shoulder", "cm", 1, 0, ownEstimate},
		{"plumb_hip", "cm", 1, 0, ownEstimate},
		{"plumb_knee", "cm", 0.7, 0, ownEstimate},
		{"knee_flexion_standing", "deg", 1.5, 0, ownEstimate},
		{"trunk_lean_standing", "deg", 1, 0, ownEstimate},
		{"weight_over_foot", "%", 3, 0, ownEstimate},
		{"stance_width", "–", 0.1, 0, ownEstimate},
		{"toe_out", "deg", 2, 0, ownEstimate},
		{"shoulder_level", "deg", 0.8, 0, ownEstimate},
		{"hip_level", "deg", 0.8, 0, ownEstimate},
	}
}

// sameDay is how much of the variation from day to day there is between two
// checks of one day: the widths of the intervals of Damsted et al., 3 to 8°
// within a day against 9 to 14° between days.
const sameDay = 0.5

// dayOf is the standard deviation for a measure; ok is false where nothing is
// known, and the measure is then not compared.
func dayOf(name, unit string, overGround, oneDay bool) (sd float64, ok bool) {
	for _, d := range DayToDay() {
		if d.Measure != name || d.Unit != unit {
			continue
		}
		sd = d.SEM
		if overGround && d.GroundSEM > 0 {
			sd = d.GroundSEM
		}
		if oneDay {
			sd *= sameDay
		}
		return sd, true
	}
	return 0, false
}
