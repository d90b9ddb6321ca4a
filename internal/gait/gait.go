package gait

import (
	"errors"
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/track"
)

// Setting is where the runner runs.
type Setting string

// The settings.
const (
	Treadmill  Setting = "treadmill"
	OverGround Setting = "over_ground"
	OnTheSpot  Setting = "on_the_spot"
)

// Facts is what the coach stated; zero values mean not stated.
type Facts struct {
	HeightM float64
	SpeedMS float64 // 0 when not stated
	// Level is the camera's roll, stated or seen in the background.
	Level Level
	// InclineDeg is the ground's slope, uphill positive.
	InclineDeg float64
	Facing     form.Side // Both to find it
	ByHand     []ByHand  // events that a person set
}

// Level is how far the scene is turned clockwise in the picture, degrees,
// with its standard uncertainty. Stated is the coach's word, Known what the
// background shows; with neither it has to be found from the feet alone.
type Level struct {
	Deg, SD       float64
	Known, Stated bool
}

// ErrWalking and ErrView are the causes of an error that says so: a definite
// answer, whatever the clip's clock.
var (
	ErrWalking = errors.New("walking")
	ErrView    = errors.New("not from the side")
)

// because marks a clip error with its cause.
func because(cause error, e *form.Error) error {
	e.Cause = cause
	return e
}

// Gait is a runner's clip understood: everything a measure is made from.
type Gait struct {
	Motion  *track.Motion
	Plane   Plane
	Setting Setting
	// SpeedMS is the speed relative to the ground or belt, SpeedSD its
	// standard uncertainty.
	SpeedMS, SpeedSD float64
	// SeenSpeedMS is the speed seen in the clip, whatever was stated.
	SeenSpeedMS float64
	// StrideS is the mean stride time; StrideCheckS the independent
	// estimate from the autocorrelation of the ankles' separation.
	StrideS, StrideCheckS float64
	Near                  form.Side
	Events                []form.Event
	Cycles                [3]*Cycle // by form.Side: Left, Right; nil if not had
	// Beats are all mid-stances, by form.Side: the times at which the ankle
	// passes under the hips, over ground those at which it passes the other
	// ankle. There the cycles hold only anchors seen within ViewDeg of square
	// from the side.
	Beats   [3][]float64
	ViewDeg float64
	inView  []bool  // by frame; nil: all
	LegM    float64 // thigh + shank, metres, from the stated height
	// PlacedByHand counts the events of Facts.ByHand that belong to a stride.
	PlacedByHand int
	Notes        []string
	inclineDeg   float64
}

// InclineDeg is the ground's stated slope, degrees, uphill positive.
func (g *Gait) InclineDeg() float64 { return g.inclineDeg }

// Slope tells whether the runner was said to run on an incline of more than
// half a per cent.
func (g *Gait) Slope() bool { return math.Abs(g.inclineDeg) > 0.3 }

// minFrames and minSeconds are what the shortest usable track has.
const (
	minFrames  = 20
	minSeconds = 0.9
)

// Analyse finds plane, events and strides. The error is a form.Error that
// says why the clip can't be used: too short, not from the side, standing,
// walking, hips or feet not seen. Where a part of the clip is walked, the
// running is what is analysed, and a note says so.
func Analyse(m *track.Motion, facts Facts) (*Gait, error) {
	g, err := analyse(m, facts)
	return withoutWalking(m, facts, g, err)
}

// analyse takes the motion as all of a kind.
func analyse(m *track.Motion, facts Facts) (*Gait, error) {
	n := len(m.Times)
	if n < minFrames || m.Times[n-1]-m.Times[0] < minSeconds {
		return nil, form.ClipError("the clip is too short to see a runner's strides: film at least 8 seconds, side-on, whole body in the picture")
	}
	g := &Gait{Motion: m, LegM: legShare * facts.HeightM, inclineDeg: facts.InclineDeg}
	if err := g.checkJoints(); err != nil {
		return nil, err
	}
	if err := g.checkView(); err != nil {
		return nil, err
	}
	if err := g.findPlane(facts); err != nil {
		return nil, err
	}
	if heights, dt, ok := g.onTheSpot(); ok {
		if err := g.analyseSpot(facts, heights, dt); err != nil {
			return nil, err
		}
		return g, nil
	}
	if err := g.findCycles(); err != nil {
		return nil, err
	}
	if err := g.levelFromStance(facts); err != nil {
		return nil, err
	}
	if err := g.findEvents(facts); err != nil {
		return nil, err
	}
	return g, nil
}

// checkJoints sees that hips, knees and ankles were seen at all.
func (g *Gait) checkJoints() error {
	for _, p := range []form.Point{form.Hip, form.Knee, form.Ankle} {
		for _, s := range []form.Side{form.Left, form.Right} {
			if g.Motion.Paths[form.At(p, s)] == nil {
				return form.ClipError("the runner's %s %s is hardly ever seen: keep the whole body in the picture, from head to feet", s, p)
			}
		}
	}
	return nil
}

// sides are the two legs in their order.
var sides = [2]form.Side{form.Left, form.Right}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
