package web

import (
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"plumbstride/internal/card"
	"plumbstride/internal/chart"
	"plumbstride/internal/evening"
	"plumbstride/internal/form"
	"plumbstride/internal/media"
	"plumbstride/internal/plan"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/words"
)

// runnerPage is everything about one runner that the visitor may see.
type runnerPage struct {
	Runner           roster.Runner
	Consent          *roster.Consent
	Checks           []checkLine
	Histories        []history
	Plans            []planLine
	Notes            []store.Note
	Links            []store.Link
	Questions        []plan.Question
	Health, Contact  bool // may be seen
	Coach, MayChange bool
	Base             string
	Form             answers
	// Compare: two checks or more may be laid beside one another.
	Compare  bool
	Beat     *beat
	Now      time.Time
	Practice *practiceView
}

// checkLine is one check in the list of all.
type checkLine struct {
	store.Check
	Area    string
	Decided bool
	Sees    bool // may be opened
}

// planLine is one plan in the list of all.
type planLine struct {
	store.Plan
	Area, Start, Recheck string
}

// history is one measure in time.
type history struct {
	Title, Side, Latest string
	Drawing             template.HTML
}

// runnerPage shows a runner.
func (v *visit) runnerPage() error {
	p, err := v.runnerPageOf()
	if err != nil {
		return err
	}
	return v.show("runner", v.runner.Name, p)
}

func (v *visit) runnerPageOf() (p runnerPage, err error) {
	ctx, id := v.ctx(), v.runner.ID
	p = runnerPage{
		Runner: v.runner, Questions: plan.Questions(), Health: v.may(roster.See, roster.HealthKind), Contact: v.may(roster.See, roster.ContactKind),
		Coach: v.may(roster.Add, roster.NoteKind), MayChange: v.may(roster.Change, roster.RunnerKind), Form: answers{}, Now: v.site.Now(),
	}
	if v.link.ID != "" {
		p.Base = "/my/" + v.token
	}
	consents, err := v.Consents(ctx, id)
	if err != nil {
		return p, err
	}
	if c, ok := roster.Standing(consents, v.site.Now()); ok {
		p.Consent = &c
	}
	sees, err := v.checksOf(&p)
	if err != nil {
		return p, err
	}
	seen, err := v.comparable(roster.See)
	if err != nil {
		return p, err
	}
	p.Compare = comparePair(seen)
	if p.Histories, err = v.histories(sees); err != nil {
		return p, err
	}
	plans, err := v.planLines(&p, sees)
	if err != nil {
		return p, err
	}
	if p.Practice, err = v.practiceSection(plans); err != nil {
		return p, err
	}
	if v.may(roster.See, roster.NoteKind) {
		if p.Notes, err = v.RunnerNotes(ctx, id); err != nil {
			return p, err
		}
	}
	if v.may(roster.See, roster.LinkKind) {
		p.Links, err = v.RunnerLinks(ctx, id)
	}
	return p, err
}

// mayCheck asks the table about one of the runner's checks.
func (v *visit) mayCheck(kind roster.Kind, c store.Check) bool {
	return roster.May(v.actor, roster.See, roster.Resource{Kind: kind, RunnerID: c.RunnerID, ClassID: c.ClassID, Released: c.Released(), Shown: v.shown})
}

// checksOf lists the checks, the latest first, and gives which may be seen.
func (v *visit) checksOf(p *runnerPage) (map[string]bool, error) {
	checks, err := v.RunnerChecks(v.ctx(), v.runner.ID)
	if err != nil {
		return nil, err
	}
	sees := map[string]bool{}
	for _, c := range slices.Backward(checks) {
		sees[c.ID] = v.mayCheck(roster.CheckKind, c)
		if v.link.ID != "" && !sees[c.ID] {
			continue // not even that it is there
		}
		l := checkLine{Check: c, Sees: sees[c.ID]}
		l.Area, l.Decided = priorityOf(c)
		p.Checks = append(p.Checks, l)
	}
	return sees, nil
}

// planLines lists the plans, the latest first, and gives them.
func (v *visit) planLines(p *runnerPage, sees map[string]bool) (seen []plan.Plan, err error) {
	plans, err := v.RunnerPlans(v.ctx(), v.runner.ID)
	if err != nil {
		return nil, err
	}
	for _, one := range slices.Backward(plans) {
		released := one.CheckID == "" || sees[one.CheckID]
		if !roster.May(v.actor, roster.See, roster.Resource{Kind: roster.PlanKind, RunnerID: one.RunnerID, Released: released}) {
			continue
		}
		read, err := evening.PlanOf(one)
		if err != nil {
			return nil, err
		}
		if p.Beat == nil {
			if p.Beat, err = beatOf(read, v.today(), v.words); err != nil {
				return nil, err
			}
		}
		seen = append(seen, read)
		p.Plans = append(p.Plans, planLine{one, read.Ask.Area, v.words.Weekday(read.Ask.Start.Time()), v.words.Weekday(read.Recheck.Time())})
	}
	return seen, nil
}

// histories draws every measure that was taken in a check that may be seen.
func (v *visit) histories(sees map[string]bool) ([]history, error) {
	past, err := v.History(v.ctx(), v.runner.ID)
	if err != nil {
		return nil, err
	}
	type key struct {
		name, side, unit string
	}
	order, points, sides := []key{}, map[key][]chart.Dated{}, map[key]form.Side{}
	for _, m := range past {
		if !sees[m.CheckID] || math.IsNaN(m.Value) {
			continue
		}
		k := key{m.Name, m.Side.String(), m.Unit}
		if points[k] == nil {
			order = append(order, k)
		}
		points[k], sides[k] = append(points[k], chart.Dated{At: m.Made, Value: m.Value, Low: m.Low, High: m.High}), m.Side
	}
	slices.SortStableFunc(order, func(a, b key) int { return len(points[b]) - len(points[a]) })
	var out []history
	for i, k := range order {
		all := points[k]
		h := history{Title: card.TitleIn(k.name, k.unit, v.words), Side: card.SideIn(sides[k], v.words)}
		last := all[len(all)-1]
		h.Latest = v.words.Say("%s (%s to %s)", v.words.Figures(short(last.Value, last))+unitOf(k.unit, v.words), v.words.Figures(short(last.Low, last)), v.words.Figures(short(last.High, last)))
		if len(all) > 1 {
			h.Drawing = template.HTML(chart.History(v.site.letters, h.Title+" "+h.Side, all, v.words).SVG("history-" + string(rune('a'+i/26%26)) + string(rune('a'+i%26))))
		}
		out = append(out, h)
	}
	return out, nil
}

// short writes a number with as many digits as the width of the interval that
// it stands with gives a meaning to.
func short(x float64, of chart.Dated) string {
	digits := 1
	switch width := of.High - of.Low; {
	case width >= 20:
		digits = 0
	case width < 0.2:
		digits = 2
	}
	text := strconv.FormatFloat(x, 'f', digits, 64)
	if strings.Trim(text, "-0.") == "" {
		return strings.TrimPrefix(text, "-")
	}
	return strings.Replace(text, "-", "−", 1)
}

func unitOf(unit string, b words.Book) string {
	sign := b.Of(card.UnitSign(unit))
	if sign == "" || sign == "°" {
		return sign
	}
	return " " + sign
}

// editRunner is a runner and the form for them.
type editRunner struct {
	Runner    roster.Runner
	Form      answers
	Questions []plan.Question
	Yes       map[plan.Reason]bool
	Coach     bool
}

// editRunnerPage shows what is known of the runner, to be changed.
func (v *visit) editRunnerPage() error {
	return v.show("runner-edit", v.words.Say("Change %s", v.runner.Name), v.editRunnerOf(runnerAnswers(v.runner)))
}

func (v *visit) editRunnerOf(f answers) editRunner {
	e := editRunner{Runner: v.runner, Form: f, Questions: plan.Questions(), Yes: map[plan.Reason]bool{}, Coach: v.may(roster.Change, roster.HealthKind)}
	for _, r := range v.runner.Health.Yes {
		e.Yes[r] = true
	}
	return e
}

func runnerAnswers(r roster.Runner) answers {
	f := answers{
		"name": r.Name, "contact": r.Contact, "shoes": r.Shoes, "goals": r.Goals, "sex": string(r.Sex), "health_note": r.HealthNote,
		"version": strconv.FormatInt(r.Version, 10),
	}
	if r.HeightM > 0 {
		f["height"] = strconv.FormatFloat(math.Round(r.HeightM*1000)/10, 'f', -1, 64)
	}
	if r.MassKg > 0 {
		f["mass"] = strconv.FormatFloat(r.MassKg, 'f', -1, 64)
	}
	if r.BirthYear > 0 {
		f["birth_year"] = strconv.Itoa(r.BirthYear)
	}
	if len(r.Paces) > 0 {
		f["pace"] = strconv.FormatFloat(math.Round(r.Paces[0].SpeedMS*36)/10, 'f', -1, 64)
	}
	return f
}

// changeRunner changes what is known of the runner, unless somebody else was
// faster. A helper changes nothing of contact and health.
func (v *visit) changeRunner() error {
	f := v.read("name", "contact", "height", "mass", "birth_year", "sex", "shoes", "goals", "pace", "health_note", "version")
	if !v.may(roster.Change, roster.ContactKind) {
		delete(f, "contact")
	}
	r, err := runnerOf(f, v.runner)
	if err == nil && f["pace"] != "" {
		var s float64
		if s, err = speedOf(f["pace"]); err == nil {
			r.Paces = append([]roster.Pace{{Name: "usual", SpeedMS: s}}, v.runner.Paces[min(1, len(v.runner.Paces)):]...)
		}
	}
	if v.may(roster.Change, roster.HealthKind) {
		r.HealthNote = f["health_note"]
		r.Health = plan.Health{Asked: v.ticked("asked") || v.runner.Health.Asked, Yes: []plan.Reason{}}
		for _, q := range plan.Questions() {
			if v.ticked("health-" + string(q.Reason)) {
				r.Health.Yes = append(r.Health.Yes, q.Reason)
			}
		}
	}
	if err == nil {
		r, err = r.Clean(v.site.Now())
	}
	if err == nil {
		r.Version = versionOf(f["version"])
		_, err = v.ChangeRunner(v.ctx(), r)
	}
	if err != nil {
		if now, readErr := v.Runner(v.ctx(), v.runner.ID); readErr == nil {
			v.runner = now
		}
		f["version"] = strconv.FormatInt(v.runner.Version, 10)
		return v.again(err, "runner-edit", v.words.Say("Change %s", v.runner.Name), v.editRunnerOf(f))
	}
	return v.seeOther("/runner/" + v.runner.ID)
}

// addNote keeps a coach's note.
func (v *visit) addNote() error {
	text := v.field("text", 4000)
	if text == "" {
		return form.UsageError("the note is empty; write it first")
	}
	if _, err := v.AddNote(v.ctx(), store.Note{RunnerID: v.runner.ID, Text: text}); err != nil {
		return err
	}
	return v.seeOther("/runner/" + v.runner.ID + "#notes")
}

// everything gives all that is kept about the runner.
func (v *visit) everything() error {
	e, err := store.About(v.ctx(), v.Store, v.runner.ID)
	if err != nil {
		return err
	}
	data, err := e.JSON()
	if err != nil {
		return err
	}
	return v.file("application/json", "everything.json", data)
}

// forget deletes the runner for good; the name is typed to be sure.
func (v *visit) forget() error {
	if v.field("name", 200) != v.runner.Name {
		return form.UsageError("nothing was deleted: the name that was typed is not %q", v.runner.Name)
	}
	if err := media.Forget(v.ctx(), v.site.DB, v.site.Shelf, v.runner.ID, v.who); err != nil {
		return err
	}
	return v.seeOther("/people")
}
