package check

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/geom"
	"plumbstride/internal/judge"
	"plumbstride/internal/measure"
	"plumbstride/internal/steady"
	"plumbstride/internal/track"
)

// sight is a track understood and measured.
type sight struct {
	track    form.Track // in the clip's own times
	gait     *gait.Gait // in real time
	measures []form.Measure
	refused  []form.Refusal
	clock    clock
	file     string         // the clip's, where several are taken together
	camera   *steady.Motion // nil: it stood still
	passes   []*sight       // nil: a single one
	notes    []string
	behind   *behind // nil without a second clip
}

// understand runs track, gait and measure.
func understand(points form.Track, level gait.Level, ask Ask, c clock) (*sight, error) {
	g, c, err := inRealTime(points, level, ask, c)
	if err != nil {
		return nil, err
	}
	s := &sight{track: points, gait: g, clock: c}
	s.measures, s.refused = measure.All(g, measure.Who{HeightM: ask.HeightM, MassKg: ask.MassKg, Sex: ask.Sex, Flat: ask.Flat})
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

// clock is how many times slower than life a clip runs, and how that is
// known: 0 times is not known.
type clock struct {
	slowed  float64
	guessed bool
}

// told says what was done about a clock that is not real time.
func (c clock) told() []string {
	switch {
	case c.guessed && c.slowed > 1:
		return []string{fmt.Sprintf("Nobody steps as slowly as this clip's clock says; it was taken for slow motion and read %.0f times faster. If that is wrong, state the camera's rate (--capture-rate).", c.slowed)}
	case c.slowed > 1.05:
		return []string{fmt.Sprintf("The clip is slow motion: it was read %.3g times faster, as the file or the coach says.", c.slowed)}
	default:
		return nil
	}
}

// inRealTime runs gait in real time. Where nobody says how fast the camera
// ran, the clip's own clock is believed unless nobody runs like that and
// exactly one usual slow motion makes it human; with more than one, or with
// none, the coach is asked.
func inRealTime(points form.Track, level gait.Level, ask Ask, c clock) (*gait.Gait, clock, error) {
	run := func(factor float64) (*gait.Gait, error) {
		return gait.Analyse(track.Smooth(quicken(points, factor)), facts(ask, level, factor))
	}
	if c.slowed > 0 {
		g, err := run(c.slowed)
		return g, c, err
	}
	g, err := run(1)
	if err == nil && (g.Setting == gait.OnTheSpot || 120/g.StrideS >= slowestCadence) || errors.Is(err, gait.ErrWalking) || errors.Is(err, gait.ErrView) {
		return g, clock{slowed: 1}, err
	}
	var found *gait.Gait
	var factors []float64
	walking := error(nil)
	for _, factor := range []float64{2, 4, 8} { // what telephones offer
		fast, fastErr := run(factor)
		if errors.Is(fastErr, gait.ErrWalking) {
			walking = fastErr
		}
		if fastErr != nil || math.Abs(fast.StrideS/fast.StrideCheckS-1) > 0.03 {
			continue // a multiple of the stride, not the stride
		}
		if c := 120 / fast.StrideS; c >= usualLow && c <= usualHigh {
			found, factors = fast, append(factors, factor)
		}
	}
	switch {
	case len(factors) == 1:
		return found, clock{factors[0], true}, nil
	case len(factors) > 1:
		return nil, clock{}, form.ClipError("the clip is slow motion, and %v times slower than life all look human: state the rate at which the camera filmed, for instance --capture-rate 240", factors)
	case err == nil:
		g.Notes = append(g.Notes, fmt.Sprintf("%.0f steps a minute is slower than people run: if the clip is slow motion, state the camera's rate (--capture-rate).", 120/g.StrideS))
		return g, clock{slowed: 1}, nil
	case walking != nil:
		return nil, clock{}, walking
	default:
		return nil, clock{}, err
	}
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

// facts is what gait is told; the clip's clock runs slowed times slower.
func facts(ask Ask, level gait.Level, slowed float64) gait.Facts {
	var byHand []gait.ByHand
	for _, e := range ask.byHand {
		byHand = append(byHand, gait.ByHand{Kind: e.Kind, Side: e.Side, Found: e.FoundS / slowed, Time: e.TimeS / slowed})
	}
	return gait.Facts{
		ByHand:  byHand,
		HeightM: ask.HeightM, SpeedMS: ask.SpeedMS, Level: level,
		InclineDeg: geom.Degrees(math.Atan(ask.InclinePct / 100)), Facing: ask.Facing,
	}
}

// fewSteps is the number of steps below which the card says so: a mean of
// seven a side is what reliable 2-D video takes (Dingenen et al. 2018, doi
// 10.1016/j.ptsp.2018.06.009).
const fewSteps = 14

// flatNote goes with a flat foot that was seen in another clip or picture.
const flatNote = "The flat foot is that of the standing picture: the foot strike angle is right only if it shows the same runner in the same shoes."

// outcome judges the measures and makes the card.
func (s *sight) outcome(deps Deps, ask Ask) *Outcome {
	g := s.gait
	ctx := judge.Context{SpeedMS: s.speedMS(), HeightM: ask.HeightM, Inches: ask.Inches, Pain: ask.Pain}
	measures := judge.WithBands(s.measures, ctx)
	verdict := judge.Judge(measures, s.refused, ctx)
	if g.Setting == gait.OnTheSpot {
		measures, verdict = s.measures, spotVerdict(verdict, ask)
	}
	c := card.Card{
		Program: deps.Program, Made: deps.Now(), Kind: card.Running,
		Runner: card.Runner{Name: ask.Name, HeightM: ask.HeightM, MassKg: ask.MassKg},
		Clip:   s.clip(), Events: s.allEvents(), Refused: s.refused,
		Priority: card.Priority{Area: verdict.Priority, Why: verdict.Why},
		Cautions: verdict.Cautions, Networks: []card.Network{},
		Notes: s.gaitNotes(),
	}
	if steps := s.beats(); steps < fewSteps {
		c.Notes = append(c.Notes, fmt.Sprintf("Only %d steps are seen; runners differ from step to step, so film at least 8 seconds (7 steps a side) before going by a single number.", steps))
	}
	if ask.Flat != nil {
		c.Notes = append(c.Notes, flatNote)
	}
	if verdict.Tie != "" {
		c.Notes = append(c.Notes, verdict.Tie)
	}
	if slices.ContainsFunc(measures, func(m form.Measure) bool { return m.Name == "cadence" && m.Band != nil }) {
		c.Notes = append(c.Notes, judge.CadenceNote)
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
	out := &Outcome{Card: c, Track: s.track, Gait: g}
	if b := s.behind; b != nil {
		out.Card.Behind, out.Card.Pictures = b.section(deps), b.pictures
		out.Back, out.BackTrack = b.back, &b.track
	}
	return out
}

// events are the gait events in the clip's own times.
func (s *sight) events() []form.Event {
	out := make([]form.Event, len(s.gait.Events))
	for i, e := range s.gait.Events {
		e.Time *= s.clock.slowed
		e.SD *= s.clock.slowed
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
		SpeedMS: s.cardSpeed(), RollDeg: card.Number(g.Plane.RollDeg),
		YawDeg: card.Number(g.Plane.YawDeg), MPerPx: card.Number(g.Plane.MPerPx), SlowedBy: s.clock.slowed,
		Passes: s.cardPasses(),
	}
	if rate > 0 {
		c.DurationS += 1 / rate
	}
	return c
}

// rowOf is a measure as the card shows it.
func rowOf(m form.Measure) card.Measure {
	row := card.Measure{
		Name: m.Name, Side: m.Side, Unit: m.Unit, Value: m.Value, SD: m.SD, SDLasting: m.Lasting, Low: m.Low, High: m.High,
		N: m.N, Class: m.Class, Classes: m.Classes, Note: m.Note,
	}
	if def, ok := measure.Find(m.Name, m.Unit); ok {
		row.Title, row.Area, row.View = def.Title, def.Area, string(def.View)
	}
	return banded(row, m)
}

// banded gives a row its measure's band.
func banded(row card.Measure, m form.Measure) card.Measure {
	if m.Band != nil {
		row.Band = &card.Band{
			Low: card.Number(m.Band.Low), High: card.Number(m.Band.High),
			PopulationSD: card.Number(m.Band.PopulationSD), Source: m.Band.Source,
		}
	}
	return row
}
