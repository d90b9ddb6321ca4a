package tables

import (
	"context"
	"strings"
	"unicode/utf8"

	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

const planColumns = "id, version, runner_id, check_id, plan, made_us, changed_us"

func readPlan(scan scanner) (p store.Plan, err error) {
	return p, scan(&p.ID, &p.Version, &p.RunnerID, text{&p.CheckID}, document{&p.Plan}, when{&p.Made}, when{&p.Changed})
}

// AddPlan adds a plan.
func (t *Tables) AddPlan(ctx context.Context, p store.Plan) (store.Plan, error) {
	plan, err := asDocument("plan", p.Plan)
	if err != nil {
		return p, err
	}
	p.ID, p.Version, p.Made = newID(), 1, t.now()
	p.Changed = p.Made
	return p, t.change(ctx, func(t *Tables) (store.Entry, error) {
		_, err := t.exec(ctx, "INSERT INTO plans ("+planColumns+") VALUES (?, ?, ?, ?, ?, ?, ?)",
			p.ID, p.Version, p.RunnerID, maybe(p.CheckID), plan, micro(p.Made), micro(p.Changed))
		return entry(roster.Add, roster.PlanKind, p.ID, p.RunnerID), err
	})
}

// Plan gives a plan.
func (t *Tables) Plan(ctx context.Context, id string) (store.Plan, error) {
	return only(ctx, t, readPlan, "SELECT "+planColumns+" FROM plans WHERE id = ?", id)
}

// RunnerPlans lists a runner's plans, the earliest first.
func (t *Tables) RunnerPlans(ctx context.Context, runnerID string) ([]store.Plan, error) {
	return list(ctx, t, readPlan, "SELECT "+planColumns+" FROM plans WHERE runner_id = ? ORDER BY made_us, id", runnerID)
}

// ChangePlan changes a plan's text.
func (t *Tables) ChangePlan(ctx context.Context, p store.Plan) (store.Plan, error) {
	plan, err := asDocument("plan", p.Plan)
	if err != nil {
		return p, err
	}
	err = t.change(ctx, func(t *Tables) (store.Entry, error) {
		err := t.execVersion(ctx, "plans", "UPDATE plans SET version = version + 1, plan = ?, changed_us = ? WHERE id = ? AND version = ?",
			plan, micro(t.now()), p.ID, p.Version)
		if err == nil {
			p, err = t.Plan(ctx, p.ID)
		}
		return entry(roster.Change, roster.PlanKind, p.ID, p.RunnerID), err
	})
	return p, err
}

// RemovePlan deletes a plan.
func (t *Tables) RemovePlan(ctx context.Context, id string) error {
	return t.change(ctx, func(t *Tables) (e store.Entry, err error) {
		p, err := t.Plan(ctx, id)
		if err != nil {
			return e, err
		}
		return entry(roster.Delete, roster.PlanKind, id, p.RunnerID), t.execOne(ctx, "DELETE FROM plans WHERE id = ?", id)
	})
}

const noteColumns = "id, version, runner_id, check_id, who_kind, who_id, text, made_us, changed_us"

func readNote(scan scanner) (n store.Note, err error) {
	return n, scan(&n.ID, &n.Version, &n.RunnerID, text{&n.CheckID}, &n.By.Kind, &n.By.ID, &n.Text, when{&n.Made}, when{&n.Changed})
}

// maxNote is the longest note, in characters.
const maxNote = 10_000

func cleanNote(s string) (string, error) {
	s = strings.TrimSpace(strings.ReplaceAll(s, "\x00", ""))
	switch {
	case s == "":
		return s, form.UsageError("a note without words is not kept")
	case !utf8.ValidString(s):
		return s, form.UsageError("the note has bytes that are no text (UTF-8); write it again")
	case utf8.RuneCountInString(s) > maxNote:
		return s, form.UsageError("the note has more than %d characters; split it", maxNote)
	}
	return s, nil
}

// AddNote adds a note, by whoever this store is By.
func (t *Tables) AddNote(ctx context.Context, n store.Note) (store.Note, error) {
	var err error
	if n.Text, err = cleanNote(n.Text); err != nil {
		return n, err
	}
	n.ID, n.Version, n.By, n.Made = newID(), 1, t.who, t.now()
	n.Changed = n.Made
	return n, t.change(ctx, func(t *Tables) (store.Entry, error) {
		_, err := t.exec(ctx, "INSERT INTO notes ("+noteColumns+") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
			n.ID, n.Version, n.RunnerID, maybe(n.CheckID), n.By.Kind, n.By.ID, n.Text, micro(n.Made), micro(n.Changed))
		return entry(roster.Add, roster.NoteKind, n.ID, n.RunnerID), err
	})
}

// Note gives a note.
func (t *Tables) Note(ctx context.Context, id string) (store.Note, error) {
	return only(ctx, t, readNote, "SELECT "+noteColumns+" FROM notes WHERE id = ?", id)
}

// RunnerNotes lists a runner's notes, the earliest first.
func (t *Tables) RunnerNotes(ctx context.Context, runnerID string) ([]store.Note, error) {
	return list(ctx, t, readNote, "SELECT "+noteColumns+" FROM notes WHERE runner_id = ? ORDER BY made_us, id", runnerID)
}

// ChangeNote changes a note's words.
func (t *Tables) ChangeNote(ctx context.Context, n store.Note) (store.Note, error) {
	words, err := cleanNote(n.Text)
	if err != nil {
		return n, err
	}
	err = t.change(ctx, func(t *Tables) (store.Entry, error) {
		err := t.execVersion(ctx, "notes", "UPDATE notes SET version = version + 1, text = ?, changed_us = ? WHERE id = ? AND version = ?",
			words, micro(t.now()), n.ID, n.Version)
		if err == nil {
			n, err = t.Note(ctx, n.ID)
		}
		return entry(roster.Change, roster.NoteKind, n.ID, n.RunnerID), err
	})
	return n, err
}

// RemoveNote deletes a note.
func (t *Tables) RemoveNote(ctx context.Context, id string) error {
	return t.change(ctx, func(t *Tables) (e store.Entry, err error) {
		n, err := t.Note(ctx, id)
		if err != nil {
			return e, err
		}
		return entry(roster.Delete, roster.NoteKind, id, n.RunnerID), t.execOne(ctx, "DELETE FROM notes WHERE id = ?", id)
	})
}
