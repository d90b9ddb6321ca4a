package check

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"

	"plumbstride/internal/card"
	"plumbstride/internal/clip"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/pose"
	"plumbstride/internal/scene"
	"plumbstride/internal/steady"
)

// Usual networks: which runs where is the outcome of the study in
// docs/decisions/0011-which-network-where.md.
const (
	usualMeasure = "full"
	usualRefine  = "heavy"
	usualLegs    = "legs"
)

// film is a clip after the networks have looked at it.
type film struct {
	info  *clip.Info
	found *pose.Result
	// damaged: the decoder reported damage or left pictures out.
	damaged bool
	// levelDeg is the camera's roll seen in the background's uprights; NaN
	// where there are none.
	levelDeg, levelSD float64
	// camera is how it moved; nil where it stood still, or nothing tells.
	camera  *steady.Motion
	verdict steady.Verdict
	left    []string // passes that were left out, and why
}

// watch decodes the clip and finds the runner in every frame.
func watch(ctx context.Context, deps Deps, info *clip.Info, ask Ask) (*film, error) {
	reader, err := clip.Open(ctx, deps.Tools, info, clip.Options{MaxSide: maxSide})
	if err != nil {
		return nil, err
	}
	defer reader.Close()
	var src pose.Source = reader
	if info.Still {
		src = &manyLooks{Source: reader}
	}
	behind := newBackground(src)
	defer behind.end()
	stills := newStills(behind, len(info.Times))
	o := pose.Options{Measure: usualMeasure, Legs: true}
	if ask.Network != "" {
		o.Measure, o.Legs = ask.Network, false
	}
	if deps.Progress != nil {
		o.Progress = func(done int) { deps.Progress(Progress{"find the runner", done, len(info.Times)}) }
	}
	found, err := pose.Find(ctx, deps.Networks, stills, len(info.Times), o)
	if err != nil {
		return nil, err
	}
	read := reader.Read()
	if err := reader.Close(); err != nil && !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("close the decoder: %w", err)
	}
	if found.LegFrames > 0 {
		found.Track.Network += "+" + usualLegs
	}
	f := &film{info: info, found: found, damaged: read.Complaints > 0 || read.Skipped > 0, levelDeg: math.NaN()}
	if !f.stands(ask) {
		if err := f.checkRunner(); err != nil {
			return nil, err
		}
	}
	return f, f.findCamera(behind, stills)
}

// findCamera finds how the camera moved, and its level.
func (f *film) findCamera(behind *background, stills *stills) error {
	m := behind.motion(f.found.Track)
	if m.Verdict == steady.Lost && scene.Still(stills.planes, stills.boxes(f.found)) {
		m.Verdict = steady.Still // hard pressed pictures can't be followed by their corners
	}
	f.verdict = m.Verdict
	deg, sd, ok := 0.0, 0.0, false
	switch m.Verdict {
	case steady.Lost:
		return errLost()
	case steady.Moving:
		f.camera = &m
		deg, sd, ok = f.steadyLevel(stills)
	default:
		deg, sd, ok = scene.Level(stills.planes, stills.boxes(f.found))
	}
	if ok {
		f.levelDeg, f.levelSD = deg, sd
		f.found.Track.LevelDeg, f.found.Track.LevelSD = deg, sd
	}
	return nil
}

// maxSide is the longest side at which frames are delivered: more pixels
// than the networks can use only cost time.
const maxSide = 1920

// checkRunner says what is wrong with how the runner was filmed.
func (f *film) checkRunner() error {
	n := len(f.found.Track.Frames)
	missing := f.found.NoPersonFrames
	if n-missing < 20 {
		return form.ClipError("nobody was found in %d of %d pictures: film one runner from the side, the whole body in the picture, in good light", missing, n)
	}
	return nil
}

// understand runs gait on the points found, pass by pass. Where the legs were
// not looked at from near by, the frames that matter are looked at again with
// the heavier network first.
func (f *film) understand(ctx context.Context, deps Deps, ask Ask) ([]*sight, error) {
	clk := clock{slowed: slowedBy(f.info.RateHz, f.info.CaptureRateHz, ask)}
	level := levelOf(ask, f.levelDeg, f.levelSD)
	seen, left, err := passesOf(f.laid(), level, ask, clk)
	if err != nil {
		return nil, err
	}
	f.left = left
	if ask.Network == "" && f.found.LegFrames == 0 {
		frames := f.worthAnotherLook(seen)
		o := pose.Options{Refine: usualRefine}
		if deps.Progress != nil {
			o.Progress = func(done int) { deps.Progress(Progress{"look again at the landings", done, len(frames)}) }
		}
		refined, err := pose.Refine(ctx, deps.Networks, f.found, frames, o)
		if err != nil {
			return nil, err
		}
		refined.Track.LevelDeg, refined.Track.LevelSD = f.found.Track.LevelDeg, f.found.Track.LevelSD
		refined.Track.Network = usualMeasure + "+" + usualRefine
		f.found = refined
		if seen, f.left, err = passesOf(f.laid(), level, ask, seen[0].clock); err != nil {
			return nil, err
		}
	}
	for _, s := range seen {
		s.camera = f.camera
	}
	return seen, nil
}

// worthAnotherLook are the frames around each landing, while the foot is
// down and as it leaves: those that the measures at contact, mid-stance and
// toe-off are read from.
func (f *film) worthAnotherLook(seen []*sight) []int {
	var frames []int
	for i := range f.found.Track.Frames {
		t := f.found.Track.Frames[i].Time
		for _, s := range seen {
			if s.nearEvent(t / s.clock.slowed) {
				frames = append(frames, i)
				break
			}
		}
		if len(frames) >= mostLooks {
			break
		}
	}
	return frames
}

// nearEvent tells whether a real time is near an event.
func (s *sight) nearEvent(t float64) bool {
	for _, e := range s.gait.Events {
		from, to := -0.05, 0.09
		if e.Kind == form.ToeOff {
			from, to = -0.04, 0.04
		}
		if d := t - e.Time; d >= from && d <= to {
			return true
		}
	}
	return false
}

// mostLooks bounds the second look: some twelve seconds at 60 Hz.
const mostLooks = 420

// notes are facts about the clip that the coach should know.
func (f *film) notes(info *clip.Info) []string {
	notes := append(f.cameraNotes(), f.left...)
	n := float64(len(f.found.Track.Frames))
	if info.CutShort {
		notes = append(notes, "The file ends before its stated length; what was there is checked.")
	}
	if f.damaged {
		notes = append(notes, "Parts of the file are damaged; copy it from the telephone once more if you can.")
	}
	if f.found.Persons > 1 {
		notes = append(notes, "More than one person is in the picture; the one who moves most like a runner was measured.")
	}
	if share := float64(f.found.NoPersonFrames) / n; share > 0.05 {
		notes = append(notes, fmt.Sprintf("The runner was not found in %.0f %% of the pictures.", 100*share))
	}
	return notes
}

// forget lets go of the pictures of the runner, which nothing needs any more.
func (f *film) forget() {
	f.found = &pose.Result{Track: f.found.Track, Net: f.found.Net, Persons: f.found.Persons, NoPersonFrames: f.found.NoPersonFrames, LegFrames: f.found.LegFrames}
}

// networksOf names what looked at the clips, by hash.
func networksOf(films []*film, deps Deps) []card.Network {
	out := []card.Network{
		{Name: "detector", Role: "finds people", SHA256: deps.Hash["detector"]},
		{Name: "lite", Role: "follows the runner", SHA256: deps.Hash["lite"]},
	}
	used, legs := map[string]int{}, 0
	for _, f := range films {
		legs += f.found.LegFrames
		for _, name := range f.found.Net {
			used[name]++
		}
	}
	for _, name := range []string{"lite", "full", "heavy"} {
		if used[name] > 0 {
			out = append(out, card.Network{
				Name: name, Role: fmt.Sprintf("body points of %d pictures", used[name]), SHA256: deps.Hash[name],
			})
		}
	}
	if legs > 0 {
		out = append(out, card.Network{
			Name: usualLegs, Role: fmt.Sprintf("hips, knees, ankles and feet of %d pictures", legs), SHA256: deps.Hash[usualLegs],
		})
	}
	if h := deps.Hash["runtime"]; h != "" {
		out = append(out, card.Network{Name: "runtime", Role: "runs the networks", SHA256: h})
	}
	return out
}

// slowedBy is how many times slower than life a clip of rate Hz runs, from
// what the coach or the file says of the camera's; 0 where neither says.
func slowedBy(rate, captured float64, ask Ask) float64 {
	switch {
	case rate <= 0:
		return 0
	case ask.CaptureRateHz > 0:
		return math.Max(ask.CaptureRateHz/rate, 1)
	case captured > 1.2*rate:
		return captured / rate
	default:
		return 0
	}
}

// levelOf is the level to go by: stated, or seen in the picture.
func levelOf(ask Ask, seenDeg, seenSD float64) gait.Level {
	if ask.Level != nil {
		return gait.Level{Deg: *ask.Level, SD: 0.3, Stated: true}
	}
	if math.IsNaN(seenDeg) {
		return gait.Level{}
	}
	return gait.Level{Deg: seenDeg, SD: seenSD, Known: true}
}
