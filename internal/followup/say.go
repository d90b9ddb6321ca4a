package followup

import (
	"time"

	"plumbstride/internal/words"
)

// Title is a state as a heading.
func (s State) Title(b words.Book) string {
	switch s {
	case Due:
		return b.Say("Due to film again")
	case Quiet:
		return b.Say("Gone quiet")
	case Waiting:
		return b.Say("Written to")
	case Running:
		return b.Say("Under way")
	default:
		return b.Say("Came back")
	}
}

// Says is what the state is about, in words.
func (l Line) Says(b words.Book, now time.Time) string {
	day := b.Date(l.Day)
	switch {
	case l.State == Due && l.Late == 1:
		return b.Say("one day over its day, %s", day)
	case l.State == Due && l.Late > 0:
		return b.Say("%d days over its day, %s", l.Late, day)
	case l.State == Due:
		return b.Say("on %s", day)
	case l.State == Quiet:
		return b.Say("last seen on %s", day)
	case l.State == Waiting:
		return b.Say("written to on %s", day)
	case l.State == Done:
		return b.Say("filmed again on %s", day)
	case l.Day.After(now):
		return b.Say("films again on %s", day)
	default:
		return b.Say("last seen on %s", day)
	}
}
