package web

import (
	"bytes"
	"fmt"
	"html/template"
	"slices"
	"strconv"

	"plumbstride/internal/card"
	"plumbstride/internal/evening"
	"plumbstride/internal/form"
	"plumbstride/internal/paper"
	"plumbstride/internal/plan"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// checkPage is one check: its card, the coach's word, and the plan.
type checkPage struct {
	Check     store.Check
	Runner    roster.Runner
	Class     roster.Class
	Waits     row
	Refusal   string
	Card      template.HTML
	Proposed  string
	Areas     []string
	Decisions []wordOn
	Form      answers
	Coach     bool
	Plans     []store.Plan
	PlanForm  *planForm
	Base      string // where the check's files lie
	Own       bool
	Home      string // of a private page
}

// wordOn is a coach's word with who said it.
type wordOn struct {
	store.Decision
	Name string
}

// checkPage shows a check.
func (v *visit) checkPage() error {
	p, err := v.checkPageOf()
	if err != nil {
		return err
	}
	return v.show("check", v.words.Say("Check of %s", v.runner.Name), p)
}

func (v *visit) checkPageOf() (p checkPage, err error) {
	p = checkPage{
		Check: v.check, Runner: v.runner, Class: v.class, Areas: card.AreaNames(), Proposed: proposed(v.check),
		Coach: v.may(roster.Confirm, roster.CheckKind), Base: "/check/" + v.check.ID, Form: answers{}, Own: v.link.ID != "",
	}
	if p.Own {
		p.Home = "/my/" + v.token
		p.Base = p.Home + "/check/" + v.check.ID
	}
	p.Form["area"] = p.Proposed
	if v.check.Decision != nil {
		p.Form["area"], p.Form["reason"] = v.check.Decision.Area, v.check.Decision.Reason
	}
	switch v.check.State {
	case store.Refused, store.Failed:
		p.Refusal = sentenceOf(v.check.Refusal, v.words)
		return p, nil
	case store.Waiting:
		jobs, err := v.Queue(v.ctx())
		p.Waits = row{Percent: -1}
		p.Waits.judge(v.check, jobs, v.words)
		return p, err
	}
	cd, err := v.card()
	if err != nil {
		return p, err
	}
	if p.Card, err = paper.CardPart(v.site.letters, cd, v.cardOptions()); err != nil {
		return p, err
	}
	if p.Decisions, err = v.wordsOn(); err != nil {
		return p, err
	}
	if v.may(roster.See, roster.PlanKind) {
		if p.Plans, err = v.plansOf(v.check.ID); err != nil {
			return p, err
		}
	}
	if v.may(roster.Add, roster.PlanKind) && v.check.Released() && v.check.Kind == store.Running && v.check.Decision.Area != "" {
		p.PlanForm = v.newPlanForm()
	}
	return p, nil
}

// card is the check's card, with the pictures that this visitor may see.
func (v *visit) card() (card.Card, error) {
	cd, err := evening.Card(v.ctx(), v.Store, v.site.Shelf, v.check)
	if err == nil && !v.may(roster.See, roster.PictureKind) {
		cd.Pictures = nil
	}
	return cd, err
}

func (v *visit) cardOptions() paper.Options {
	return paper.Options{Page: v.site.Page, Units: v.site.Units, Words: v.words}
}

// wordsOn lists what coaches said about the check, the latest first.
func (v *visit) wordsOn() ([]wordOn, error) {
	all, err := v.Decisions(v.ctx(), v.check.ID)
	if err != nil {
		return nil, err
	}
	var out []wordOn
	for _, d := range slices.Backward(all) {
		w := wordOn{Decision: d, Name: v.words.Say("the coach")}
		if d.By.Kind == "account" {
			if a, err := v.Account(v.ctx(), d.By.ID); err == nil {
				w.Name = a.Name
			}
		}
		out = append(out, w)
	}
	return out, nil
}

// plansOf lists the plans made from a check.
func (v *visit) plansOf(checkID string) ([]store.Plan, error) {
	all, err := v.RunnerPlans(v.ctx(), v.runner.ID)
	return slices.DeleteFunc(all, func(p store.Plan) bool { return p.CheckID != checkID }), err
}

// decide records the coach's word on the priority. Where another coach was
// faster, both words are shown and nothing is lost.
func (v *visit) decide() error {
	f := v.read("area", "reason", "version")
	area := f["area"]
	if area != "" && !slices.Contains(card.AreaNames(), area) {
		return form.UsageError("%q is none of the six areas", area)
	}
	_, err := v.Decide(v.ctx(), v.check.ID, versionOf(f["version"]), area, f["reason"])
	if err != nil {
		var readErr error
		if v.check, readErr = v.Check(v.ctx(), v.check.ID); readErr != nil {
			return readErr
		}
		p, pageErr := v.checkPageOf()
		if pageErr != nil {
			return pageErr
		}
		p.Form = f
		return v.again(err, "check", v.words.Say("Check of %s", v.runner.Name), p)
	}
	return v.seeOther("/check/" + v.check.ID + "#word")
}

// again puts a check that could not be measured back in the line.
func (v *visit) measureAgain() error {
	if v.check.State == store.Waiting {
		return v.seeOther("/check/" + v.check.ID)
	}
	j := evening.Job()
	j.CheckID = v.check.ID
	if _, err := v.AddJob(v.ctx(), j); err != nil {
		return err
	}
	v.site.Queue.Wake()
	return v.seeOther("/class/" + v.check.ClassID)
}

// cardSheet is the card as a sheet of paper.
func (v *visit) cardSheet() error {
	cd, err := v.card()
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := paper.PDF(&b, cd, v.cardOptions()); err != nil {
		return err
	}
	return v.file("application/pdf", "form-card.pdf", b.Bytes())
}

// planForm is what a plan is asked with.
type planForm struct {
	Questions []plan.Question
	Yes       map[plan.Reason]bool
	Form      answers
}

func (v *visit) newPlanForm() *planForm {
	f := &planForm{Questions: plan.Questions(), Yes: map[plan.Reason]bool{}, Form: answers{
		"start": v.today().Plus(1).String(), "weeks": "6", "runs": "3", "asked": "",
	}}
	for _, r := range v.runner.Health.Yes {
		f.Yes[r] = true
	}
	return f
}

// makePlan makes the plan for what the coach decided, with what the runner
// answered; the answers are kept with the runner.
func (v *visit) makePlan() error {
	f := v.read("usual", "runs", "weeks", "start", "note", "asked")
	health := plan.Health{Asked: f["asked"] != "", Yes: []plan.Reason{}}
	yes := map[plan.Reason]bool{}
	for _, q := range plan.Questions() {
		if v.ticked("health-" + string(q.Reason)) {
			health.Yes, yes[q.Reason] = append(health.Yes, q.Reason), true
		}
	}
	made, err := v.planFor(f, health)
	if err == nil {
		return v.seeOther("/plan/" + made.ID)
	}
	p, pageErr := v.checkPageOf()
	if pageErr != nil {
		return pageErr
	}
	if p.PlanForm != nil {
		p.PlanForm.Form, p.PlanForm.Yes = f, yes
	}
	return v.again(err, "check", v.words.Say("Check of %s", v.runner.Name), p)
}

func (v *visit) planFor(f answers, health plan.Health) (made store.Plan, err error) {
	if !v.check.Released() || v.check.Decision.Area == "" {
		return made, form.UsageError("confirm what to work on first; a plan is for one thing")
	}
	cd, err := v.card()
	if err != nil {
		return made, err
	}
	ask, err := plan.FromCard(cd, v.check.Decision.Area)
	if err != nil {
		return made, err
	}
	if ask.UsualWeekMin, err = strconv.ParseFloat(f["usual"], 64); err != nil || !(ask.UsualWeekMin >= 1 && ask.UsualWeekMin <= 2000) {
		return made, form.UsageError("say how many minutes the runner runs in a usual week")
	}
	if ask.RunsPerWeek, err = wholeOf(f["runs"], "the runs in a week", 1, 7); err != nil {
		return made, err
	}
	if ask.Weeks, err = wholeOf(f["weeks"], "the weeks of a plan", 4, 8); err != nil {
		return made, err
	}
	if ask.Start, err = dateOf(f["start"]); err != nil {
		return made, err
	}
	ask.Health, ask.Note = health, f["note"]
	p, err := plan.Make(ask, v.site.Drills)
	if err != nil {
		return made, err
	}
	object, err := jsonOf(p)
	if err != nil {
		return made, err
	}
	err = v.Within(v.ctx(), func(s store.Store) error {
		r, err := s.Runner(v.ctx(), v.runner.ID)
		if err != nil {
			return err
		}
		r.Health = health
		if _, err := s.ChangeRunner(v.ctx(), r); err != nil {
			return fmt.Errorf("keeping the answers: %w", err)
		}
		made, err = s.AddPlan(v.ctx(), store.Plan{RunnerID: r.ID, CheckID: v.check.ID, Plan: object})
		return err
	})
	return made, err
}
