package cli

import (
	"slices"

	"plumbstride/internal/evening"
	"plumbstride/internal/followup"
)

// followUpVerb lists who is due and who has gone quiet.
type followUpVerb struct {
	All  bool `group:"The result:" help:"List also who is under way and who came back."`
	JSON bool `group:"The result:" name:"json" help:"Print one JSON object, and nothing else, on standard output."`
	shown
}

// Help stands below the verb's first line in its help.
func (followUpVerb) Help() string {
	return "Where each runner stands who was checked before: due to film again, gone quiet, or written to and not back. It only reads; messages are written on the pages.\n\n" + folderHelp + "\n\n" + exitCodes
}

// followed is the object that follow-up --json prints.
type followed struct {
	Program string         `json:"program"`
	Runners []followedLine `json:"runners"`
}

// followedLine is one runner's.
type followedLine struct {
	Runner string `json:"runner"`
	ID     string `json:"id"`
	// State is due, quiet, waiting, running or done, and Day what it is about.
	State string `json:"state"`
	Day   string `json:"day"`
	// LateDays is by how many days a re-check is over its day.
	LateDays int `json:"late_days"`
	// WhyNot is why nothing can be written to the runner: objects, no-contact, or
	// "" where it can.
	WhyNot string `json:"why_not"`
}

// Run lists them.
func (v *followUpVerb) Run(e *errand) error {
	if err := v.settle(e); err != nil {
		return err
	}
	return withRecords(e, func(r *records) error {
		all, err := evening.Known(e.ctx, r.db)
		if err != nil {
			return err
		}
		lines := slices.DeleteFunc(followup.Sort(all, e.now()), func(l followup.Line) bool {
			return !v.All && (l.State == followup.Running || l.State == followup.Done)
		})
		if !v.JSON {
			_, err := e.Out.Write([]byte(v.text(e, lines)))
			return err
		}
		out := followed{Program: "plumbstride " + Version, Runners: []followedLine{}}
		for _, l := range lines {
			out.Runners = append(out.Runners, followedLine{
				Runner: l.Runner.Name, ID: l.Runner.ID, State: string(l.State), Day: l.Day.Format("2006-01-02"), LateDays: l.Late, WhyNot: string(l.Why),
			})
		}
		object, err := indented(out)
		if err != nil {
			return err
		}
		_, err = e.Out.Write(object)
		return err
	})
}

// text is the list under its states' titles.
func (v *followUpVerb) text(e *errand, lines []followup.Line) string {
	t := newTable(columnsOf(e.Out))
	var last followup.State
	for _, l := range lines {
		if l.State != last {
			if last != "" {
				t.b.WriteString("\n")
			}
			t.wrapped("", l.State.Title(v.book))
			last = l.State
		}
		says := printable(l.Runner.Name) + ": " + l.Says(v.book, e.now())
		switch l.Why {
		case followup.Objects:
			says += ". " + v.book.Say("Wants no messages.")
		case followup.NoContact:
			says += ". " + v.book.Say("Gave no contact.")
		}
		t.hanging("  ", says)
	}
	if len(lines) == 0 {
		t.wrapped("", v.book.Say("Nobody is due, gone quiet or written to."))
	}
	return t.b.String()
}
