package body

import (
	"fmt"

	"plumbstride/internal/form"
)

// Sex picks the column of a segment table.
type Sex uint8

// The sexes of a segment table; NotStated takes the mean of both.
const (
	NotStated Sex = iota
	Female
	Male
)

// String gives the word for people.
func (s Sex) String() string {
	switch s {
	case Female:
		return "female"
	case Male:
		return "male"
	default:
		return "not stated"
	}
}

// Segment is one rigid part of the body between two joint points.
type Segment struct {
	Name string
	// From and To are the two ends. Of a paired segment they lie on the same
	// side; of a segment on the midline each is the centre of left and right.
	From, To form.Point
	// Paired segments come twice, left and right.
	Paired bool
	// Mass is the share of the body's mass, of one side where Paired (0..1).
	Mass float64
	// COM is where the segment's centre of mass lies: From + COM·(To − From).
	// It may lie beyond To (COM > 1).
	COM float64
}

// Table is a body made of segments.
type Table struct {
	// Source names where the masses and centres come from.
	Source   string
	Segments []Segment
}

// MassSum is the sum of all segments' mass shares, both sides counted:
// 1 but for rounding.
func (t Table) MassSum() float64 {
	sum := 0.0
	for _, s := range t.Segments {
		sum += s.Mass * s.sides()
	}
	return sum
}

func (s Segment) sides() float64 {
	if s.Paired {
		return 2
	}
	return 1
}

// deLevaRow is one line of the table by de Leva: mass shares and centres of
// both sexes.
type deLevaRow struct {
	name               string
	from, to           form.Point
	paired             bool
	massMale, massFem  float64
	comMale, comFemale float64
}

// Masses and centres: de Leva P 1996, J Biomech 29(9):1223–1230, table 4,
// each with the ends that key points can give:
//
//   - trunk: mid-shoulder to mid-hip (his third choice of ends);
//   - shank: knee to the ankle's JOINT CENTRE (0.4395, 0.4352; the values
//     0.4459 and 0.4416 in circulation belong to the lateral malleolus);
//   - foot: heel to toe tip.
//
// Two of his segments have an end that is no key point; their centres are
// carried over by the mean segment lengths of the same table (from memory;
// they agree with the fractions above among themselves, see TestLengths):
//
//   - head with neck: his centre lies 0.5976 (0.5894) of vertex–mid-gonion
//     below the vertex. Upright that is 209 mm (243 mm) above the shoulder
//     joints' height, where the ear (tragion), 130 mm (128 mm) below the
//     vertex (from memory, military surveys of body size), lies 201 mm
//     (233 mm) above it. So the centre is put on the line from mid-shoulder
//     to mid-ear, at 1.04 of it: about 1 cm above the ear. Where along the
//     fore-and-aft line it lies is known to ± 2 cm, which moves the whole
//     body's centre by ± 1.4 mm.
//   - hand: 0.7900 (0.7474) of wrist–third knuckle, 86.2 mm (78.0 mm),
//     taken to go on in line with the forearm of 268.9 mm (264.3 mm): 1.2533
//     (1.2206) of elbow–wrist. A bent wrist moves it by up to 5 cm, the
//     whole body's centre by 0.3 mm a hand.
func deLevaRows() []deLevaRow {
	return []deLevaRow{
		{"head", form.Shoulder, form.Ear, false, 0.0694, 0.0668, headCOM(male), headCOM(female)},
		{"trunk", form.Shoulder, form.Hip, false, 0.4346, 0.4257, 0.4310, 0.3782},
		{"upper arm", form.Shoulder, form.Elbow, true, 0.0271, 0.0255, 0.5772, 0.5754},
		{"forearm", form.Elbow, form.Wrist, true, 0.0162, 0.0138, 0.4574, 0.4559},
		{"hand", form.Elbow, form.Wrist, true, 0.0061, 0.0056, handCOM(male), handCOM(female)},
		{"thigh", form.Hip, form.Knee, true, 0.1416, 0.1478, 0.4095, 0.3612},
		{"shank", form.Knee, form.Ankle, true, 0.0433, 0.0481, 0.4395, 0.4352},
		{"foot", form.Heel, form.Toe, true, 0.0137, 0.0129, 0.4415, 0.4014},
	}
}

// lengths are the mean segment lengths, mm, that carry the head's and the
// hand's centres over to key points (from memory: de Leva 1996, table 4;
// vertexTragion from surveys of body size).
type lengths struct {
	vertexGonion, vertexC7, c7MidHip, midShoulderMidHip float64
	vertexTragion                                       float64
	forearm, wristKnuckle                               float64
	headOfVertexGonion, handOfWristKnuckle              float64
}

var (
	male = lengths{
		vertexGonion: 203.3, vertexC7: 242.9, c7MidHip: 603.3, midShoulderMidHip: 515.5,
		vertexTragion: 130, forearm: 268.9, wristKnuckle: 86.2,
		headOfVertexGonion: 0.5976, handOfWristKnuckle: 0.7900,
	}
	female = lengths{
		vertexGonion: 200.2, vertexC7: 243.7, c7MidHip: 614.8, midShoulderMidHip: 497.9,
		vertexTragion: 128, forearm: 264.3, wristKnuckle: 78.0,
		headOfVertexGonion: 0.5894, handOfWristKnuckle: 0.7474,
	}
)

// headCOM is the head's centre as a fraction of mid-shoulder–ear, upright.
func headCOM(l lengths) float64 {
	vertexOverShoulder := l.c7MidHip + l.vertexC7 - l.midShoulderMidHip
	return (vertexOverShoulder - l.headOfVertexGonion*l.vertexGonion) / (vertexOverShoulder - l.vertexTragion)
}

// handCOM is the hand's centre as a fraction of elbow–wrist.
func handCOM(l lengths) float64 {
	return 1 + l.handOfWristKnuckle*l.wristKnuckle/l.forearm
}

// DeLeva gives the segments after de Leva 1996 (J Biomech 29:1223–1230): of
// men, of women, or the mean of both where the sex is not stated. It panics
// on a Sex that is none of the three.
func DeLeva(sex Sex) Table {
	var maleShare float64
	switch sex {
	case NotStated:
		maleShare = 0.5
	case Female:
		maleShare = 0
	case Male:
		maleShare = 1
	default:
		panic(fmt.Sprintf("body: DeLeva: unknown sex %d", sex))
	}
	mix := func(m, f float64) float64 { return maleShare*m + (1-maleShare)*f }
	t := Table{Source: "de Leva 1996, J Biomech 29:1223–1230; sex: " + sex.String()}
	for _, r := range deLevaRows() {
		t.Segments = append(t.Segments, Segment{
			Name: r.name, From: r.from, To: r.to, Paired: r.paired,
			Mass: mix(r.massMale, r.massFem), COM: mix(r.comMale, r.comFemale),
		})
	}
	return t
}
