package check

import (
	"context"
	"fmt"
	"image"
	"io"
	"math"
	"time"

	"plumbstride/internal/amend"
	"plumbstride/internal/body"
	"plumbstride/internal/card"
	"plumbstride/internal/clip"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/measure"
	"plumbstride/internal/pose"
	"plumbstride/internal/stand"
	"plumbstride/internal/track"
)

// Ask is what the coach stated, in SI units. Zero values mean not stated.
type Ask struct {
	Name          string
	HeightM       float64
	MassKg        float64
	Sex           body.Sex
	SpeedMS       float64
	InclinePct    float64
	Level         *float64 // how far the scene is turned clockwise in the picture, degrees; nil to find it
	Facing        form.Side
	CaptureRateHz float64
	Network       string // "", lite, full or heavy; "" is the usual mix
	LongestS      float64
	ShowFace      bool
	Inches        bool // write lengths in sentences in inches
	Pain          bool // something hurts the runner now
	// Standing has the clip taken for one of somebody standing whatever moves
	// in it, and View is from where it is filmed; zero to find out.
	Standing bool
	View     form.View
	// Back is the file of a second clip or track of the same runner, filmed
	// from behind; "" without one.
	Back string
	// Flat is each foot's angle when it stands flat, from a standing check
	// (FlatFeet); nil without one.
	Flat *measure.Flat
	// Stride has the stills of a stride of each foot cut from the clip:
	// Outcome.Stills.
	Stride bool

	byHand []amend.Event // see Again
}

// Progress is how far a stage has come; Total is 0 where it is not known.
type Progress struct {
	Stage       string
	Done, Total int
}

// Deps is what a check needs from outside.
type Deps struct {
	Tools    clip.Tools
	Networks pose.Networks
	// Hash names each network, and "runtime", by its SHA-256.
	Hash     map[string]string
	Program  string
	Now      func() time.Time
	Progress func(Progress)
	// Frames gives the pictures of a track's clip, where there are any: those
	// at some times, at full size. It may be nil. A clip has its own.
	Frames Frames
}

// Frames gives the pictures nearest to some times of a clip, at full size.
type Frames func(ctx context.Context, times []float64) ([]*image.RGBA, error)

// Outcome is everything a check found. Track is the key points in the
// clip's own times. Gait is that of a runner, Stand that of somebody
// standing; a recording has neither. Back is what was seen from behind, and
// BackTrack the key points of a second clip.
type Outcome struct {
	Card  card.Card
	Track form.Track
	Gait  *gait.Gait
	Stand *stand.Pose
	// feet is Stand by the leg network's points, where it looked: the flat foot
	// for a run that is measured by the same.
	feet      *stand.Pose
	Back      *gait.Back
	BackTrack *form.Track
	// Stills are pictures of one stride of each foot, where they were asked
	// for.
	Stills []Still
}

// Clip checks a video or picture file: a clip of a runner, or a clip or a
// picture of somebody standing. Errors are form.Errors where the coach, the
// command or the machine can mend it.
func Clip(ctx context.Context, deps Deps, path string, ask Ask) (*Outcome, error) {
	return Clips(ctx, deps, []string{path}, ask)
}

// Track checks key points that were found before, read from CSV.
func Track(ctx context.Context, deps Deps, r io.Reader, ask Ask) (*Outcome, error) {
	points, err := track.Read(r)
	if err != nil {
		return nil, err
	}
	out, _, err := ofPoints(ctx, deps, points, ask)
	return out, err
}

// ofPoints is the check of a track, and what was seen of a runner's passes
// from the side.
func ofPoints(ctx context.Context, deps Deps, points form.Track, ask Ask) (*Outcome, []*sight, error) {
	if err := ctx.Err(); err != nil {
		return nil, nil, fmt.Errorf("check: %w", err)
	}
	level := math.NaN()
	if points.LevelSD > 0 {
		level = points.LevelDeg
	}
	if ask.View != "" {
		points.View = ask.View
	}
	if ask.View == form.ViewBack {
		seen, err := behindTrack(points, ask, 0)
		if err != nil {
			return nil, nil, err
		}
		return seen.outcome(deps, ask), nil, nil
	}
	if ask.Standing || stand.IsStanding(points) {
		seen, err := posed(points, levelOf(ask, level, points.LevelSD), ask)
		if err != nil {
			return nil, nil, err
		}
		return seen.outcome(deps, ask), nil, nil
	}
	passes, left, err := passesOf(points, levelOf(ask, level, points.LevelSD), ask, clock{slowed: slowedBy(points.RateHz, 0, ask)})
	if err != nil {
		return nil, nil, err
	}
	seen, lead := pool(passes)
	seen.notes = append(seen.notes, left...)
	behind, err := second(ctx, deps, ask, seen)
	if err != nil {
		return nil, nil, err
	}
	seen.join(behind)
	out := seen.outcome(deps, ask)
	out.Track = points
	if deps.Frames == nil {
		return out, passes, nil
	}
	near, err := pictures(ctx, deps.Frames, seen, ask)
	if err == nil && ask.Stride {
		out.Stills, err = lead.stills(ctx, deps.Frames, ask)
	}
	out.Card.Pictures = append(near, out.Card.Pictures...)
	return out, passes, err
}
