package web

import (
	"encoding/json"
	"errors"
	"fmt"

	"plumbstride/internal/card"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/words"
)

// row is one runner of a class: where they stand tonight.
type row struct {
	roster.Attendance
	Runner roster.Runner
	// MayFilm: consent stands; Lacks says what to ask first otherwise.
	MayFilm bool
	Lacks   string
	// State is one of the states below, Says the same in words.
	State   string
	Says    string
	Percent int // of what is going on; -1 where it is not known
	CheckID string
	// Area is what to work on, as the coach decided or the card proposes.
	Area    string
	Decided bool
}

// The states of a row.
const (
	toFilm    = "to-film"
	sending   = "sending"
	inLine    = "in-line"
	measuring = "measuring"
	ready     = "ready"
	unusable  = "unusable"
)

// classPage is a class with everybody in it.
type classPage struct {
	Class roster.Class
	Rows  []row // who is here or expected, in their turn
	Left  []row // who has gone
	Next  *row  // whom to film next
	// Others are on the roster and not in the class.
	Others   []roster.Runner
	Coach    bool
	Form     answers
	Held     string // why the queue stands still
	Doors    []store.Link
	DoorLink *shownLink
}

// classPage shows tonight: who is here, who is next, and how far each clip is.
func (v *visit) classPage() error {
	p, err := v.lineUp()
	if err != nil {
		return err
	}
	return v.show("class", p.title(v.words), p)
}

func (p classPage) title(b words.Book) string {
	if p.Class.Title != "" {
		return p.Class.Title
	}
	return b.Say("Class of %s", b.Weekday(p.Class.Date.Time()))
}

// lineUp gathers the class.
func (v *visit) lineUp() (p classPage, err error) {
	p = classPage{Class: v.class, Coach: v.may(roster.Change, roster.ClassKind), Form: answers{}}
	if held := v.site.Queue.Held(); held != nil {
		p.Held = v.words.Of(sentence(held))
	}
	rows, err := v.rows()
	if err != nil {
		return p, err
	}
	in := map[string]bool{}
	for _, r := range rows {
		in[r.RunnerID] = true
		if r.Presence == roster.Gone {
			p.Left = append(p.Left, r)
			continue
		}
		p.Rows = append(p.Rows, r)
	}
	for i, r := range p.Rows {
		if r.Presence == roster.Here && r.State == toFilm {
			p.Next = &p.Rows[i]
			break
		}
	}
	all, err := v.Runners(v.ctx())
	if err != nil {
		return p, err
	}
	for _, r := range all {
		if !in[r.ID] {
			p.Others = append(p.Others, r)
		}
	}
	if v.may(roster.See, roster.LinkKind) {
		links, err := v.ClassLinks(v.ctx(), v.class.ID)
		if err != nil {
			return p, err
		}
		for _, l := range links {
			if l.Usable(v.site.Now()) {
				p.Doors = append(p.Doors, l)
			}
		}
	}
	return p, nil
}

// rows gives everybody of the class with how far they are.
func (v *visit) rows() ([]row, error) {
	ctx := v.ctx()
	present, err := v.Attendance(ctx, v.class.ID)
	if err != nil {
		return nil, err
	}
	checks, err := v.ClassChecks(ctx, v.class.ID)
	if err != nil {
		return nil, err
	}
	uploads, err := v.ClassUploads(ctx, v.class.ID)
	if err != nil {
		return nil, err
	}
	queue, err := v.Queue(ctx)
	if err != nil {
		return nil, err
	}
	latest := map[string]store.Check{}
	for _, c := range checks {
		latest[c.RunnerID] = c
	}
	var out []row
	for _, a := range present {
		r := row{Attendance: a, State: toFilm, Says: v.words.Say("No clip yet"), Percent: -1}
		if r.Runner, err = v.Runner(ctx, a.RunnerID); err != nil {
			return nil, err
		}
		consents, err := v.Consents(ctx, a.RunnerID)
		if err != nil {
			return nil, err
		}
		if _, err := roster.MayFilm(r.Runner, consents, v.site.Now()); err != nil {
			r.Lacks = v.words.Of(sentence(err))
		} else {
			r.MayFilm = true
		}
		if c, ok := latest[a.RunnerID]; ok {
			r.judge(c, queue, v.words)
		}
		for _, u := range uploads {
			if have, err := v.site.Shelf.Received(u); err == nil && u.RunnerID == a.RunnerID {
				r.State, r.Percent = sending, int(100*have/max(1, u.Bytes))
				r.Says = v.words.Say("The clip is coming: %d %%", r.Percent)
			}
		}
		out = append(out, r)
	}
	return out, nil
}

// judge fills in how far a check is, in the words of b. What is in the line
// is measured, or measured again, whatever came of it before.
func (r *row) judge(c store.Check, queue []store.Job, b words.Book) {
	r.CheckID = c.ID
	for i, j := range queue {
		if j.CheckID == c.ID {
			r.wait(j, i, b)
			return
		}
	}
	switch c.State {
	case store.Refused, store.Failed:
		r.State, r.Says = unusable, sentenceOf(c.Refusal, b)
	case store.Ready:
		r.State = ready
		r.Area, r.Decided = priorityOf(c)
		area := b.Say("nothing to change")
		if r.Area != "" {
			area = b.Of(r.Area)
		}
		if r.Says = b.Say("To be confirmed: %s", area); r.Decided {
			r.Says = b.Say("Confirmed: %s", area)
		}
	default:
		r.State, r.Says = inLine, b.Say("Waits to be measured")
	}
}

// wait fills in how far a job is; before is how many come before it.
func (r *row) wait(j store.Job, before int, b words.Book) {
	r.State, r.Says = inLine, b.Say("Waits to be measured, number %d in the line", before+1)
	if j.Reason != "" {
		r.Says = b.Say("Waits to be measured, number %d in the line; it is tried again: %s", before+1, b.Of(j.Reason))
	}
	if j.State != store.JobRunning {
		return
	}
	r.State, r.Says = measuring, b.Say("Being measured")
	if share, ok := j.Progress.Share(); ok {
		r.Percent = int(100 * share)
		r.Says = b.Say("Being measured: %s, %d %%", b.Of(card.Words(j.Progress.Stage)), r.Percent)
	}
}

// sentenceOf is a reason as a sentence.
func sentenceOf(text string, b words.Book) string {
	if text == "" {
		return b.Say("It could not be measured.")
	}
	return b.Of(sentence(errors.New(text)))
}

// priorityOf is what to work on: the coach's word, or else the card's.
func priorityOf(c store.Check) (area string, decided bool) {
	if c.Decision != nil {
		return c.Decision.Area, true
	}
	return proposed(c), false
}

// proposed is the area that the card itself puts first; empty for none.
func proposed(c store.Check) string {
	var short struct {
		Priority card.Priority `json:"priority"`
	}
	if err := json.Unmarshal(c.Card, &short); err != nil || short.Priority.Area == nil {
		return ""
	}
	return *short.Priority.Area
}

// addRunner takes a runner in within ten seconds: name, height, whatever
// else was said. Consent is asked next.
func (v *visit) addRunner() error {
	f := v.read("name", "height", "birth_year", "mass", "sex", "contact", "shoes", "goals", "runner")
	id := f["runner"]
	err := v.Within(v.ctx(), func(s store.Store) error {
		if id == "" {
			r, err := runnerOf(f, roster.Runner{})
			if err == nil {
				r, err = r.Clean(v.site.Now())
			}
			if err == nil {
				r, err = s.AddRunner(v.ctx(), r)
			}
			if err != nil {
				return err
			}
			id = r.ID
		}
		_, err := s.Attend(v.ctx(), roster.Attendance{ClassID: v.class.ID, RunnerID: id, Presence: roster.Here})
		return err
	})
	if err != nil {
		p, listErr := v.lineUp()
		if listErr != nil {
			return listErr
		}
		p.Form = f
		return v.again(err, "class", p.title(v.words), p)
	}
	if f["runner"] != "" {
		return v.seeOther("/class/" + v.class.ID + "#r-" + id)
	}
	return v.seeOther("/runner/" + id + "/consent?class=" + v.class.ID)
}

// runnerOf puts a form's fields into a runner.
func runnerOf(f answers, r roster.Runner) (_ roster.Runner, err error) {
	r.Name, r.Sex, r.Shoes, r.Goals = f["name"], sexOf(f["sex"]), f["shoes"], f["goals"]
	if contact, ok := f["contact"]; ok {
		r.Contact = contact
	}
	if r.HeightM, err = heightOf(f["height"]); err != nil {
		return r, err
	}
	if r.MassKg, err = massOf(f["mass"]); err != nil {
		return r, err
	}
	r.BirthYear, err = yearOf(f["birth_year"])
	return r, err
}

// attend changes whether somebody is here, or their turn.
func (v *visit) attend() error {
	a := roster.Attendance{ClassID: v.class.ID, RunnerID: v.runner.ID, Presence: roster.Presence(v.field("presence", 20))}
	all, err := v.Attendance(v.ctx(), v.class.ID)
	if err != nil {
		return err
	}
	there := false
	for _, other := range all {
		if other.RunnerID == a.RunnerID {
			a.Place, there = other.Place, true
		}
	}
	if !there || !a.Presence.Valid() {
		return store.ErrNotFound
	}
	if _, err := v.Attend(v.ctx(), a); err != nil {
		return err
	}
	return v.seeOther("/class/" + v.class.ID + "#r-" + a.RunnerID)
}

// editClassPage shows the class to be changed.
func (v *visit) editClassPage() error {
	return v.show("class-edit", v.words.Say("Change the class"), editClass{v.class, classAnswers(v.class)})
}

// editClass is a class and the form for it.
type editClass struct {
	Class roster.Class
	Form  answers
}

func classAnswers(c roster.Class) answers {
	number := func(n int) string {
		if n == 0 {
			return ""
		}
		return fmt.Sprint(n)
	}
	return answers{
		"title": c.Title, "date": c.Date.String(), "place": c.Place, "coach": c.Coach, "note": c.Note,
		"capacity": number(c.Capacity), "keep_days": number(c.KeepDays), "version": fmt.Sprint(c.Version),
	}
}

// changeClass changes the class, unless somebody else was faster.
func (v *visit) changeClass() error {
	f := v.read("title", "date", "place", "capacity", "coach", "keep_days", "note", "version")
	c, err := classOf(f, v.class)
	if err == nil {
		c.Version = versionOf(f["version"])
		_, err = v.ChangeClass(v.ctx(), c)
	}
	if err != nil {
		f["version"] = fmt.Sprint(v.class.Version)
		return v.again(err, "class-edit", v.words.Say("Change the class"), editClass{v.class, f})
	}
	return v.seeOther("/class/" + v.class.ID)
}
