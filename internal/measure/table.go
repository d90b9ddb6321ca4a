package measure

import "plumbstride/internal/form"

// Def is one measure of the table: what it is, for people and for the
// documentation that is generated from it.
type Def struct {
	Name  string
	Title string
	Unit  string
	Area  string // alignment, landing, cadence, lean, bounce, symmetry; empty for context
	// Meaning is one sentence a runner understands, Formula how it is
	// computed, Source where the definition is from.
	Meaning, Formula, Source string
	// View is the view of the camera it takes: from behind, or the side where
	// empty.
	View     form.View
	sided    bool
	of       func(*kit, Def, form.Side) (form.Measure, error)
	behind   func(*backKit, Def, form.Side) (form.Measure, error)
	standing *standDef // of a standing measure, in place of of
}

// Table lists every running measure, in the order in which a card shows
// them: those from the side, then those from behind.
func Table() []Def { return append(sideTable(), backTable()...) }

// sideTable lists the measures of a clip from the side.
func sideTable() []Def {
	return []Def{
		{
			Name: "cadence", Title: "Cadence", Unit: "steps/min", Area: "cadence",
			Meaning: "How many steps a minute, both feet counted.",
			Formula: "60 / mean time between successive contacts of both feet; the autocorrelation of the ankles' separation must agree within 2 % (up to 5 % with fewer than eight steps)",
			Source:  "definition", of: cadence,
		},
		{
			Name: "contact_time", Title: "Contact time", Unit: "ms", Area: "cadence", sided: true,
			Meaning: "How long the foot stays on the ground.",
			Formula: "toe-off − contact of the same foot",
			Source:  "definition; event thresholds checked against the force plate of Fukuchi et al. 2017, PeerJ 5:e3298", of: contactTime,
		},
		{
			Name: "flight_time", Title: "Flight time", Unit: "ms", Area: "bounce", sided: true,
			Meaning: "How long both feet are off the ground after this foot leaves it.",
			Formula: "next contact of the other foot − toe-off of this foot",
			Source:  "definition", of: flightTime,
		},
		{
			Name: "duty_factor", Title: "Duty factor", Unit: "–", Area: "bounce", sided: true,
			Meaning: "The share of a stride that this foot spends on the ground.",
			Formula: "contact time / stride time of the same foot",
			Source:  "definition", of: dutyFactor,
		},
		{
			Name: "step_time_asymmetry", Title: "Step time asymmetry", Unit: "%", Area: "symmetry",
			Meaning: "How differently long left and right steps last.",
			Formula: "100·|L − R| / ((L + R)/2) of the mean step times",
			Source:  "definition", of: stepTimeAsymmetry,
		},
		{
			Name: "foot_strike_angle", Title: "Foot strike angle", Unit: "deg", Area: "landing", sided: true,
			Meaning: "How far the toes point up (+) or down (−) when the foot lands.",
			Formula: "heel→toe to the ground at contact − the same with the foot flat",
			Source:  "Altman & Davis 2012, Gait & Posture 35:298–300, doi 10.1016/j.gaitpost.2011.09.104 (limits from memory)", of: footStrikeAngle,
		},
		{
			Name: "landing_distance", Title: "Landing distance", Unit: "cm", Area: "landing", sided: true,
			Meaning: "How far ahead of the body's centre of mass the ankle is when the foot lands.",
			Formula: "X of ankle − X of whole-body centre of mass, at contact",
			Source:  "definition; centre of mass after de Leva 1996, J Biomech 29:1223–1230", of: landingOf(form.Ankle, false),
		},
		{
			Name: "landing_distance", Title: "Landing distance", Unit: "% leg length", Area: "landing", sided: true,
			Meaning: "The same as a share of leg length: needs no scale.",
			Formula: "landing distance / (thigh + shank)",
			Source:  "definition; segment proportions of Drillis & Contini 1966 after Winter", of: landingOf(form.Ankle, true),
		},
		{
			Name: "heel_landing_distance", Title: "Heel landing distance", Unit: "cm", Area: "landing", sided: true,
			Meaning: "How far ahead of the body's centre of mass the heel is when the foot lands.",
			Formula: "X of heel − X of whole-body centre of mass, at contact",
			Source:  "definition; centre of mass after de Leva 1996", of: landingOf(form.Heel, false),
		},
		{
			Name: "shank_angle", Title: "Shank angle at contact", Unit: "deg", Area: "landing", sided: true,
			Meaning: "How far the lower leg reaches forward (+) when the foot lands.",
			Formula: "knee→ankle to the vertical at contact; positive = ankle ahead of the knee",
			Source:  "definition; Souza 2016, doi 10.1016/j.pmr.2015.08.006, gives no cut-off", of: shankAngle,
		},
		{
			Name: "knee_flexion_contact", Title: "Knee flexion at contact", Unit: "deg", Area: "landing", sided: true,
			Meaning: "How bent the knee is when the foot lands; 0 = straight.",
			Formula: "180° − angle(hip, knee, ankle) at contact",
			Source:  "definition", of: kneeAtContact,
		},
		{
			Name: "knee_flexion_peak", Title: "Peak knee flexion in stance", Unit: "deg", Area: "landing", sided: true,
			Meaning: "How far the knee gives while the foot is on the ground.",
			Formula: "largest 180° − angle(hip, knee, ankle) between contact and toe-off",
			Source:  "definition", of: kneePeak,
		},
		{
			Name: "trunk_lean", Title: "Trunk lean", Unit: "deg", Area: "lean",
			Meaning: "How far the trunk leans forward over whole strides.",
			Formula: "hip centre→shoulder centre to the vertical, mean over whole strides",
			Source:  "definition; compare Teng & Powers 2014, doi 10.2519/jospt.2014.5249", of: trunkLean,
		},
		{
			Name: "body_lean", Title: "Body lean", Unit: "deg", Area: "lean",
			Meaning: "How far the whole body leans forward from the ankle at mid-stance.",
			Formula: "stance ankle→ear to the vertical at mid-stance, mean of both sides",
			Source:  "definition", of: bodyLean,
		},
		{
			Name: "hip_hinge", Title: "Hip hinge", Unit: "deg", Area: "alignment",
			Meaning: "How much the lean comes from bending at the hips instead of leaning as one piece.",
			Formula: "trunk lean − lean of stance ankle→hip centre at mid-stance, mean of both sides",
			Source:  "definition", of: hipHinge,
		},
		{
			Name: "head_forward", Title: "Head ahead of shoulders", Unit: "cm", Area: "alignment",
			Meaning: "How far the ear is ahead of the shoulders.",
			Formula: "X of ear − X of shoulder centre, mean over whole strides",
			Source:  "definition", of: headForward,
		},
		{
			Name: "head_forward", Title: "Head to trunk line", Unit: "deg", Area: "alignment",
			Meaning: "The angle of the neck to the line of the trunk.",
			Formula: "shoulder→ear to the trunk line, mean over whole strides",
			Source:  "definition", of: headAngle,
		},
		{
			Name: "midstance_stack", Title: "Stack at mid-stance", Unit: "cm", Area: "alignment",
			Meaning: "How far nose, knee and mid-foot are from one vertical line when the foot carries the body.",
			Formula: "spread in X of nose, knee and mid-foot at mid-stance of the near leg",
			Source:  "definition", of: midstanceStack,
		},
		{
			Name: "vertical_oscillation", Title: "Bounce", Unit: "cm", Area: "bounce",
			Meaning: "How far the body's centre of mass goes up and down in a step.",
			Formula: "peak to trough of the whole-body centre of mass within a step, mean",
			Source:  "definition; centre of mass after de Leva 1996", of: verticalOscillation,
		},
		{
			Name: "leg_stiffness", Title: "Leg stiffness", Unit: "kN/m", Area: "bounce",
			Meaning: "How stiff the leg works as a spring; describes, does not judge.",
			Formula: "sine-wave spring–mass model from contact and flight time, speed, leg length and mass",
			Source:  "Morin et al. 2005, J Appl Biomech 21:167–180, doi 10.1123/jab.21.2.167", of: stiffnessOf(func(s Spring) float64 { return s.LegNM }),
		},
		{
			Name: "vertical_stiffness", Title: "Vertical stiffness", Unit: "kN/m", Area: "bounce",
			Meaning: "How little the body sinks for the force under it; describes, does not judge.",
			Formula: "sine-wave spring–mass model from contact and flight time and mass",
			Source:  "Morin et al. 2005, J Appl Biomech 21:167–180, doi 10.1123/jab.21.2.167", of: stiffnessOf(func(s Spring) float64 { return s.VerticalNM }),
		},
		{
			Name: "knee_lift", Title: "Knee lift", Unit: "deg", sided: true,
			Meaning: "On the spot: how high the thigh comes; 0 = hanging straight down, 90 = level.",
			Formula: "largest angle of hip→knee to the downward vertical in swing, forward positive, mean over steps",
			Source:  "definition", of: kneeLift(false),
		},
		{
			Name: "knee_lift", Title: "Knee lift", Unit: "cm", sided: true,
			Meaning: "On the spot: how much higher the knee comes than where it carries the body.",
			Formula: "largest Y of the knee in swing − its Y at mid-stance, mean over steps",
			Source:  "definition", of: kneeLift(true),
		},
		{
			Name: "speed", Title: "Speed", Unit: "m/s",
			Meaning: "Running speed, relative to the belt or the ground.",
			Formula: "backward speed of the stance foot (treadmill) or travel of the hips (over ground), or as stated",
			Source:  "definition", of: speed,
		},
	}
}
