package web

import (
	"time"

	"plumbstride/internal/evening"
	"plumbstride/internal/followup"
	"plumbstride/internal/form"
	"plumbstride/internal/plan"
)

// followUpPage is who is due, who has gone quiet, and how that goes on.
type followUpPage struct {
	Groups []followUpGroup
	Ahead  int
	Quiet  int
	Waits  int
}

// followUpGroup is all runners of one state.
type followUpGroup struct {
	Title string
	Open  bool
	Lines []followUpLine
}

type followUpLine struct {
	followup.Line
	Says string
	// Writes: a message can be drafted.
	Writes bool
}

// followUp shows where every runner stands.
func (v *visit) followUp() error {
	all, err := evening.Known(v.ctx(), v.Store)
	if err != nil {
		return err
	}
	p := followUpPage{Ahead: followup.DueAhead, Quiet: followup.QuietAfter, Waits: followup.WaitFor}
	lines := followup.Sort(all, v.site.Now())
	for _, s := range followup.States() {
		g := followUpGroup{Title: s.Title(v.words), Open: s == followup.Due || s == followup.Quiet || s == followup.Waiting}
		for _, l := range lines {
			if l.State == s {
				g.Lines = append(g.Lines, followUpLine{l, l.Says(v.words, v.site.Now()), l.Why == followup.May && (s == followup.Due || s == followup.Quiet)})
			}
		}
		p.Groups = append(p.Groups, g)
	}
	return v.show("follow-up", v.words.Say("Follow-up"), p)
}

// stopPage is where a runner stops messages.
type stopPage struct {
	Stopped bool
	Token   string
	Shop    string
}

// stopPage shows it.
func (v *visit) stopPage() error {
	no, err := v.Objections(v.ctx())
	if err != nil {
		return err
	}
	_, stopped := no[v.runner.ID]
	return v.show("stop", v.words.Say("Messages"), stopPage{stopped, v.token, v.site.Shop.Name})
}

// stop records that the runner wants no messages, or wants them again. What a
// mail program sends on its own (RFC 8058) has no other field and stops them.
func (v *visit) stop() error {
	if err := v.Object(v.ctx(), v.runner.ID, !v.ticked("again")); err != nil {
		return err
	}
	return v.seeOther("/stop/" + v.token)
}

// objects records on a coach's page what a runner said.
func (v *visit) objects() error {
	if err := v.Object(v.ctx(), v.runner.ID, !v.ticked("again")); err != nil {
		return err
	}
	return v.seeOther("/runner/" + v.runner.ID + "/message")
}

// clockOf reads a time of day, which may be left out.
func clockOf(text string) (at time.Duration, stated bool, err error) {
	if text == "" {
		return 0, false, nil
	}
	t, err := time.Parse("15:04", text)
	if err != nil {
		return 0, false, form.UsageError("%q is no time of day; write it as 18:30", text)
	}
	return time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute, true, nil
}

// proposed is the day that a message proposes where none was chosen: the
// plan's, or a week from today.
func (v *visit) proposed(k followup.Known) plan.Date {
	if k.Recheck != (plan.Date{}) && !k.Recheck.Time().Before(v.today().Time()) {
		return k.Recheck
	}
	return v.today().Plus(7)
}
