package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"slices"
	"time"

	"plumbstride/internal/beside"
	"plumbstride/internal/card"
	"plumbstride/internal/evening"
	"plumbstride/internal/form"
	"plumbstride/internal/paper"
	"plumbstride/internal/practice"
	"plumbstride/internal/recheck"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// comparePage is two checks of a runner beside one another, and the choice
// of others.
type comparePage struct {
	Runner        roster.Runner
	Sheet         template.HTML
	Choices       []checkLine
	Before, After string // the IDs
	Base, Home    string
	Query         string
}

// comparable are the runner's measured checks that the visitor may see, the
// earliest first.
func (v *visit) comparable(action roster.Action) ([]store.Check, error) {
	all, err := v.RunnerChecks(v.ctx(), v.runner.ID)
	return slices.DeleteFunc(all, func(c store.Check) bool {
		may := roster.May(v.actor, action, roster.Resource{Kind: roster.CheckKind, RunnerID: c.RunnerID, ClassID: c.ClassID, Released: c.Released(), Shown: v.shown})
		return c.State != store.Ready || !may
	}), err
}

// comparePair tells whether two of the checks are of one kind.
func comparePair(all []store.Check) bool {
	seen := map[store.CheckKind]bool{}
	for _, c := range all {
		if seen[c.Kind] {
			return true
		}
		seen[c.Kind] = true
	}
	return false
}

// chosen are the places of the two checks that the address names among all;
// without names the last two of one kind.
func (v *visit) chosen(all []store.Check) (before, after int, err error) {
	at := func(name string) int {
		id := v.r.URL.Query().Get(name)
		return slices.IndexFunc(all, func(c store.Check) bool { return id != "" && c.ID == id })
	}
	before, after = at("before"), at("after")
	if q := v.r.URL.Query(); !q.Has("before") && !q.Has("after") {
		for after = len(all) - 1; after > 0; after-- {
			for before = after - 1; before >= 0; before-- {
				if all[before].Kind == all[after].Kind {
					return before, after, nil
				}
			}
		}
		return 0, 0, store.ErrNotFound
	}
	switch {
	case before < 0 || after < 0:
		return 0, 0, store.ErrNotFound
	case before == after:
		return 0, 0, form.UsageError("choose two different checks")
	default:
		return min(before, after), max(before, after), nil
	}
}

// comparison compares the two checks that the address names, with what the
// coach decided on the first, and gives the pictures that may be seen.
func (v *visit) comparison(action roster.Action) (c recheck.Comparison, moments []beside.Moment, p comparePage, err error) {
	all, err := v.comparable(action)
	if err != nil {
		return c, nil, p, err
	}
	b, a, err := v.chosen(all)
	if err != nil {
		return c, nil, p, err
	}
	before, after := all[b], all[a]
	o := recheck.Options{Units: v.site.Units, Program: v.site.Program, Made: v.site.Now()}
	if before.Decision != nil {
		o.Area = before.Decision.Area
	}
	for _, between := range all[b+1 : a] {
		if cd, err := cardOf(between); err == nil && between.Kind == before.Kind {
			o.Between = append(o.Between, cd)
		}
	}
	if o.Practice, err = v.practised(before.Made, after.Made); err != nil {
		return c, nil, p, err
	}
	was, err := cardOf(before)
	if err != nil {
		return c, nil, p, err
	}
	now, err := cardOf(after)
	if err != nil {
		return c, nil, p, err
	}
	// The records know better than the cards who it is, and when.
	was.Runner.Name, now.Runner.Name = v.runner.Name, v.runner.Name
	was.Made, now.Made = before.Made, after.Made
	if c, err = recheck.Of(was, now, o); err != nil {
		return c, nil, p, err
	}
	moments, err = v.moments(before, after)
	p = comparePage{Runner: v.runner, Before: before.ID, After: after.ID, Base: "/runner/" + v.runner.ID, Home: "/runner/" + v.runner.ID}
	if v.link.ID != "" {
		p.Base, p.Home = "/my/"+v.token, "/my/"+v.token
	}
	p.Query = "?before=" + before.ID + "&after=" + after.ID
	for _, one := range all {
		l := checkLine{Check: one, Sees: true}
		l.Area, l.Decided = priorityOf(one)
		p.Choices = append(p.Choices, l)
	}
	for _, one := range []store.Check{before, after} {
		if err == nil {
			err = v.noteOne(string(action), roster.CheckKind, one.ID)
		}
	}
	return c, moments, p, err
}

// practisedWeeks is how long before a check the runner's watch is asked.
const practisedWeeks = 6

// practised is what the runner's watch says of cadence between two checks, in
// the weeks up to the second; nil where it says nothing, or may not be seen.
func (v *visit) practised(from, to time.Time) (*recheck.Practice, error) {
	if !v.may(roster.See, roster.PracticeKind) {
		return nil, nil
	}
	kept, err := evening.PracticeOf(v.ctx(), v.Store, v.runner.ID)
	if err != nil {
		return nil, err
	}
	runs := make([]practice.Run, len(kept))
	for i, k := range kept {
		runs[i] = k.Run
	}
	return practiceBetween(runs, from, to), nil
}

// practiceBetween is what runs between two checks say, nil where they are too
// few or too near one another for a trend: two runs hold nothing over weeks.
func practiceBetween(all []practice.Run, from, to time.Time) *recheck.Practice {
	var runs []practice.Run
	if weeks := to.AddDate(0, 0, -7*practisedWeeks); from.Before(weeks) {
		from = weeks
	}
	for _, r := range all {
		if !r.Start.After(to) && r.Start.After(from) {
			runs = append(runs, r)
		}
	}
	said := practice.Over(runs, nil)
	base := said.Baseline
	if said.Trend.Verdict == practice.TooFew || base == nil || !(base.Cadence.SD > 0) {
		return nil
	}
	out := &recheck.Practice{CadenceSPM: base.Cadence.Value, SD: base.Cadence.SD, SpeedMS: base.SpeedMPS}
	for _, l := range said.Runs { // the earliest first
		if l.AtSpeed == nil {
			continue
		}
		if out.From.IsZero() {
			out.From = l.Start
		}
		out.To = l.Start
	}
	return out
}

// cardOf reads a check's card without its pictures.
func cardOf(c store.Check) (cd card.Card, err error) {
	if err := json.Unmarshal(c.Card, &cd); err != nil {
		return cd, fmt.Errorf("the card of check %s: %w", c.ID, err)
	}
	return cd, nil
}

// moments are both runs at the same phases; none where a track is gone.
func (v *visit) moments(before, after store.Check) ([]beside.Moment, error) {
	var runs [2]beside.Run
	for i, c := range []store.Check{before, after} {
		run, err := evening.Beside(v.ctx(), v.Store, v.site.Shelf, c, v.mayCheck(roster.PictureKind, c))
		if errors.Is(err, store.ErrNotFound) {
			return nil, nil
		}
		if err != nil {
			return nil, err
		}
		runs[i] = run
	}
	return beside.Moments(runs[0], runs[1]), nil
}

// comparePage shows two checks beside one another.
func (v *visit) comparePage() error {
	c, moments, p, err := v.comparison(roster.See)
	if err != nil {
		return err
	}
	if p.Sheet, err = paper.ComparePart(v.site.letters, c, moments, v.cardOptions()); err != nil {
		return err
	}
	return v.show("compare", v.words.Say("Before and after"), p)
}

// compareSheet is the same as sheets of paper.
func (v *visit) compareSheet() error {
	c, moments, _, err := v.comparison(roster.Export)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := paper.ComparePDF(&b, c, moments, v.cardOptions()); err != nil {
		return err
	}
	return v.file("application/pdf", "before-and-after.pdf", b.Bytes())
}
