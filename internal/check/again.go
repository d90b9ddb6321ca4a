package check

import (
	"context"
	"fmt"
	"math"
	"slices"

	"plumbstride/internal/amend"
	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/geom"
)

// restsShare is by how much of its standard uncertainty a value, or that
// uncertainty itself, must have moved before the card says that it rests on
// corrections: a corrected point moves the scale a little too, and with it
// every length.
const restsShare = 0.05

// RestsByHand is the note of a measure that corrections moved.
const RestsByHand = "Rests on points or events that the coach set by hand."

// Again measures a stored track anew, with a coach's corrections; the clip is
// not needed. before is the card as it was measured, of which what doesn't
// follow from the track is kept. A correction that can't be meant is a
// form.Error of usage.
func Again(ctx context.Context, deps Deps, points form.Track, fix amend.Corrections, before card.Card, ask Ask) (*Outcome, error) {
	ask = askedBefore(ask, before, points)
	fixed, placed, err := amend.Apply(points, fix)
	if err != nil {
		return nil, err
	}
	old, _, err := ofPoints(ctx, deps, points, ask)
	if err != nil {
		return nil, fmt.Errorf("the stored track can't be measured any more: %w", err)
	}
	if len(fix.Events) > 0 && old.Gait == nil {
		return nil, form.UsageError("contacts and toe-offs can be set in a run seen from the side; in other checks, only points")
	}
	ask.byHand = fix.Events
	out, passes, err := ofPoints(ctx, deps, fixed, ask)
	if err != nil {
		return nil, err
	}
	used := 0
	for _, p := range passes {
		used += p.gait.PlacedByHand
	}
	if used < len(fix.Events) {
		return nil, form.UsageError("%d of the corrected contacts and toe-offs belong to no stride that was found: set them near one that was", len(fix.Events)-used)
	}
	c := merged(before, old.Card, out.Card)
	if !fix.None() {
		c.Corrected = correctedOf(deps, fix, placed)
		c.Notes = append(c.Notes, byHandNote(c))
	}
	for _, p := range passes {
		if p.gait == out.Gait {
			c.Pictures = p.redrawn(before.Pictures, ask)
		}
	}
	out.Card = c
	return out, nil
}

// askedBefore takes over what was found out about the clip and doesn't stand
// in its track: how much slower than life it runs, and what it shows.
func askedBefore(ask Ask, before card.Card, points form.Track) Ask {
	if before.Clip.SlowedBy > 0 && points.RateHz > 0 {
		ask.CaptureRateHz = before.Clip.SlowedBy * points.RateHz
	}
	ask.Standing = before.Kind == card.Standing
	if ask.View == "" && before.Clip.View == string(form.ViewBack) {
		ask.View = form.ViewBack
	}
	return ask
}

type rowKey struct {
	name, unit, view string
	side             form.Side
}

func keyOf(m card.Measure) rowKey { return rowKey{m.Name, m.Unit, m.View, m.Side} }

// merged is the card of the corrected track, with what only the clip told.
func merged(before, old, now card.Card) card.Card {
	was := map[rowKey]card.Measure{}
	for _, m := range old.Measures {
		was[keyOf(m)] = m
	}
	for i := range now.Measures {
		m := &now.Measures[i]
		o, there := was[keyOf(*m)]
		if there && !rests(o, *m) {
			continue
		}
		m.Found = &card.Found{Value: card.Number(math.NaN()), SD: card.Number(math.NaN())}
		if there {
			m.Found = &card.Found{Value: card.Number(o.Value), SD: card.Number(o.SD)}
		}
		if m.Note != "" {
			m.Note += ". "
		}
		m.Note += RestsByHand
	}
	now.Made, now.Runner, now.Networks = before.Made, before.Runner, before.Networks
	now.Clip.File, now.Pictures = before.Clip.File, before.Pictures
	for _, n := range before.Notes { // of the clip alone
		if !slices.Contains(old.Notes, n) {
			now.Notes = append(now.Notes, n)
		}
	}
	if before.Behind != nil && now.Behind == nil { // a second clip
		now.Behind = before.Behind
		for _, m := range before.Measures {
			if m.View == string(form.ViewBack) {
				now.Measures = append(now.Measures, m)
			}
		}
	}
	return now
}

// rests tells whether corrections moved a measure.
func rests(was, now card.Measure) bool {
	limit := restsShare * was.SD
	return math.Abs(now.Value-was.Value) > limit || math.Abs(now.SD-was.SD) > limit || now.N != was.N
}

func correctedOf(deps Deps, fix amend.Corrections, placed []amend.Placed) *card.Corrected {
	c := &card.Corrected{At: deps.Now(), Points: []card.CorrectedPoint{}, Events: []card.CorrectedEvent{}}
	for _, p := range placed {
		one := card.CorrectedPoint{
			TimeS: p.TimeS, Point: p.Point.Point, Side: p.Side, XPx: p.XPx, YPx: p.YPx,
			FoundX: card.Number(math.NaN()), FoundY: card.Number(math.NaN()), FoundBy: p.Found.Confidence,
		}
		if p.Found.Seen() {
			one.FoundX, one.FoundY = card.Number(p.Found.X), card.Number(p.Found.Y)
		}
		c.Points = append(c.Points, one)
	}
	for _, e := range fix.Events {
		c.Events = append(c.Events, card.CorrectedEvent{Kind: e.Kind, Side: e.Side, TimeS: e.TimeS, FoundS: e.FoundS})
	}
	return c
}

// byHandNote says what was corrected, and how many measures moved.
func byHandNote(c card.Card) string {
	moved := 0
	for _, m := range c.Measures {
		if m.Found != nil {
			moved++
		}
	}
	return fmt.Sprintf("Corrected by hand: %s and %s. Measures that rest on them say so: %d of %d. What was found first is kept beside.",
		count(len(c.Corrected.Points), "body point"), count(len(c.Corrected.Events), "contact or toe-off"), moved, len(c.Measures))
}

func count(n int, what string) string {
	switch {
	case n == 1:
		return "1 " + what
	case what == "contact or toe-off":
		return fmt.Sprintf("%d contacts or toe-offs", n)
	default:
		return fmt.Sprintf("%d %ss", n, what)
	}
}

// redrawn gives the card's pictures with their lines where the points are now.
func (s *sight) redrawn(pictures []card.Picture, ask Ask) []card.Picture {
	out := slices.Clone(pictures)
	for i := range out {
		p := &out[i]
		at := p.TimeS / s.clock.slowed
		t := nearest(s.gait.Motion.Times, at)
		if p.Place == (card.Place{}) || p.View == form.ViewBack || math.Abs(t-at) > 0.02 {
			continue
		}
		s.lines(p, t, ask, func(v geom.Vec) geom.Vec {
			x, y := p.Place.At(v.X, v.Y)
			return geom.Vec{X: x, Y: y}
		})
	}
	return out
}
