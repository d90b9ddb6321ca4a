package gait

import (
	"fmt"
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/signal"
)

// ByHand is an event that a person set: where it was found, which tells the
// stride, and where it belongs, in seconds.
type ByHand struct {
	Kind        form.EventKind
	Side        form.Side
	Found, Time float64
}

// strideReach is how far, as a share of the stride, an event may be moved:
// further, and it would be another stride's.
const strideReach = 0.25

// shortestPhase is the least time between two events of one foot, seconds:
// sprinters' contacts last some 0.1 s (from memory).
const shortestPhase = 0.05

// placeByHand puts the events that a person set in the place of those found.
//
// The event of the mean stride is moved by the mean of the corrections: the
// networks' errors at an event are mostly the same from stride to stride, so
// what is wrong in the strides that were looked at is taken to be wrong in
// the others. Its standard uncertainty becomes √((s² + f²/12)/n) of n
// corrections, s being how far single steps stray (stepPriorSD) and f the time
// between two frames, within which the person's word leaves the event. What
// the definition of an event adds (contactBiasSD, toeOffBiasSD) falls away. What
// a corrected foot had drawn the other one by (matchLegs) is taken back.
func (g *Gait) placeByHand(set []ByHand) error {
	frame := 1 / g.frameRate()
	type foot struct {
		kind form.EventKind
		side form.Side
	}
	moved := map[foot][]float64{}
	for _, h := range set {
		e := g.eventAt(h)
		if e == nil {
			continue // of another pass
		}
		if e.ByHand {
			return form.UsageError("the %s foot's %s near %.2f s is corrected twice; once is enough", h.Side, eventWord(h.Kind), h.Time)
		}
		if math.Abs(h.Time-e.Time) > strideReach*g.StrideS {
			return form.UsageError("the %s foot's %s at %.2f s can't be moved to %.2f s: that is another stride", h.Side, eventWord(h.Kind), e.Time, h.Time)
		}
		moved[foot{h.Kind, h.Side}] = append(moved[foot{h.Kind, h.Side}], h.Time-e.Time)
		e.Time, e.SD, e.ByHand = h.Time, frame/math.Sqrt(12), true
		g.PlacedByHand++
	}
	if g.PlacedByHand == 0 {
		return nil
	}
	for f := range moved {
		if len(moved[foot{f.kind, f.side.Other()}]) == 0 {
			g.letGo(f.kind, f.side.Other())
		}
	}
	for _, s := range sides {
		c := g.Cycles[s]
		for _, kind := range []form.EventKind{form.Contact, form.ToeOff} {
			by := moved[foot{kind, s}]
			if len(by) == 0 {
				continue
			}
			mean, _ := signal.MeanSD(by)
			sd := math.Sqrt((stepPriorSD*stepPriorSD + frame*frame/12) / float64(len(by)))
			if kind == form.Contact {
				c.ContactS, c.ContactSD, c.ContactBias = c.ContactS+mean, sd, 0
			} else {
				c.ToeOffS, c.ToeOffSD, c.ToeOffBias, c.ToeOffHidden = c.ToeOffS+mean, sd, 0, false
			}
			g.Notes = append(g.Notes, fmt.Sprintf("The %s foot's %s was set by hand in %d of its strides; that of the mean stride moved by %s ms.", s, eventWord(kind), len(by), form.Signed(1000*mean, 0)))
		}
	}
	if err := g.checkOrder(); err != nil {
		return err
	}
	for _, s := range sides {
		g.Cycles[s].build(g, true) // landings stand elsewhere now
	}
	byTime(g.Events)
	return g.checkRunning()
}

// letGo takes back what the other foot had drawn a foot's events by.
func (g *Gait) letGo(kind form.EventKind, s form.Side) {
	c := g.Cycles[s]
	at, sd, bias, moved := &c.ContactS, &c.ContactSD, &c.ContactBias, &c.ContactMoved
	if kind == form.ToeOff {
		at, sd, bias, moved = &c.ToeOffS, &c.ToeOffSD, &c.ToeOffBias, &c.ToeOffMoved
	}
	without := func(v float64) float64 { return math.Sqrt(math.Max(0, v*v-*moved**moved)) }
	for i := range g.Events {
		if e := &g.Events[i]; e.Kind == kind && e.Side == s {
			e.Time, e.SD = e.Time-*moved, without(e.SD)
		}
	}
	*at, *sd, *bias, *moved = *at-*moved, without(*sd), without(*bias), 0
}

// eventAt gives the event that was found where a person saw it, nil where
// there is none of its kind and side within a quarter of a stride.
func (g *Gait) eventAt(h ByHand) *form.Event {
	var best *form.Event
	for i := range g.Events {
		e := &g.Events[i]
		if e.Kind != h.Kind || e.Side != h.Side {
			continue
		}
		if d := math.Abs(e.Time - h.Found); d <= strideReach*g.StrideS && (best == nil || d < math.Abs(best.Time-h.Found)) {
			best = e
		}
	}
	return best
}

// checkOrder sees that each foot still lands before it leaves, in the mean
// stride and, the events standing in the order in which they were found, in
// every single one.
func (g *Gait) checkOrder() error {
	for _, s := range sides {
		c := g.Cycles[s]
		if c.ToeOffS-c.ContactS < shortestPhase {
			return form.UsageError("the %s foot would leave the ground before it has landed, over all its strides: look at its contacts and toe-offs again", s)
		}
		var before *form.Event
		for i := range g.Events {
			e := &g.Events[i]
			if e.Side != s {
				continue
			}
			if before != nil && (e.ByHand || before.ByHand) && e.Time-before.Time < shortestPhase {
				return form.UsageError("the %s foot's %s at %.2f s can't come before its %s at %.2f s: set them in their order", s, eventWord(e.Kind), e.Time, eventWord(before.Kind), before.Time)
			}
			before = e
		}
	}
	return nil
}

// eventWord is the event as people call it.
func eventWord(k form.EventKind) string {
	if k == form.ToeOff {
		return "toe-off"
	}
	return "initial contact"
}
