// Package followup takes what is known of each runner (plans, checks, what
// was written to them) and a day, and gives who is due for another check, who
// has gone quiet, who was written to and who is done; and it drafts what to
// write, in the reader's language. It sends nothing and has no clock.
package followup

import (
	"net/mail"
	"slices"
	"strings"
	"time"

	"plumbstride/internal/plan"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// The days that decide (common practice, no source).
const (
	// DueAhead is how many days before its day a re-check is spoken about; a
	// check from then on counts as the re-check.
	DueAhead = 7
	// QuietAfter is how many days without any sign are quiet.
	QuietAfter = 60
	// WaitFor is how many days an answer is waited for.
	WaitFor = 21
)

// State is where a runner stands.
type State string

// The states, in the order in which they ask for something to be done.
const (
	Due     State = "due"     // the plan's day to film again is near or past, and there was no check since
	Quiet   State = "quiet"   // nothing was heard for QuietAfter days, and no plan runs
	Waiting State = "waiting" // was written to, and has not been back
	Running State = "running" // a plan runs, or the last check is not long ago
	Done    State = "done"    // came back for the re-check
)

// States lists all states in their order.
func States() []State { return []State{Due, Quiet, Waiting, Running, Done} }

// Why a runner can't be written to.
type Why string

// The reasons; none is empty.
const (
	May       Why = ""
	Objects   Why = "objects"    // wants no messages
	NoContact Why = "no-contact" // gave no way to be reached
)

// Known is what is known of a runner.
type Known struct {
	Runner   roster.Runner
	Consents []roster.Consent
	// Recheck is the latest plan's day to film again; zero without a plan.
	Recheck plan.Date
	// Checks are when checks were made that could be measured; Signs are other
	// signs of life: evenings, practice that came in.
	Checks, Signs []time.Time
	Messages      []store.Message
	Objects       bool
}

// Line is where one runner stands.
type Line struct {
	Runner roster.Runner
	State  State
	// Day is what the state is about: the day to film again when due or
	// running, the last sign when quiet, when it was written when waiting, the
	// check when done.
	Day time.Time
	// Late is by how many days a re-check is over its day; 0 where it isn't.
	Late int
	Why  Why
	// Guardian tells that a parent or guardian is written to.
	Guardian bool
	// Mail is the address, where the contact is one.
	Mail string
}

// Sort gives where each runner stands on a day, the most pressing first.
// Runners who were never checked are left out.
func Sort(all []Known, now time.Time) []Line {
	var out []Line
	for _, k := range all {
		if l, ok := Place(k, now); ok {
			out = append(out, l)
		}
	}
	slices.SortStableFunc(out, func(a, b Line) int {
		if d := slices.Index(States(), a.State) - slices.Index(States(), b.State); d != 0 {
			return d
		}
		return a.Day.Compare(b.Day)
	})
	return out
}

// Place gives where a runner stands on a day; false where they were never
// checked.
func Place(k Known, now time.Time) (Line, bool) {
	l := Line{Runner: k.Runner, Guardian: guarded(k, now), Mail: Address(k.Runner.Contact)}
	switch {
	case k.Objects:
		l.Why = Objects
	case strings.TrimSpace(k.Runner.Contact) == "":
		l.Why = NoContact
	}
	last := latest(k.Checks)
	if last.IsZero() {
		return l, false
	}
	sign := last
	if s := latest(k.Signs); s.After(sign) {
		sign = s
	}
	planned := k.Recheck != (plan.Date{})
	recheck := k.Recheck.Time()
	near := recheck.AddDate(0, 0, -DueAhead)
	switch {
	case planned && !last.Before(near):
		l.State, l.Day = Done, last
	case planned && !now.Before(near):
		l.State, l.Day = Due, recheck
		l.Late = max(0, int(now.Sub(recheck)/(24*time.Hour)))
	case planned:
		l.State, l.Day = Running, recheck
	case now.Sub(sign) >= QuietAfter*24*time.Hour:
		l.State, l.Day = Quiet, sign
	default:
		l.State, l.Day = Running, sign
	}
	if l.State == Done && now.Sub(sign) >= QuietAfter*24*time.Hour {
		l.State, l.Day = Quiet, sign
	}
	if at := written(k.Messages); (l.State == Due || l.State == Quiet) && at.After(sign) && now.Sub(at) < WaitFor*24*time.Hour {
		l.State, l.Day, l.Late = Waiting, at, 0
	}
	return l, true
}

func latest(all []time.Time) (t time.Time) {
	for _, one := range all {
		if one.After(t) {
			t = one
		}
	}
	return t
}

// written is when the latest message left, or was taken along, or waits to
// leave.
func written(all []store.Message) (at time.Time) {
	for _, m := range all {
		if m.State != store.Unsent && m.Made.After(at) {
			at = m.Made
		}
	}
	return at
}

// guarded tells whether a parent or guardian is to be written to: the runner
// is under age, or a guardian gave the standing consent.
func guarded(k Known, now time.Time) bool {
	if k.Runner.Minor(now) == roster.UnderAge {
		return true
	}
	c, ok := roster.Standing(k.Consents, now)
	return ok && c.Guardian && k.Runner.Minor(now) != roster.OfAge
}

// Address is the e-mail address that a contact is (RFC 5322, as package
// net/mail reads it, without a name before it), or "".
func Address(contact string) string {
	contact = strings.TrimSpace(contact)
	a, err := mail.ParseAddress(contact)
	if err != nil || a.Address != contact || len(contact) > 254 || strings.ContainsAny(contact, "\r\n\"<>(),;") {
		return ""
	}
	return contact
}
