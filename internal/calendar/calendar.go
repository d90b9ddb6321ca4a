// Package calendar takes a plan from package plan, and gives it as an
// iCalendar file (RFC 5545) to the command line: one all-day event a run,
// and one for the day to film again.
package calendar

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	ics "github.com/arran4/golang-ical"

	"plumbstride/internal/plan"
	"plumbstride/internal/quantity"
	"plumbstride/internal/words"
)

// Write gives the plan as an iCalendar file. made is when it was made, and
// program is written as who made it. The same plan always has the same event
// identifiers, so that a calendar that reads the file twice keeps one copy.
// Days are days: they carry no clock and no time zone.
func Write(p plan.Plan, program string, made time.Time, units quantity.Units, b words.Book) ([]byte, error) {
	key, err := identity(p)
	if err != nil {
		return nil, err
	}
	cal := ics.NewCalendarFor("")
	cal.SetProductId("-//" + printable(program) + "//plan//" + strings.ToUpper(string(b.Language())))
	cal.SetMethod(ics.MethodPublish)
	cal.SetName(printable(b.Say("Running plan") + ": " + b.Of(p.Ask.Area)))
	n := 0
	add := func(day plan.Date, title string, lines []string) {
		n++
		e := cal.AddEvent(fmt.Sprintf("%s-%d@plumbstride.invalid", key, n))
		e.SetDtStampTime(made.UTC().Truncate(time.Second))
		e.SetAllDayStartAt(day.Time())
		e.SetAllDayEndAt(day.Plus(1).Time())
		e.SetSummary(printable(title))
		e.SetDescription(printable(strings.Join(lines, "\n")))
		e.SetTimeTransparency(ics.TransparencyTransparent)
	}
	pain := b.Say("At a pain of 1 to 3 of 10: %s From 4 on: stop.", b.Of(p.Pain[1].Do))
	for _, w := range p.Weeks {
		for _, s := range w.Sessions {
			add(s.Date, b.Of(s.Title()), append(b.Each(s.Lines(p.Ask.Cadence, units)), pain, b.Say("Not a medical device.")))
		}
	}
	add(p.Recheck, b.Say("Film again"), b.Each(p.RecheckLines(units)))
	return []byte(cal.Serialize(ics.WithNewLineWindows)), nil
}

// identity is a short name for what the plan holds.
func identity(p plan.Plan) (string, error) {
	text, err := json.Marshal(p)
	if err != nil {
		return "", fmt.Errorf("writing the plan's calendar: %w", err)
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:8]), nil
}

// printable drops what no iCalendar text may hold: control characters but
// for the line feed, and bytes that are not UTF-8.
func printable(text string) string {
	return strings.Map(func(r rune) rune {
		if r != '\n' && (r < 0x20 || r == 0x7f) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(text, ""))
}

// Invite is a day to film again, as it is proposed to somebody.
type Invite struct {
	// RunnerID makes the event's identifier: the same runner and the same
	// plan's day always have the same. Sequence counts what was sent before.
	RunnerID, For string
	Sequence      int
	Name          string // whom it is about
	Shop          string
	Place         string
	// Day is the day; Clock the time there, "" for the whole day. Minutes is
	// how long it takes.
	Day     plan.Date
	Clock   time.Duration
	Timed   bool
	Minutes int
	// From and To are e-mail addresses. Where one of them is missing, it is
	// an event to be kept (PUBLISH), not one to be answered (REQUEST).
	From, To string
}

// Invitation gives a day to film again as an iCalendar file (RFC 5545), an
// invitation to be answered (RFC 5546, 3.2.2) where both addresses are known.
func Invitation(i Invite, program string, made time.Time, b words.Book) []byte {
	cal := ics.NewCalendarFor("")
	cal.SetProductId("-//" + printable(program) + "//follow-up//" + strings.ToUpper(string(b.Language())))
	asked := i.From != "" && i.To != ""
	cal.SetMethod(ics.MethodPublish)
	if asked {
		cal.SetMethod(ics.MethodRequest)
	}
	sum := sha256.Sum256([]byte(i.RunnerID + " " + i.For))
	e := cal.AddEvent(hex.EncodeToString(sum[:8]) + "-again@plumbstride.invalid")
	e.SetDtStampTime(made.UTC().Truncate(time.Second))
	e.SetSequence(i.Sequence)
	if i.Timed {
		y, m, d := i.Day.Time().Date()
		start := time.Date(y, m, d, 0, 0, 0, 0, made.Location()).Add(i.Clock)
		e.SetStartAt(start)
		e.SetEndAt(start.Add(time.Duration(max(i.Minutes, 5)) * time.Minute))
	} else {
		e.SetAllDayStartAt(i.Day.Time())
		e.SetAllDayEndAt(i.Day.Plus(1).Time())
	}
	title := b.Say("Film again: %s", i.Name)
	if i.Shop != "" {
		title += " – " + i.Shop
	}
	e.SetSummary(printable(title))
	e.SetDescription(printable(b.Say("Ten seconds of running, filmed from the side. With pain, leave it be and say so.")))
	if i.Place != "" {
		e.SetLocation(printable(i.Place))
	}
	e.SetStatus(ics.ObjectStatusTentative)
	if asked {
		e.SetOrganizer("mailto:" + i.From)
		e.AddAttendee("mailto:"+i.To, ics.CalendarUserTypeIndividual, ics.ParticipationStatusNeedsAction, ics.ParticipationRoleReqParticipant, &ics.KeyValues{Key: string(ics.ParameterRsvp), Value: []string{"TRUE"}})
	}
	return []byte(cal.Serialize(ics.WithNewLineWindows))
}
