package stick

import (
	"encoding/json"
	"fmt"
	"math"
)

// Pose is one position of the figure, which faces right. Angles are in
// degrees.
type Pose struct {
	// Caption is a few words under the figure.
	Caption string `json:"caption"`
	// Trunk is the lean of hip→shoulder from the vertical, forward positive;
	// −90 lies on the back, 90 on the belly.
	Trunk float64 `json:"trunk,omitempty"`
	// Head is the bend of the neck against the trunk, forward positive.
	Head float64 `json:"head,omitempty"`
	// Near and Far are the legs, the near one towards the reader.
	Near Leg `json:"near"`
	Far  Leg `json:"far"`
	// NearArm and FarArm are the arms.
	NearArm Arm `json:"near_arm"`
	FarArm  Arm `json:"far_arm"`
	// Lift is the height of the lowest point above the ground, in percent of
	// body height; 0 touches the ground.
	Lift float64 `json:"lift,omitempty"`
	// Props are what the figure uses and the lines that help the eye.
	Props []Prop `json:"props,omitempty"`
}

// Leg is thigh, knee and ankle, and as an optional fourth the toes: the
// thigh from the downward vertical, forward positive; the knee's flexion; the
// ankle from the right angle, toes up positive; the toes' extension against
// the foot. In JSON it is an array of three or four numbers.
type Leg struct{ Thigh, Knee, Ankle, Toes float64 }

// Arm is shoulder and elbow: the upper arm from the line of the trunk,
// forward positive; the elbow's flexion. In JSON it is an array of two
// numbers.
type Arm struct{ Shoulder, Elbow float64 }

// Prop is a thing beside the figure or a line that helps the eye.
type Prop string

// The props.
const (
	WallAhead  Prop = "wall-ahead"  // a wall under the near hand
	WallBehind Prop = "wall-behind" // a wall at the rearmost point
	BoxNear    Prop = "box-near"    // a box under the near foot
	BoxFar     Prop = "box-far"     // a box under the far foot
	Seat       Prop = "seat"        // a seat below the hips
	Pole       Prop = "pole"        // a straight pole along the back
	Plumb      Prop = "plumb"       // the vertical through the near ankle
	LeanLine   Prop = "lean-line"   // the line from the near ankle to the ear
	Marks      Prop = "marks"       // marks on the ground at even distances
	Up         Prop = "up"          // an arrow upwards
	Down       Prop = "down"        // an arrow downwards
	Forward    Prop = "forward"     // an arrow forwards
	Back       Prop = "back"        // an arrow backwards
)

// Props lists every prop.
func Props() []Prop {
	return []Prop{WallAhead, WallBehind, BoxNear, BoxFar, Seat, Pole, Plumb, LeanLine, Marks, Up, Down, Forward, Back}
}

// MarshalJSON writes the angles as an array.
func (l Leg) MarshalJSON() ([]byte, error) {
	if l.Toes == 0 {
		return json.Marshal([]float64{l.Thigh, l.Knee, l.Ankle})
	}
	return json.Marshal([]float64{l.Thigh, l.Knee, l.Ankle, l.Toes})
}

// UnmarshalJSON reads three or four angles.
func (l *Leg) UnmarshalJSON(data []byte) error {
	var v []float64
	if err := json.Unmarshal(data, &v); err != nil || len(v) < 3 || len(v) > 4 {
		return fmt.Errorf("a leg is [thigh, knee, ankle] or [thigh, knee, ankle, toes] in degrees, not %.40s", data)
	}
	*l = Leg{Thigh: v[0], Knee: v[1], Ankle: v[2]}
	if len(v) == 4 {
		l.Toes = v[3]
	}
	return nil
}

// MarshalJSON writes the angles as an array.
func (a Arm) MarshalJSON() ([]byte, error) { return json.Marshal([]float64{a.Shoulder, a.Elbow}) }

// UnmarshalJSON reads two angles.
func (a *Arm) UnmarshalJSON(data []byte) error {
	var v []float64
	if err := json.Unmarshal(data, &v); err != nil || len(v) != 2 {
		return fmt.Errorf("an arm is [shoulder, elbow] in degrees, not %.40s", data)
	}
	*a = Arm{Shoulder: v[0], Elbow: v[1]}
	return nil
}

// Check tells what no body can do. The limits are a little wider than the
// usual ranges of motion of adults (from memory): hip −35…140, knee −5…150,
// ankle −55…40, toes −20…80, shoulder −75…190, elbow 0…155, neck −45…50.
func (p Pose) Check() error {
	type limit struct {
		what           string
		angle, low, up float64
	}
	limits := []limit{
		{"the trunk", p.Trunk, -130, 100}, {"the head", p.Head, -45, 50}, {"the lift", p.Lift, 0, 30},
	}
	for _, l := range []struct {
		side string
		leg  Leg
	}{{"near", p.Near}, {"far", p.Far}} {
		limits = append(limits,
			limit{"the " + l.side + " hip (thigh + trunk)", l.leg.Thigh + p.Trunk, -35, 140},
			limit{"the " + l.side + " knee", l.leg.Knee, -5, 150},
			limit{"the " + l.side + " ankle", l.leg.Ankle, -55, 40},
			limit{"the " + l.side + " toes", l.leg.Toes, -20, 80})
	}
	for _, a := range []struct {
		side string
		arm  Arm
	}{{"near", p.NearArm}, {"far", p.FarArm}} {
		limits = append(limits,
			limit{"the " + a.side + " shoulder", a.arm.Shoulder, -75, 190},
			limit{"the " + a.side + " elbow", a.arm.Elbow, 0, 155})
	}
	for _, l := range limits {
		if math.IsNaN(l.angle) || l.angle < l.low || l.angle > l.up {
			return fmt.Errorf("%s is at %g, and only %g to %g can be done", l.what, l.angle, l.low, l.up)
		}
	}
	known := map[Prop]bool{}
	for _, prop := range Props() {
		known[prop] = true
	}
	for _, prop := range p.Props {
		if !known[prop] {
			return fmt.Errorf("there is no prop %.20q; there are %v", string(prop), Props())
		}
	}
	return nil
}
