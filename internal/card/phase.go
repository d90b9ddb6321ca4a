package card

import (
	"math"

	"plumbstride/internal/form"
)

// Phase is one moment of a foot's stride, in the clip's own time. ByHand: it
// follows from an event that a coach set.
type Phase struct {
	Name   string
	TimeS  float64
	ByHand bool
}

// The phases of a running stride, in their order. Loading is a quarter of the
// contact time after initial contact, mid-stance its middle, flight halfway
// from toe-off to the other foot's contact.
const (
	InitialContact = "initial contact"
	Loading        = "loading"
	MidStance      = "mid-stance"
	ToeOff         = "toe-off"
	Flight         = "flight"
)

// longestStance is the longest time, seconds of the clip's own clock slowed by
// a factor, between a running foot's contact and toe-off.
const longestStance = 0.6

// Phases gives the phases of the side's stride whose contact is nearest to a
// time, from a check's events in order; slowedBy as in Clip. None where the
// stride's toe-off was not seen; without the other foot's contact there is no
// flight.
func Phases(events []form.Event, side form.Side, at, slowedBy float64) []Phase {
	from := -1
	for i, e := range events {
		if e.Side == side && e.Kind == form.Contact && (from < 0 || math.Abs(e.Time-at) < math.Abs(events[from].Time-at)) {
			from = i
		}
	}
	if from < 0 {
		return nil
	}
	slowed := math.Max(slowedBy, 1)
	contact, off := events[from], form.Event{}
	var out []Phase
	for _, e := range events[from+1:] {
		if out == nil && e.Side == side && e.Kind == form.ToeOff {
			if e.Time-contact.Time > longestStance*slowed {
				return nil
			}
			off = e
			stance := off.Time - contact.Time
			both := contact.ByHand || off.ByHand
			out = []Phase{
				{InitialContact, contact.Time, contact.ByHand},
				{Loading, contact.Time + stance/4, both},
				{MidStance, contact.Time + stance/2, both},
				{ToeOff, off.Time, off.ByHand},
			}
			continue
		}
		if out != nil && e.Side == side.Other() && e.Kind == form.Contact {
			if e.Time-off.Time > longestStance*slowed {
				break
			}
			return append(out, Phase{Flight, (off.Time + e.Time) / 2, off.ByHand || e.ByHand})
		}
	}
	return out
}
