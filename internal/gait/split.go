package gait

import (
	"errors"
	"fmt"
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/track"
)

// A clip in which somebody walks first and then runs (a treadmill that is
// brought up to speed) is read in windows of windowS seconds, one every
// windowStepS; what is walked is left out.
const (
	windowS     = 2.4
	windowStepS = 0.6
	shortestRun = 2.0  // s: less of a run is not measured
	margin      = 0.3  // s
	steadyPace  = 1.12 // the stride time's ratio within one clip of running
)

// pace is what one window shows.
type pace uint8

const (
	unclear pace = iota
	running
	walking
)

// span is a stretch of the clip, seconds; before and after tell whether
// something else borders on it.
type span struct {
	from, to      float64
	before, after bool
}

// shorter gives the span a window's step shorter where something borders on
// it, or on both sides where nothing does.
func (s span) shorter() span {
	if s.before || !s.after {
		s.from += windowStepS / 2
	}
	if s.after || !s.before {
		s.to -= windowStepS / 2
	}
	return s
}

// runningPart gives the stretch of the clip that is run, where another is
// walked; ok is false where the clip is all of a kind, or nothing of it is a
// run for long enough.
func runningPart(m *track.Motion, facts Facts) (run span, ok bool) {
	first, last := m.Times[0], m.Times[len(m.Times)-1]
	var starts []float64
	var paces []pace
	walked := false
	for t := first; t+windowS <= last+1e-9; t += windowStepS {
		p := paceOf(m, facts, t, t+windowS)
		starts, paces = append(starts, t), append(paces, p)
		walked = walked || p == walking
	}
	if !walked {
		return span{}, false
	}
	for i := 0; i < len(paces); i++ {
		if paces[i] != running {
			continue
		}
		j := i
		for j+1 < len(paces) && paces[j+1] == running {
			j++
		}
		// A window that is run only for the most part counts as running: leave
		// out the half of it that borders on something else, and a step more.
		found := span{starts[i], starts[j] + windowS, i > 0, j+1 < len(paces)}
		if found.before {
			found.from += windowS/2 + margin
		}
		if found.to = math.Min(found.to, last); found.after {
			found.to -= windowS/2 + margin
		} else {
			found.to = last
		}
		if found.to-found.from > run.to-run.from {
			run = found
		}
		i = j
	}
	return run, run.to-run.from >= shortestRun
}

// paceOf looks at one window by itself.
func paceOf(m *track.Motion, facts Facts, from, to float64) pace {
	g, err := analyse(track.Smooth(stretch(m.Track, from, to)), facts)
	switch {
	case errors.Is(err, ErrWalking):
		return walking
	case err != nil || 120/g.StrideS < walkRunCadence-10:
		return unclear
	default:
		return running
	}
}

// changesPace tells whether the clip's strides last so differently that a
// part of it may be walked.
func (g *Gait) changesPace() bool {
	low, high := math.Inf(1), 0.0
	for _, s := range sides {
		a := g.Cycles[s].Anchors
		for i := 2; i < len(a); i++ {
			if d := (a[i] - a[i-2]) / 2; d < 1.5*g.StrideS { // no stride missing between
				low, high = math.Min(low, d), math.Max(high, d)
			}
		}
	}
	return high > steadyPace*low
}

// withoutWalking analyses the part of a clip that is run, where the rest is
// walked; g and err are what the whole clip gave.
func withoutWalking(m *track.Motion, facts Facts, g *Gait, err error) (*Gait, error) {
	if len(m.Times) < minFrames || m.Times[len(m.Times)-1]-m.Times[0] < windowS+shortestRun {
		return g, err
	}
	var told *form.Error
	switch {
	case err == nil && (g.Setting == OverGround || !g.changesPace()):
		return g, nil
	case errors.Is(err, ErrView), err != nil && !errors.As(err, &told):
		return g, err
	}
	run, ok := runningPart(m, facts)
	if !ok {
		return g, err
	}
	var part *Gait
	for {
		var partErr error
		part, partErr = analyse(track.Smooth(stretch(m.Track, run.from, run.to)), facts)
		if partErr == nil && !part.changesPace() {
			break
		}
		if run = run.shorter(); run.to-run.from < shortestRun {
			return g, err
		}
	}
	from, to := run.from, run.to
	start := m.Times[0]
	part.Notes = append(part.Notes, fmt.Sprintf("A part of the clip is walked; only the running from %.1f to %.1f s is measured.", from-start, to-start))
	return part, nil
}

// stretch is the part of a track from one time to another, both included.
func stretch(t form.Track, from, to float64) form.Track {
	var frames []form.Frame
	for _, f := range t.Frames {
		if f.Time >= from && f.Time <= to {
			frames = append(frames, f)
		}
	}
	t.Frames = frames
	return t
}
