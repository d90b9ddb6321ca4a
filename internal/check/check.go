package check

import (
	"context"
	"fmt"
	"io"
	"math"
	"time"

	"plumbstride/internal/body"
	"plumbstride/internal/card"
	"plumbstride/internal/clip"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/pose"
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
}

// Outcome is everything a check found. Track is the key points in the
// clip's own times; Gait is nil only with an error.
type Outcome struct {
	Card  card.Card
	Track form.Track
	Gait  *gait.Gait
}

// Clip checks a video file. Errors are form.Errors where the coach, the
// command or the machine can mend it.
func Clip(ctx context.Context, deps Deps, path string, ask Ask) (*Outcome, error) {
	info, err := clip.Probe(ctx, deps.Tools, path, clip.Limits{MaxSeconds: ask.LongestS})
	if err != nil {
		return nil, err
	}
	if info.Still {
		return nil, form.ClipError("this is a single picture; running is measured from a clip of 8 seconds or more")
	}
	film, err := watch(ctx, deps, info, ask)
	if err != nil {
		return nil, err
	}
	seen, err := film.understand(ctx, deps, ask)
	if err != nil {
		return nil, err
	}
	out := seen.outcome(deps, ask)
	out.Card.Clip.File = info.File
	out.Card.Networks = film.networks(deps)
	out.Card.Notes = append(out.Card.Notes, film.notes(info)...)
	if out.Card.Pictures, err = pictures(ctx, deps, info, seen, ask); err != nil {
		return nil, err
	}
	return out, nil
}

// Track checks key points that were found before, read from CSV.
func Track(ctx context.Context, deps Deps, r io.Reader, ask Ask) (*Outcome, error) {
	points, err := track.Read(r)
	if err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("check: %w", err)
	}
	level := math.NaN()
	if points.LevelSD > 0 {
		level = points.LevelDeg
	}
	seen, err := understand(points, levelOf(ask, level, points.LevelSD), ask, clock{slowed: slowedBy(points.RateHz, 0, ask)})
	if err != nil {
		return nil, err
	}
	return seen.outcome(deps, ask), nil
}
