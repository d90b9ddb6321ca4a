package check

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"

	"plumbstride/internal/card"
	"plumbstride/internal/clip"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/judge"
	"plumbstride/internal/measure"
	"plumbstride/internal/track"
)

// behindNetwork looks at every frame of a clip from behind: legs cover each
// other there, and only the heavy network keeps them apart
// (docs/decisions/0016-from-behind.md).
const behindNetwork = "heavy"

// fromBehind has a clip from behind looked at as it needs.
func (a Ask) fromBehind() Ask {
	if a.Network == "" {
		a.Network = behindNetwork
	}
	return a
}

// behind is a clip or a track from behind, understood and measured.
type behind struct {
	file     string
	film     *film      // nil for a track
	track    form.Track // in the clip's own times
	back     *gait.Back // in real time
	clock    clock
	measures []form.Measure
	refused  []form.Refusal
	pictures []card.Picture
}

// second looks at the file of ask.Back, filmed from behind, of the same
// runner as the clip from the side; nil where none was named.
func second(ctx context.Context, deps Deps, ask Ask, side *sight) (*behind, error) {
	if ask.Back == "" {
		return nil, nil
	}
	there := ask
	there.Level, there.Network, there.CaptureRateHz = nil, "", 0 // said of the clip from the side
	there.SpeedMS = side.gait.SpeedMS
	b, err := behindFile(ctx, deps, there, 120/side.gait.StrideS)
	var said *form.Error
	if errors.As(err, &said) && said.Code == form.CodeClip {
		return nil, form.ClipError("the clip from behind, %s: %w", filepath.Base(ask.Back), err)
	}
	return b, err
}

// behindFile reads a track or watches a clip. cadence is the runner's where
// it is known from the side, else 0.
func behindFile(ctx context.Context, deps Deps, ask Ask, cadence float64) (*behind, error) {
	if strings.EqualFold(filepath.Ext(ask.Back), ".csv") {
		file, err := os.Open(ask.Back)
		if err != nil {
			return nil, form.ClipError("the track can't be read: %w", err)
		}
		defer file.Close()
		points, err := track.Read(file)
		if err != nil {
			return nil, err
		}
		return behindTrack(points, ask, cadence)
	}
	return behindClip(ctx, deps, ask.Back, ask, cadence)
}

// behindClip watches a clip from behind.
func behindClip(ctx context.Context, deps Deps, path string, ask Ask, cadence float64) (*behind, error) {
	info, err := clip.Probe(ctx, deps.Tools, path, clip.Limits{MaxSeconds: ask.LongestS})
	if err != nil {
		return nil, err
	}
	if info.Still {
		return nil, form.ClipError("this is a single picture; running is measured from a clip of 8 seconds or more")
	}
	f, err := watch(ctx, deps, info, ask.fromBehind())
	if err != nil {
		return nil, err
	}
	return f.behind(ctx, deps, ask, cadence)
}

// behindAlone checks a clip from behind without one from the side.
func behindAlone(ctx context.Context, deps Deps, path string, ask Ask) (*Outcome, error) {
	b, err := behindClip(ctx, deps, path, ask, 0)
	if err != nil {
		return nil, err
	}
	return b.outcome(deps, ask), nil
}

// behindTrack understands key points from behind.
func behindTrack(points form.Track, ask Ask, cadence float64) (*behind, error) {
	level := math.NaN()
	if points.LevelSD > 0 {
		level = points.LevelDeg
	}
	return behindPoints(points, levelOf(ask, level, points.LevelSD), ask, cadence, slowedBy(points.RateHz, 0, ask))
}

// behind understands a clip from behind and cuts its pictures.
func (f *film) behind(ctx context.Context, deps Deps, ask Ask, cadence float64) (*behind, error) {
	if f.stands(ask) {
		return nil, form.ClipError("nobody runs in it: somebody stands still. Film a runner from straight behind for at least 8 seconds")
	}
	if f.camera != nil {
		return nil, form.ClipError("the camera behind the runner moves: put it on something that stands still, straight behind the runner at hip height")
	}
	f.found.Track.Network = ask.fromBehind().Network
	b, err := behindPoints(f.found.Track, levelOf(ask, f.levelDeg, f.levelSD), ask, cadence, slowedBy(f.info.RateHz, f.info.CaptureRateHz, ask))
	if err != nil {
		return nil, err
	}
	b.film, b.file = f, f.info.File
	b.pictures, err = b.cut(ctx, deps, ask)
	return b, err
}

// behindPoints runs gait and measure, in real time: where nobody says how
// fast the camera ran, the clip's own clock is believed unless the cadence
// is one that nobody runs at, or not the one seen from the side.
func behindPoints(points form.Track, level gait.Level, ask Ask, cadence, slowed float64) (*behind, error) {
	run := func(factor float64) (*gait.Back, error) {
		return gait.Behind(track.Smooth(quicken(points, factor)), facts(ask, level, factor))
	}
	fits := func(b *gait.Back) bool {
		c := 120 / b.StrideS
		if cadence > 0 {
			return math.Abs(c/cadence-1) < sameCadence
		}
		return c >= slowestCadence
	}
	c := clock{slowed: math.Max(slowed, 1)}
	back, err := run(c.slowed)
	if slowed == 0 && (err != nil || !fits(back)) && !errors.Is(err, gait.ErrView) {
		for _, factor := range []float64{2, 4, 8} { // what telephones offer
			if fast, fastErr := run(factor); fastErr == nil && fits(fast) && 120/fast.StrideS <= usualHigh {
				back, err, c = fast, nil, clock{factor, true}
				break
			}
		}
	}
	if err != nil {
		return nil, err
	}
	b := &behind{track: points, back: back, clock: c, file: filepath.Base(ask.Back)}
	b.track.View = form.ViewBack
	b.measures, b.refused = measure.Behind(back)
	return b, nil
}

// sameCadence is how far, as a share, two clips' cadences may lie apart for
// the same run.
const sameCadence = 0.08

// join gives the check from the side what was seen from behind. Cadence and
// times are the side's.
func (s *sight) join(b *behind) {
	if b == nil {
		return
	}
	s.behind = b
	own := map[string]bool{}
	for _, m := range s.measures {
		own[m.Name] = true
	}
	for _, r := range s.refused {
		own[r.Name] = true
	}
	for _, m := range b.measures {
		if m.Name == "cadence" {
			if c := 120 / s.gait.StrideS; math.Abs(m.Value/c-1) > sameCadence/2 {
				b.back.Notes = append(b.back.Notes, fmt.Sprintf("From behind, the runner took %.0f steps a minute, from the side %.0f: the two clips are not of the same running.", m.Value, c))
			}
			continue
		}
		s.measures = append(s.measures, m)
	}
	for _, r := range b.refused {
		if !own[r.Name] {
			s.refused = append(s.refused, r)
		}
	}
}

// notes are facts about the clip from behind that the coach should know.
func (b *behind) notes() []string {
	notes := append(append([]string{}, b.clock.told()...), b.back.Notes...)
	if n := b.back.Steps(); n < fewSteps {
		notes = append(notes, fmt.Sprintf("Only %d steps are seen from behind; runners differ from step to step, so film at least 8 seconds (7 steps a side).", n))
	}
	if !b.back.RollSeen {
		notes = append(notes, "From behind, nothing in the background shows the camera's level; it was taken from the runner's own hips, shoulders and trunk, with a wider uncertainty.")
	}
	if b.film != nil {
		notes = append(notes, b.film.notes(b.film.info)...)
	}
	return notes
}

// clip says what was filmed from behind, and how it was read.
func (b *behind) clip() card.Clip {
	n := len(b.track.Frames)
	c := card.Clip{
		File: filepath.Base(b.file), Frames: n, DurationS: b.track.Frames[n-1].Time - b.track.Frames[0].Time, RateHz: b.track.RateHz,
		Setting: string(b.back.Setting), View: string(form.ViewBack), SpeedMS: card.Number(math.NaN()),
		RollDeg: card.Number(b.back.RollDeg), YawDeg: card.Number(b.back.ViewDeg), MPerPx: card.Number(b.back.MPerPx()), SlowedBy: b.clock.slowed,
	}
	if c.RateHz > 0 {
		c.DurationS += 1 / c.RateHz
	}
	return c
}

// section is what the card shows of a second clip.
func (b *behind) section(deps Deps) *card.Behind {
	s := &card.Behind{Clip: b.clip(), Says: judge.Behind(b.measures), Notes: b.notes(), Networks: []card.Network{}}
	if b.film != nil {
		s.Networks = networksOf([]*film{b.film}, deps)
	}
	return s
}

// outcome is the card of a clip from behind alone: nothing is put first.
func (b *behind) outcome(deps Deps, ask Ask) *Outcome {
	speed := math.NaN()
	if ask.SpeedMS > 0 {
		speed = ask.SpeedMS
	}
	ctx := judge.Context{SpeedMS: speed, HeightM: ask.HeightM, Inches: ask.Inches, Pain: ask.Pain}
	measures := judge.WithBands(b.measures, ctx)
	verdict := judge.BehindAlone(measures, b.refused, ctx)
	c := card.Card{
		Program: deps.Program, Made: deps.Now(), Kind: card.Running,
		Runner: card.Runner{Name: ask.Name, HeightM: ask.HeightM, MassKg: ask.MassKg},
		Clip:   b.clip(), Events: []form.Event{}, Refused: b.refused,
		Priority: card.Priority{Why: verdict.Why}, Cautions: verdict.Cautions, Networks: []card.Network{}, Notes: b.notes(),
		Pictures: b.pictures,
	}
	if ask.SpeedMS > 0 {
		c.Clip.SpeedMS = card.Number(ask.SpeedMS)
	}
	if b.film != nil {
		c.Networks = networksOf([]*film{b.film}, deps)
	}
	for _, a := range verdict.Areas {
		c.Areas = append(c.Areas, card.Area{Name: a.Name, State: string(a.State), Why: a.Why})
	}
	for _, m := range measures {
		c.Measures = append(c.Measures, rowOf(m))
	}
	return &Outcome{Card: c, Track: b.track, Back: b.back}
}
