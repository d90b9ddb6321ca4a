package check

import (
	"errors"
	"fmt"
	"math"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/geom"
	"plumbstride/internal/judge"
	"plumbstride/internal/measure"
	"plumbstride/internal/track"
)

// sight is a track understood and measured.
type sight struct {
	track    form.Track // in the clip's own times
	gait     *gait.Gait // in real time
	measures []form.Measure
	refused  []form.Refusal
	slowed   float64
	notes    []string
}

// understand runs track, gait and measure. slowed is how many times slower
// than life the clip runs, 0 to find out.
func understand(points form.Track, level gait.Level, ask Ask, slowed float64) (*sight, error) {
	g, slowed, notes, err := inRealTime(points, level, ask, slowed)
	if err != nil {
		return nil, err
	}
	s := &sight{track: points, gait: g, slowed: slowed, notes: notes}
	s.measures, s.refused = measure.All(g, measure.Who{HeightM: ask.HeightM, MassKg: ask.MassKg, Sex: ask.Sex})
	return s, nil
}

// plausible cadences of running, steps/min: van Oeveren et al. 2017 saw 154
// and more in beginners, Burns et al. 2019 up to 203 in elites; the limits
// leave room on both sides.
const (
	slowestCadence = 125.0
	usualLow       = 138.0
	usualHigh      = 215.0
)

// inRealTime runs gait in real time. Where nobody says how fast the camera
// ran, the clip's own clock is believed unless nobody runs like that and
// exactly one usual slow motion makes it human.
func inRealTime(points form.Track, level gait.Level, ask Ask, slowed float64) (*gait.Gait, float64, []string, error) {
	run := func(factor float64) (*gait.Gait, error) {
		return gait.Analyse(track.Smooth(quicken(points, factor)), facts(ask, level))
	}
	if slowed > 0 {
		g, err := run(slowed)
		var notes []string
		if slowed > 1.05 {
			notes = append(notes, fmt.Sprintf("The clip is slow motion: it was read %.3g times faster, as the file or the coach says.", slowed))
		}
		return g, slowed, notes, err
	}
	g, err := run(1)
	if err == nil && 120/g.StrideS >= slowestCadence || errors.Is(err, gait.ErrWalking) || errors.Is(err, gait.ErrView) {
		return g, 1, nil, err
	}
	for _, factor := range []float64{4, 8, 2, 10} {
		fast, fastErr := run(factor)
		if fastErr != nil {
			continue
		}
		if c := 120 / fast.StrideS; c >= usualLow && c <= usualHigh {
			return fast, factor, []string{fmt.Sprintf(
				"Nobody steps as slowly as this clip's clock says; it was taken for slow motion and read %.0f times faster. If that is wrong, state the camera's rate (--capture-rate).", factor)}, nil
		}
	}
	return g, 1, nil, err
}

// quicken gives the track with its clock running factor times faster.
func quicken(t form.Track, factor float64) form.Track {
	if factor == 1 {
		return t
	}
	frames := make([]form.Frame, len(t.Frames))
	for i, f := range t.Frames {
		f.Time /= factor
		frames[i] = f
	}
	t.Frames, t.RateHz = frames, t.RateHz*factor
	return t
}

func facts(ask Ask, level gait.Level) gait.Facts {
	return gait.Facts{
		HeightM: ask.HeightM, SpeedMS: ask.SpeedMS, Level: level,
		InclineDeg: geom.Degrees(math.Atan(ask.InclinePct / 100)), Facing: ask.Facing,
	}
}

// outcome judges the measures and makes the card.
func (s *sight) outcome(deps Deps, ask Ask) *Outcome {
	g := s.gait
	ctx := judge.Context{SpeedMS: g.SpeedMS, HeightM: ask.HeightM}
	measures := judge.WithBands(s.measures, ctx)
	verdict := judge.Judge(measures, s.refused, ctx)
	c := card.Card{
		Program: deps.Program, Made: deps.Now(),
		Runner: card.Runner{Name: ask.Name, HeightM: ask.HeightM, MassKg: ask.MassKg},
		Clip:   s.clip(), Events: s.events(), Refused: s.refused,
		Priority: card.Priority{Area: verdict.Priority, Why: verdict.Why},
		Cautions: verdict.Cautions, Networks: []card.Network{},
		Notes: append(append([]string{}, s.notes...), g.Notes...),
	}
	if verdict.Tie != "" {
		c.Notes = append(c.Notes, verdict.Tie)
	}
	for _, a := range verdict.Areas {
		c.Areas = append(c.Areas, card.Area{Name: a.Name, State: string(a.State), Why: a.Why})
	}
	for _, m := range measures {
		c.Measures = append(c.Measures, rowOf(m))
	}
	if c.Refused == nil {
		c.Refused = []form.Refusal{}
	}
	return &Outcome{Card: c, Track: s.track, Gait: g}
}

// events are the gait events in the clip's own times.
func (s *sight) events() []form.Event {
	out := make([]form.Event, len(s.gait.Events))
	for i, e := range s.gait.Events {
		e.Time *= s.slowed
		e.SD *= s.slowed
		out[i] = e
	}
	return out
}

func (s *sight) clip() card.Clip {
	g := s.gait
	n := len(s.track.Frames)
	first, last := s.track.Frames[0].Time, s.track.Frames[n-1].Time
	rate := s.track.RateHz
	c := card.Clip{
		Frames: n, DurationS: last - first, RateHz: rate, Setting: string(g.Setting),
		Facing: g.Plane.Facing.String(), View: string(form.ViewSide),
		SpeedMS: card.Number(g.SpeedMS), RollDeg: card.Number(g.Plane.RollDeg),
		YawDeg: card.Number(g.Plane.YawDeg), MPerPx: card.Number(g.Plane.MPerPx), SlowedBy: s.slowed,
	}
	if rate > 0 {
		c.DurationS += 1 / rate
	}
	return c
}

// rowOf is a measure as the card shows it.
func rowOf(m form.Measure) card.Measure {
	row := card.Measure{
		Name: m.Name, Side: m.Side, Unit: m.Unit, Value: m.Value, SD: m.SD, Low: m.Low, High: m.High,
		N: m.N, Class: m.Class, Classes: m.Classes, Note: m.Note,
	}
	if def, ok := measure.Find(m.Name, m.Unit); ok {
		row.Title, row.Area = def.Title, def.Area
	}
	if m.Band != nil {
		row.Band = &card.Band{
			Low: card.Number(m.Band.Low), High: card.Number(m.Band.High),
			PopulationSD: card.Number(m.Band.PopulationSD), Source: m.Band.Source,
		}
	}
	return row
}
