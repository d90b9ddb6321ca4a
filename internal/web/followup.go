package web

import (
	"time"

	"plumbstride/internal/evening"
	"plumbstride/internal/followup"
	"plumbstride/internal/form"
	"plumbstride/internal/plan"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
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
	all, err := v.known()
	if err != nil {
		return err
	}
	p := followUpPage{Ahead: followup.DueAhead, Quiet: followup.QuietAfter, Waits: followup.WaitFor}
	lines := followup.Sort(all, v.site.Now())
	for _, s := range followup.States() {
		g := followUpGroup{Title: v.stateTitle(s), Open: s == followup.Due || s == followup.Quiet || s == followup.Waiting}
		for _, l := range lines {
			if l.State == s {
				g.Lines = append(g.Lines, followUpLine{l, v.stateSays(l), l.Why == followup.May && (s == followup.Due || s == followup.Quiet)})
			}
		}
		p.Groups = append(p.Groups, g)
	}
	return v.show("follow-up", v.words.Say("Follow-up"), p)
}

func (v *visit) stateTitle(s followup.State) string {
	switch s {
	case followup.Due:
		return v.words.Say("Due to film again")
	case followup.Quiet:
		return v.words.Say("Gone quiet")
	case followup.Waiting:
		return v.words.Say("Written to")
	case followup.Running:
		return v.words.Say("Under way")
	default:
		return v.words.Say("Came back")
	}
}

// stateSays is a line's second half in words.
func (v *visit) stateSays(l followup.Line) string {
	b, day := v.words, v.words.Date(l.Day)
	switch {
	case l.State == followup.Due && l.Late == 1:
		return b.Say("one day over its day, %s", day)
	case l.State == followup.Due && l.Late > 0:
		return b.Say("%d days over its day, %s", l.Late, day)
	case l.State == followup.Due:
		return b.Say("on %s", day)
	case l.State == followup.Quiet:
		return b.Say("last seen on %s", day)
	case l.State == followup.Waiting:
		return b.Say("written to on %s", day)
	case l.State == followup.Done:
		return b.Say("filmed again on %s", day)
	case l.Day.After(v.site.Now()):
		return b.Say("films again on %s", day)
	default:
		return b.Say("last seen on %s", day)
	}
}

// known gathers what is known of all runners.
func (v *visit) known() ([]followup.Known, error) {
	runners, err := v.Runners(v.ctx())
	if err != nil {
		return nil, err
	}
	no, err := v.Objections(v.ctx())
	if err != nil {
		return nil, err
	}
	var out []followup.Known
	for _, r := range runners {
		k, err := v.knownOf(r)
		if err != nil {
			return nil, err
		}
		_, k.Objects = no[r.ID]
		out = append(out, k)
	}
	return out, nil
}

// knownOf gathers what is known of one runner, but for objections.
func (v *visit) knownOf(r roster.Runner) (k followup.Known, err error) {
	k.Runner = r
	if k.Consents, err = v.Consents(v.ctx(), r.ID); err != nil {
		return k, err
	}
	checks, err := v.RunnerChecks(v.ctx(), r.ID)
	if err != nil {
		return k, err
	}
	for _, c := range checks {
		if c.State == store.Ready {
			k.Checks = append(k.Checks, c.Made)
		}
	}
	plans, err := v.RunnerPlans(v.ctx(), r.ID)
	if err != nil {
		return k, err
	}
	if n := len(plans); n > 0 {
		read, err := evening.PlanOf(plans[n-1])
		if err != nil {
			return k, err
		}
		k.Recheck = read.Recheck
	}
	evenings, err := v.Attended(v.ctx(), r.ID)
	if err != nil {
		return k, err
	}
	for _, a := range evenings {
		if a.Presence != roster.Expected {
			k.Signs = append(k.Signs, a.Since)
		}
	}
	activities, err := v.RunnerActivities(v.ctx(), r.ID)
	if err != nil {
		return k, err
	}
	for _, a := range activities {
		k.Signs = append(k.Signs, a.Start)
	}
	k.Messages, err = v.RunnerMessages(v.ctx(), r.ID)
	return k, err
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
