package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"html/template"
	"time"

	"plumbstride/internal/calendar"
	"plumbstride/internal/evening"
	"plumbstride/internal/paper"
	"plumbstride/internal/plan"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/tempo"
	"plumbstride/internal/words"
)

// planPage is a plan with what it is handed over by.
type planPage struct {
	Runner roster.Runner
	Check  store.Check
	Sheet  template.HTML
	Base   string
	Home   string // of a private page
	Coach  bool
	Beat   *beat
}

// beat is a track of steps that a page plays.
type beat struct {
	Title    string
	Plan     string // JSON
	Cautions []string
}

func jsonOf(value any) (json.RawMessage, error) {
	data, err := json.Marshal(value)
	if err != nil {
		return nil, fmt.Errorf("as JSON: %w", err)
	}
	return data, nil
}

// readPlan gives the plan that the address names.
func (v *visit) readPlan() (p plan.Plan, err error) {
	return evening.PlanOf(v.plan)
}

func (v *visit) planOptions(p plan.Plan) paper.PlanOptions {
	return paper.PlanOptions{
		Page: v.site.Page, Units: v.site.Units, Words: v.words, Drills: p.Uses(v.site.Drills), Program: v.site.Program, Made: v.plan.Made,
	}
}

// planPage shows a plan.
func (v *visit) planPage() error {
	p, err := v.readPlan()
	if err != nil {
		return err
	}
	sheet, err := paper.PlanPart(v.site.letters, p, v.planOptions(p))
	if err != nil {
		return err
	}
	page := planPage{Runner: v.runner, Check: v.check, Sheet: sheet, Base: "/plan/" + v.plan.ID, Coach: v.may(roster.Add, roster.LinkKind)}
	if v.link.ID != "" {
		page.Home = "/my/" + v.token
		page.Base = page.Home + "/plan/" + v.plan.ID
	}
	if page.Beat, err = beatOf(p, v.today(), v.words); err != nil {
		return err
	}
	return v.show("plan", v.words.Say("Plan of %s", v.runner.Name), page)
}

// beatOf is the track for the plan's next practice: its cadence, on and off
// as the plan says. Nil where the plan has none to play.
func beatOf(p plan.Plan, today plan.Date, b words.Book) (*beat, error) {
	var next *plan.Session
	for _, w := range p.Weeks {
		for _, s := range w.Sessions {
			if s.Tempo == nil || s.Tempo.SharePct == 0 || s.PracticeMin < 1 { // faded to silence
				continue
			}
			if next == nil || next.Date.Time().Before(today.Time()) {
				next = &s
			}
		}
	}
	if next == nil {
		return nil, nil
	}
	ask := tempo.Ask{Target: tempo.Cadence(next.Tempo.StepsPerMin) * 1000, LengthMS: int64(next.PracticeMin) * 60_000}
	if next.Tempo.OffS > 0 {
		ask.Pattern = tempo.Pattern{Shape: tempo.OnOff, OnMS: int64(next.Tempo.OnS) * 1000, OffMS: int64(next.Tempo.OffS) * 1000}
	} else {
		ask.Pattern = tempo.Pattern{Shape: tempo.Steady}
	}
	// What the runner is used to by then is the step of the plan before this
	// one. A step that is too large all the same is played with a warning.
	ask.Own, ask.LargerSteps = tempo.Cadence(1000*p.CadenceBefore(next.Tempo.StepsPerMin)), true
	track, err := tempo.Make(ask)
	if err != nil {
		return nil, fmt.Errorf("the track of a plan: %w", err)
	}
	object, err := jsonOf(track)
	if err != nil {
		return nil, err
	}
	title := b.Say("%d steps a minute for %d minutes, for the practice run of %s", next.Tempo.StepsPerMin, next.PracticeMin, b.Weekday(next.Date.Time()))
	return &beat{Title: title, Plan: string(object), Cautions: track.Cautions}, nil
}

// planSheet is the plan as paper.
func (v *visit) planSheet() error {
	p, err := v.readPlan()
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := paper.PlanPDF(&b, p, v.planOptions(p)); err != nil {
		return err
	}
	return v.file("application/pdf", "plan.pdf", b.Bytes())
}

// planDays is the plan for a calendar.
func (v *visit) planDays() error {
	p, err := v.readPlan()
	if err != nil {
		return err
	}
	days, err := calendar.Write(p, v.site.Program, v.plan.Made, v.site.Units, v.words)
	if err != nil {
		return err
	}
	return v.file("text/calendar; charset=utf-8", "plan.ics", days)
}

// How long links work. A runner's own page is for the weeks of a plan and
// the check after it; an invitation is for the days in which somebody films
// at home (common practice, no source).
const (
	ownFor     = 120 * 24 * time.Hour
	invitedFor = 14 * 24 * time.Hour
)

// handOver makes a runner's private address and shows it once.
func (v *visit) handOver() error {
	l := store.Link{Role: roster.Own, RunnerID: v.runner.ID, Expires: v.site.Now().Add(ownFor)}
	first, title := "my", v.words.Say("The private page of %s", v.runner.Name)
	says := v.words.Say("It shows cards that a coach has confirmed, and the plans made from them, to whoever holds this address. Beyond that it can take consent back, and add or delete the runner’s own runs from a watch. You can end it on the runner’s page.")
	if v.field("role", 20) == string(roster.Invited) {
		l.Role, l.ClassID, l.Expires = roster.Invited, v.field("class", 60), v.site.Now().Add(invitedFor)
		if l.ClassID != "" {
			if _, err := v.Class(v.ctx(), l.ClassID); err != nil {
				return err
			}
		}
		first, title = "invited", v.words.Say("An invitation for %s", v.runner.Name)
		says = v.words.Say("Whoever opens it is shown how to film, agrees for %s and sends a clip. The card waits for a coach’s word before the runner sees it.", v.runner.Name)
	}
	link, err := v.newLink(first, l, says)
	if err != nil {
		return err
	}
	return v.show("link", title, linkPage{Title: title, Link: link, Back: "/runner/" + v.runner.ID})
}

// endLink ends one of a runner's addresses.
func (v *visit) endLink() error {
	links, err := v.RunnerLinks(v.ctx(), v.runner.ID)
	if err != nil {
		return err
	}
	for _, l := range links {
		if l.ID == v.r.PathValue("link") {
			if err := v.RevokeLink(v.ctx(), l.ID); err != nil {
				return err
			}
			return v.seeOther("/runner/" + v.runner.ID + "#links")
		}
	}
	return store.ErrNotFound
}
