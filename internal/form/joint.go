package form

import "fmt"

// Side is the runner's own left or right. Both marks a measure of the whole
// body; Mid marks a body point on the midline (the nose).
type Side uint8

// The sides, in the order in which they are listed.
const (
	Both Side = iota
	Left
	Right
	Mid
)

// String gives the word used in tracks and in JSON.
func (s Side) String() string {
	switch s {
	case Left:
		return "left"
	case Right:
		return "right"
	case Mid:
		return "mid"
	default:
		return "both"
	}
}

// Other gives the opposite limb; Both and Mid are their own opposites.
func (s Side) Other() Side {
	switch s {
	case Left:
		return Right
	case Right:
		return Left
	default:
		return s
	}
}

// ParseSide reads the word that String writes.
func ParseSide(word string) (Side, error) {
	for _, s := range []Side{Both, Left, Right, Mid} {
		if s.String() == word {
			return s, nil
		}
	}
	return Both, fmt.Errorf("side %q is not one of left, right, mid, both", word)
}

// MarshalText makes a Side a word in JSON.
func (s Side) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads the word back.
func (s *Side) UnmarshalText(text []byte) error {
	side, err := ParseSide(string(text))
	if err != nil {
		return err
	}
	*s = side
	return nil
}

// Point is a named place on the body, without its side.
type Point uint8

// The body points of a pose track.
const (
	Nose Point = iota
	Eye
	Ear
	Shoulder
	Elbow
	Wrist
	Hip
	Knee
	Ankle
	Heel
	Toe
	numPoints
)

var pointWords = [numPoints]string{
	"nose", "eye", "ear", "shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "toe",
}

// String gives the word used in a track file.
func (p Point) String() string {
	if int(p) >= len(pointWords) {
		return fmt.Sprintf("point(%d)", uint8(p))
	}
	return pointWords[p]
}

// ParsePoint reads the word that String writes.
func ParsePoint(word string) (Point, error) {
	for i, w := range pointWords {
		if w == word {
			return Point(i), nil
		}
	}
	return 0, fmt.Errorf("point %q is not a body point of a pose track", word)
}

// MarshalText makes a Point a word in JSON.
func (p Point) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// UnmarshalText reads the word back.
func (p *Point) UnmarshalText(text []byte) error {
	point, err := ParsePoint(string(text))
	if err != nil {
		return err
	}
	*p = point
	return nil
}

// Joint is one body point on one side: the index of a spot in a Frame.
// Nose is 0; then come the ten paired points, left before right.
type Joint uint8

// NumJoints is the number of spots in a Frame.
const NumJoints = 1 + 2*(int(numPoints)-1)

// At gives the joint of a point on a side. The nose has one joint whatever
// the side; any other point needs Left or Right, or At panics.
func At(p Point, s Side) Joint {
	if p == Nose {
		return 0
	}
	switch s {
	case Left:
		return Joint(2*int(p) - 1)
	case Right:
		return Joint(2 * int(p))
	default:
		panic("form: At: " + p.String() + " needs a left or a right side")
	}
}

// Point gives the joint's body point.
func (j Joint) Point() Point { return Point((int(j) + 1) / 2) }

// Side gives the joint's side; the nose is Mid.
func (j Joint) Side() Side {
	switch {
	case j == 0:
		return Mid
	case j%2 == 1:
		return Left
	default:
		return Right
	}
}

// String gives, for instance, "left heel".
func (j Joint) String() string {
	if j == 0 {
		return "nose"
	}
	return j.Side().String() + " " + j.Point().String()
}
