package check

import (
	"fmt"
	"math"

	"plumbstride/internal/clip"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/geom"
	"plumbstride/internal/pose"
	"plumbstride/internal/scene"
	"plumbstride/internal/signal"
	"plumbstride/internal/steady"
)

// background passes frames on, and has the background followed beside them,
// so that a camera that moved can be made one that stood still.
type background struct {
	pose.Source
	n        int
	last     float64
	scale    float64
	frames   []int // number of each frame that was followed
	work     chan seenPicture
	done     chan struct{}
	follower *steady.Follower
}

type seenPicture struct {
	picture *steady.Picture
	time    float64
}

// followedHz is how many frames a second are followed: a hand moves slower.
const followedHz = 66.0

func newBackground(src pose.Source) *background {
	b := &background{
		Source: src, last: math.Inf(-1), work: make(chan seenPicture, 4),
		done: make(chan struct{}), follower: steady.NewFollower(),
	}
	go func() {
		defer close(b.done)
		for p := range b.work {
			b.follower.Add(p.picture, p.time)
		}
	}()
	return b
}

// Next gives the next frame.
func (b *background) Next() (*clip.Frame, error) {
	f, err := b.Source.Next()
	if err != nil {
		return nil, err
	}
	if f.Time-b.last >= 1/followedHz-1e-6 {
		b.last, b.scale = f.Time, f.Scale
		b.frames = append(b.frames, b.n)
		b.work <- seenPicture{steady.Prepare(steady.Luma{Width: f.Width, Height: f.Height, Stride: f.YStride, Pix: f.Y}), f.Time}
	}
	b.n++
	return f, nil
}

// end waits until all frames have been followed. It may be called twice.
func (b *background) end() {
	if b.work != nil {
		close(b.work)
		<-b.done
		b.work = nil
	}
}

// motion gives how the camera moved while the runner was seen.
func (b *background) motion(points form.Track) steady.Motion {
	b.end()
	from, to := math.Inf(1), math.Inf(-1)
	for i := range points.Frames {
		if f := &points.Frames[i]; f.Spot(form.Hip, form.Left).Seen() || f.Spot(form.Hip, form.Right).Seen() {
			from, to = math.Min(from, f.Time), math.Max(to, f.Time)
		}
	}
	box := func(k int) steady.Box {
		if n := b.frames[k]; n < len(points.Frames) {
			x := boxOf(&points.Frames[n], b.scale)
			return steady.Box{X0: x.X0, Y0: x.Y0, X1: x.X1, Y1: x.Y1}
		}
		return steady.Box{}
	}
	return b.follower.Solve(box, b.scale, from, to)
}

// errLost says what to do about a camera that can't be followed.
func errLost() error {
	return form.ClipError("the camera moves so much that the background can't be followed from picture to picture: put the phone on something, or turn it slowly and evenly along with the runner, and film again")
}

// laid gives the points as a camera that stood still would have seen them.
// Frames in which the runner is cut off at the side of the picture are left
// out: what the networks put beyond the edge is a guess.
func (f *film) laid() form.Track {
	t := f.found.Track
	if f.camera == nil {
		return t
	}
	frames := append([]form.Frame(nil), t.Frames...)
	for i := range frames {
		if !gait.Whole(&frames[i], t.Width) {
			frames[i].Spots = [form.NumJoints]form.Spot{}
		}
	}
	t.Frames = frames
	t = f.camera.Lay(t)
	t.FocalPx, t.FocalSD = f.camera.FocalPx, f.camera.FocalSD
	return t
}

// steadyLevel is the level of the steady picture: what stands upright in each
// of the stills kept, less how far the camera was rolled then.
func (f *film) steadyLevel(s *stills) (deg, sd float64, ok bool) {
	boxes := s.boxes(f.found)
	var levels, weights []float64
	for i, p := range s.planes {
		d, e, ok := scene.Level([]scene.Luma{p}, []scene.Box{boxes[i]})
		if k := s.frames[i]; ok && k < len(f.found.Track.Frames) {
			levels = append(levels, d-f.camera.RollDeg(f.found.Track.Frames[k].Time))
			weights = append(weights, e)
		}
	}
	if len(levels) < 2 {
		return math.NaN(), math.NaN(), false
	}
	spread := signal.RobustSD(levels) / math.Sqrt(float64(len(levels)))
	return signal.Median(levels), math.Max(math.Hypot(spread, signal.Median(weights)), 0.3), true
}

// cameraNotes tell what was done about the camera.
func (f *film) cameraNotes() []string {
	switch {
	case f.verdict == steady.Bare:
		return []string{"The background shows nothing to hold on to, so it can't be told whether the camera moved. If it was held by hand, put it on something, or film before a background with more in it."}
	case f.camera == nil:
		return nil
	case f.camera.PanDeg > 8:
		return []string{fmt.Sprintf("The camera turned by %.0f° while it filmed; its motion was read from the background and taken out.", f.camera.PanDeg)}
	default:
		return []string{"The camera was not quite still; its motion was read from the background and taken out."}
	}
}

// shown gives the place in the clip's picture, at a time of the clip, of a
// place in the track.
func (s *sight) shown(v geom.Vec, t float64) geom.Vec {
	if s.camera == nil {
		return v
	}
	x, y, ok := s.camera.Shown(t, v.X, v.Y)
	if !ok {
		return v
	}
	return geom.Vec{X: x, Y: y}
}
