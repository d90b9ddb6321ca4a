package form

// Spot is where a joint was seen in one frame: pixels of the picture as
// shown (x to the right, y down, the centre of the first pixel at 0.5, 0.5).
// Confidence runs from 0 to 1; a Spot with confidence 0 is missing and its
// position means nothing.
type Spot struct {
	X, Y, Confidence float64
}

// Seen tells whether the spot is there at all.
func (s Spot) Seen() bool { return s.Confidence > 0 }

// Frame is all joints at one time, in seconds from the clip's own time base.
type Frame struct {
	Time  float64
	Spots [NumJoints]Spot
	// ByHand are the joints that a person placed in this frame.
	ByHand Joints
}

// Joints is a set of joints.
type Joints uint32

// With gives the set with one more joint in it.
func (s Joints) With(j Joint) Joints { return s | 1<<j }

// Has tells whether a joint is in the set.
func (s Joints) Has(j Joint) bool { return s&(1<<j) != 0 }

// Spot gives the joint of a point and side.
func (f *Frame) Spot(p Point, s Side) Spot { return f.Spots[At(p, s)] }

// View is where the camera stands relative to the runner.
type View string

// The views. An empty View is not known.
const (
	ViewSide  View = "side"
	ViewFront View = "front"
	ViewBack  View = "back"
)

// Track is one person's joints over time, ordered by time.
// Width and Height are the picture's size in pixels, or 0 where not known;
// RateHz is the nominal frame rate, or 0 (Frame.Time is what counts).
type Track struct {
	Width, Height int
	RateHz        float64
	View          View
	// Facing is the way the runner faces in the picture: Left, Right, or
	// Both where not known.
	Facing Side
	// Network names what found the points ("full", "heavy", …); empty for
	// a track made elsewhere, which gets no network correction.
	Network string
	// LevelDeg is the camera's roll as seen in the background, degrees, the
	// scene turned clockwise positive, with its standard uncertainty; LevelSD
	// is 0 where the level is not known.
	LevelDeg, LevelSD float64
	// FocalPx is the lens's focal length in pixels, FocalSD its relative
	// standard uncertainty; 0 where not known. A track with a focal length was
	// filmed by a camera that moved: its points are laid into one steady
	// picture, Width×Height in its middle, and may lie beyond its edges.
	FocalPx, FocalSD float64
	Frames           []Frame
}
