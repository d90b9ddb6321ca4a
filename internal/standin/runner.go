package standin

import (
	"fmt"
)

// Gait is what the invented runner does.
type Gait uint8

// The gaits.
const (
	Running Gait = iota
	Walking
	Standing
)

// Pair is one number for each leg, the runner's own left and right.
type Pair struct{ Left, Right float64 }

// Even gives both legs the same number.
func Even(v float64) Pair { return Pair{v, v} }

// Proportions scale the segments of the figure against the tables; 1 is the
// table's value.
type Proportions struct {
	Leg, Trunk, Arm, Foot, HipWidth, ShoulderWidth float64
}

// EvenProportions are the tables' own.
func EvenProportions() Proportions { return Proportions{1, 1, 1, 1, 1, 1} }

// Runner is the invented runner: what the motion is built from. What is not
// here follows from it: peak knee flexion in stance, hip hinge, body lean and
// the bounce, unless BounceM sets it, are given by the laws of motion and the
// lengths of the limbs, and stand in Truth.
type Runner struct {
	// Name is shown to people; it says that nobody is meant.
	Name    string
	HeightM float64
	MassKg  float64
	Gait    Gait

	// CadenceSPM is steps a minute, both feet counted; SpeedMS the speed over
	// the ground or of the belt, 0 on the spot.
	CadenceSPM float64
	SpeedMS    float64
	ContactS   Pair
	// StepTimeAsymmetryPct is 100·(left−right)/mean of the mean step times; a
	// left step ends with the left foot's contact.
	StepTimeAsymmetryPct float64

	KneeContactDeg Pair // flexion at contact, seen from the side
	KneeToeOffDeg  float64
	KneeSwingDeg   float64 // peak flexion in swing
	// ThighLiftDeg is how far forward of the vertical the thigh comes in
	// swing; 0 leaves it to speed.
	ThighLiftDeg   float64
	FootContactDeg Pair // foot strike angle, positive toes up
	// HeelGapDeg is how far the heel stays up in mid-stance when the foot
	// lands on the ball; 0 puts it down.
	HeelGapDeg float64
	LandingM   Pair // ankle ahead of the centre of mass at contact

	TrunkLeanDeg float64 // mean of hip centre → shoulder centre, forward +
	HeadForwardM float64 // ear ahead of the shoulder centre
	HeadPitchDeg float64 // face turned up (+) or down (−)
	// BounceM is the vertical excursion of the centre of mass. Running, 0
	// leaves it to a sine-shaped ground force; else the force's shape is bent
	// to reach it. Walking, it is the excursion itself.
	BounceM   float64
	StepWidth float64 // between the ankles, metres
	ToeOutDeg Pair
	ArmDeg    float64 // amplitude of the upper arm's swing
	ElbowDeg  float64 // mean flexion
	PelvisDeg float64 // amplitude of the pelvis's turn about the vertical
	// In the frontal plane, each for the leg that stands: how far the pelvis
	// drops on the other side and how far the trunk leans over the standing
	// leg at their largest, and the turn of the bent leg about the line from
	// hip to ankle, which takes the knee inward (+).
	PelvicDropDeg, TrunkSideDeg, KneeInDeg Pair
	// ShoulderLevelDeg and HipLevelDeg raise the left side over the right,
	// running and standing.
	ShoulderLevelDeg, HipLevelDeg float64
	// StepSpread scales the random spread from step to step; 1 is about 1 %
	// in times, 1.5° in angles and 7 mm in landing, 0 is a clock.
	StepSpread float64
	// StartStride is where in the stride the clip begins, 0…1 from a right
	// contact.
	StartStride float64

	Treadmill  bool
	InclineDeg float64 // uphill positive
	Body       Proportions
	// UnevenM is the standard deviation of the ground's height from one
	// footfall to the next, over ground.
	UnevenM float64

	// Standing only: flexion (negative: bent back), where the centre of mass
	// lies on the foot (% from heel to toe), and the width between the ankles
	// against that between the hip joints.
	KneeStandingDeg   float64
	WeightOverFootPct float64
	StanceWidth       float64
}

// DefaultRunner is an unremarkable recreational runner at 3 m/s on a
// treadmill, 1.75 m tall.
func DefaultRunner() Runner {
	return Runner{
		Name: "Invented runner, not a person", HeightM: 1.75, MassKg: 68,
		CadenceSPM: 170, SpeedMS: 3, ContactS: Even(0.25),
		KneeContactDeg: Even(15), KneeToeOffDeg: 20, KneeSwingDeg: 98,
		FootContactDeg: Even(12), LandingM: Even(0.20), BounceM: 0.074,
		TrunkLeanDeg: 7, HeadForwardM: 0.03, StepWidth: 0.07, ToeOutDeg: Even(5),
		ArmDeg: 30, ElbowDeg: 92, PelvisDeg: 4, PelvicDropDeg: Even(4), Treadmill: true,
		Body: EvenProportions(), KneeStandingDeg: 3, WeightOverFootPct: 42, StanceWidth: 1.1,
	}
}

// Walker is the same figure walking at 1.4 m/s.
func Walker() Runner {
	r := DefaultRunner()
	r.Gait, r.CadenceSPM, r.SpeedMS, r.ContactS = Walking, 112, 1.4, Even(0.63)
	r.KneeContactDeg, r.KneeToeOffDeg, r.KneeSwingDeg = Even(9), 38, 68
	r.FootContactDeg, r.LandingM, r.TrunkLeanDeg = Even(18), Even(0.30), 3
	r.BounceM, r.ArmDeg, r.ElbowDeg, r.StepWidth = 0.032, 18, 22, 0.10
	r.PelvicDropDeg = Even(0.3 * 4)
	return r
}

// OnTheSpot is the same figure running in place.
func OnTheSpot() Runner {
	r := DefaultRunner()
	r.SpeedMS, r.CadenceSPM, r.ContactS = 0, 160, Even(0.27)
	r.KneeContactDeg, r.KneeSwingDeg, r.ThighLiftDeg = Even(18), 85, 50
	r.FootContactDeg, r.LandingM, r.TrunkLeanDeg, r.BounceM = Even(-8), Even(0.02), 3, 0
	r.Treadmill = false
	return r
}

// Marcher is the same figure marching in place: hardly ever off the ground.
func Marcher() Runner {
	r := OnTheSpot()
	r.CadenceSPM, r.ContactS = 116, Even(0.505)
	r.KneeContactDeg, r.KneeToeOffDeg, r.KneeSwingDeg, r.ThighLiftDeg = Even(12), 22, 80, 65
	return r
}

// Stander is the same figure standing still.
func Stander() Runner {
	r := DefaultRunner()
	r.Gait, r.SpeedMS, r.TrunkLeanDeg, r.ElbowDeg, r.ArmDeg = Standing, 0, 2, 12, 0
	return r
}

// of gives the leg's number; left is leg 0.
func (p Pair) of(leg int) float64 {
	if leg == legLeft {
		return p.Left
	}
	return p.Right
}

// check tells the first parameter that no figure can have.
func (r Runner) check() error {
	type limit struct {
		name      string
		v, lo, hi float64
	}
	limits := []limit{
		{"HeightM", r.HeightM, 1, 2.4}, {"MassKg", r.MassKg, 20, 250},
		{"InclineDeg", r.InclineDeg, -15, 15}, {"TrunkLeanDeg", r.TrunkLeanDeg, -20, 50},
		{"HeadForwardM", r.HeadForwardM, -0.1, 0.15}, {"StepSpread", r.StepSpread, 0, 5},
		{"Body.Leg", r.Body.Leg, 0.8, 1.2}, {"Body.Trunk", r.Body.Trunk, 0.8, 1.2},
		{"Body.Arm", r.Body.Arm, 0.8, 1.2}, {"Body.Foot", r.Body.Foot, 0.8, 1.2},
		{"Body.HipWidth", r.Body.HipWidth, 0.7, 1.3}, {"Body.ShoulderWidth", r.Body.ShoulderWidth, 0.7, 1.3},
		{"ShoulderLevelDeg", r.ShoulderLevelDeg, -15, 15}, {"HipLevelDeg", r.HipLevelDeg, -10, 10},
	}
	if r.Gait != Standing {
		limits = append(limits,
			limit{"CadenceSPM", r.CadenceSPM, 60, 260}, limit{"SpeedMS", r.SpeedMS, 0, 9},
			limit{"StepTimeAsymmetryPct", r.StepTimeAsymmetryPct, -25, 25},
			limit{"BounceM", r.BounceM, 0, 0.2}, limit{"KneeSwingDeg", r.KneeSwingDeg, 40, 150},
		)
		for _, leg := range []int{legLeft, legRight} {
			limits = append(limits,
				limit{"ContactS", r.ContactS.of(leg), 0.1, 1.2},
				limit{"KneeContactDeg", r.KneeContactDeg.of(leg), 2, 60},
				limit{"FootContactDeg", r.FootContactDeg.of(leg), -30, 40},
				limit{"LandingM", r.LandingM.of(leg), -0.2, 0.6},
				limit{"PelvicDropDeg", r.PelvicDropDeg.of(leg), -15, 20},
				limit{"TrunkSideDeg", r.TrunkSideDeg.of(leg), -15, 20},
				limit{"KneeInDeg", r.KneeInDeg.of(leg), -25, 35})
		}
	}
	for _, l := range limits {
		if !(l.v >= l.lo && l.v <= l.hi) {
			return fmt.Errorf("invented runner: %s is %.4g, must be %g to %g", l.name, l.v, l.lo, l.hi)
		}
	}
	return nil
}

const (
	legLeft  = 0
	legRight = 1
)

// outward gives the sign of Z that leads away from the midline.
func outward(leg int) float64 {
	if leg == legLeft {
		return -1
	}
	return 1
}

// gravity is the standard acceleration of free fall, m/s².
const gravity = 9.80665

// stepTimes gives the mean time of the step that ends with each leg's
// contact.
func (r Runner) stepTimes() Pair {
	mean := 60 / r.CadenceSPM
	d := mean * r.StepTimeAsymmetryPct / 200
	return Pair{mean + d, mean - d}
}
