package tables

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

const checkColumns = "id, version, runner_id, class_id, clip_id, kind, state, ask, card, networks, pictures, refusal, corrections, made_us, measured_us"

func readCheck(scan scanner) (c store.Check, err error) {
	return c, scan(&c.ID, &c.Version, &c.RunnerID, text{&c.ClassID}, &c.ClipID, &c.Kind, &c.State, document{&c.Ask}, document{&c.Card},
		object{&c.Networks}, document{&c.Pictures}, &c.Refusal, document{&c.Corrections}, when{&c.Made}, when{&c.Measured})
}

// asDocument is JSON as a table holds it; nothing is null.
func asDocument(what string, raw json.RawMessage) (string, error) {
	if len(raw) == 0 {
		return "null", nil
	}
	if !json.Valid(raw) {
		return "", form.UsageError("the %s is not JSON", what)
	}
	return string(raw), nil
}

func knownKind(k store.CheckKind) error {
	if k != store.Running && k != store.Standing && k != store.BackView {
		return form.UsageError("a check is %s, %s or %s, not %q", store.Running, store.Standing, store.BackView, k)
	}
	return nil
}

// AddCheck adds a check that waits.
func (t *Tables) AddCheck(ctx context.Context, c store.Check) (store.Check, error) {
	ask, err := asDocument("check's question", c.Ask)
	if err := errors.Join(err, knownKind(c.Kind)); err != nil {
		return c, err
	}
	c = store.Check{ID: newID(), Version: 1, RunnerID: c.RunnerID, ClassID: c.ClassID, ClipID: c.ClipID, Kind: c.Kind, State: store.Waiting, Ask: c.Ask, Made: t.now()}
	return c, t.change(ctx, func(t *Tables) (store.Entry, error) {
		_, err := t.exec(ctx, "INSERT INTO checks ("+checkColumns+") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
			c.ID, c.Version, c.RunnerID, maybe(c.ClassID), c.ClipID, string(c.Kind), string(c.State), ask, "null", "null", "null", "", "null", micro(c.Made), 0)
		return entry(roster.Add, roster.CheckKind, c.ID, c.RunnerID), err
	})
}

// checks lists checks with their latest decisions.
func (t *Tables) checks(ctx context.Context, where string, arg string) ([]store.Check, error) {
	all, err := list(ctx, t, readCheck, "SELECT "+checkColumns+" FROM checks WHERE "+where+" ORDER BY made_us, id", arg)
	if err != nil || len(all) == 0 {
		return all, err
	}
	decisions, err := list(ctx, t, readDecision, "SELECT "+decisionColumns+` FROM decisions
		WHERE check_id IN (SELECT id FROM checks WHERE `+where+") ORDER BY place", arg)
	if err != nil {
		return nil, err
	}
	latest := map[string]*store.Decision{}
	for i := range decisions {
		latest[decisions[i].CheckID] = &decisions[i]
	}
	for i := range all {
		all[i].Decision = latest[all[i].ID]
	}
	return all, nil
}

// Check gives a check.
func (t *Tables) Check(ctx context.Context, id string) (store.Check, error) {
	all, err := t.checks(ctx, "id = ?", id)
	if err == nil && len(all) == 0 {
		err = store.ErrNotFound
	}
	if err != nil {
		return store.Check{}, err
	}
	return all[0], nil
}

// RunnerChecks lists a runner's checks, the earliest first.
func (t *Tables) RunnerChecks(ctx context.Context, runnerID string) ([]store.Check, error) {
	return t.checks(ctx, "runner_id = ?", runnerID)
}

// ClassChecks lists a class's checks, the earliest first.
func (t *Tables) ClassChecks(ctx context.Context, classID string) ([]store.Check, error) {
	return t.checks(ctx, "class_id = ?", classID)
}

// ChangeCheck changes what was asked, and the coach's corrections.
func (t *Tables) ChangeCheck(ctx context.Context, c store.Check) (store.Check, error) {
	ask, err := asDocument("check's question", c.Ask)
	corrections, err2 := asDocument("list of corrections", c.Corrections)
	if err := errors.Join(err, err2, knownKind(c.Kind)); err != nil {
		return c, err
	}
	err = t.change(ctx, func(t *Tables) (store.Entry, error) {
		err := t.execVersion(ctx, "checks", "UPDATE checks SET version = version + 1, class_id = ?, kind = ?, ask = ?, corrections = ? WHERE id = ? AND version = ?",
			maybe(c.ClassID), string(c.Kind), ask, corrections, c.ID, c.Version)
		if err == nil {
			c, err = t.Check(ctx, c.ID)
		}
		return entry(roster.Change, roster.CheckKind, c.ID, c.RunnerID), err
	})
	return c, err
}

// Measured records how a check ended.
func (t *Tables) Measured(ctx context.Context, id string, r store.Result) (c store.Check, err error) {
	cardText, err := asDocument("card", r.Card)
	if err != nil {
		return c, err
	}
	pictures, err := asDocument("list of pictures", r.Pictures)
	if err != nil {
		return c, err
	}
	networks, err := asText(r.Networks)
	if err != nil {
		return c, err
	}
	switch {
	case r.State == store.Ready && cardText == "null":
		return c, errors.New("a check without a card is not ready")
	case r.State != store.Ready && r.State != store.Refused && r.State != store.Failed:
		return c, fmt.Errorf("a check can't end as %q", r.State)
	}
	err = t.change(ctx, func(t *Tables) (store.Entry, error) {
		err := t.execOne(ctx, "UPDATE checks SET version = version + 1, state = ?, card = ?, networks = ?, pictures = ?, refusal = ?, measured_us = ? WHERE id = ?",
			string(r.State), cardText, networks, pictures, r.Refusal, micro(t.now()), id)
		if err == nil {
			err = t.replaceMeasures(ctx, id, r.Measures)
		}
		if err == nil {
			c, err = t.Check(ctx, id)
		}
		return entry("measure", roster.CheckKind, id, c.RunnerID), err
	})
	return c, err
}

func (t *Tables) replaceMeasures(ctx context.Context, checkID string, measures []card.Measure) error {
	if _, err := t.exec(ctx, "DELETE FROM measures WHERE check_id = ?", checkID); err != nil {
		return err
	}
	for _, m := range measures {
		for _, v := range []float64{m.Value, m.SD, m.Low, m.High} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return fmt.Errorf("the measure %s is no number", m.Name)
			}
		}
		if _, err := t.exec(ctx, "INSERT INTO measures (check_id, name, side, unit, value, sd, low, high, n) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
			checkID, m.Name, m.Side.String(), m.Unit, m.Value, m.SD, m.Low, m.High, m.N); err != nil {
			return fmt.Errorf("measure %s: %w", m.Name, err)
		}
	}
	return nil
}

const decisionColumns = "id, check_id, who_kind, who_id, area, proposed, reason, at_us"

func readDecision(scan scanner) (d store.Decision, err error) {
	return d, scan(&d.ID, &d.CheckID, &d.By.Kind, &d.By.ID, &d.Area, &d.Proposed, &d.Reason, when{&d.At})
}

// Decide records the coach's word on a check's priority.
func (t *Tables) Decide(ctx context.Context, checkID string, version int64, area, reason string) (c store.Check, err error) {
	if area != "" && !slices.Contains(card.AreaNames(), area) {
		return c, form.UsageError("%q is none of the areas: %s, or none", area, strings.Join(card.AreaNames(), ", "))
	}
	err = t.change(ctx, func(t *Tables) (e store.Entry, err error) {
		if c, err = t.Check(ctx, checkID); err != nil {
			return e, err
		}
		d := store.Decision{ID: newID(), CheckID: checkID, By: t.who, Area: area, Reason: strings.TrimSpace(reason), At: t.now()}
		if d.Proposed, err = proposed(c); err != nil {
			return e, err
		}
		if d.Overrules() && d.Reason == "" {
			return e, form.UsageError("choosing otherwise than the card needs a reason; a few words will do")
		}
		if err := t.execVersion(ctx, "checks", "UPDATE checks SET version = version + 1 WHERE id = ? AND version = ?", checkID, version); err != nil {
			return e, err
		}
		if _, err := t.exec(ctx, "INSERT INTO decisions ("+decisionColumns+", place) VALUES (?, ?, ?, ?, ?, ?, ?, ?, (SELECT COALESCE(MAX(place), 0) + 1 FROM decisions))",
			d.ID, d.CheckID, d.By.Kind, d.By.ID, d.Area, d.Proposed, d.Reason, micro(d.At)); err != nil {
			return e, err
		}
		c.Version, c.Decision = version+1, &d
		return entry(roster.Confirm, roster.CheckKind, checkID, c.RunnerID), nil
	})
	return c, err
}

// proposed is the area that the program put first; empty for none.
func proposed(c store.Check) (string, error) {
	if c.State != store.Ready {
		return "", form.UsageError("this check has no card yet; there is nothing to confirm")
	}
	var made struct {
		Priority card.Priority `json:"priority"`
	}
	if err := json.Unmarshal(c.Card, &made); err != nil {
		return "", fmt.Errorf("the card of check %s: %w", c.ID, err)
	}
	if made.Priority.Area == nil {
		return "", nil
	}
	return *made.Priority.Area, nil
}

// Decisions lists all words on a check, the earliest first.
func (t *Tables) Decisions(ctx context.Context, checkID string) ([]store.Decision, error) {
	return list(ctx, t, readDecision, "SELECT "+decisionColumns+" FROM decisions WHERE check_id = ? ORDER BY place", checkID)
}

// History lists the measures of a runner's checks, the earliest first.
func (t *Tables) History(ctx context.Context, runnerID string) ([]store.Past, error) {
	return list(ctx, t, func(scan scanner) (p store.Past, err error) {
		var side string
		err = scan(&p.CheckID, when{&p.Made}, &p.Name, &side, &p.Unit, &p.Value, &p.SD, &p.Low, &p.High, &p.N)
		if err == nil {
			err = p.Side.UnmarshalText([]byte(side))
		}
		return p, err
	}, `SELECT c.id, c.made_us, m.name, m.side, m.unit, m.value, m.sd, m.low, m.high, m.n
		FROM measures m JOIN checks c ON c.id = m.check_id WHERE c.runner_id = ? ORDER BY c.made_us, c.id, m.name, m.side, m.unit`, runnerID)
}

// RemoveCheck deletes a check with its clip, unless another check was made
// of the same clip, and its pictures.
func (t *Tables) RemoveCheck(ctx context.Context, id string) error {
	return t.change(ctx, func(t *Tables) (e store.Entry, err error) {
		c, err := t.Check(ctx, id)
		if err != nil {
			return e, err
		}
		const its = `(check_id = ? OR (id = ? AND NOT EXISTS (SELECT 1 FROM checks WHERE clip_id = ? AND id <> ?)))`
		args := []any{id, c.ClipID, c.ClipID, id}
		if _, err := t.exec(ctx, "INSERT INTO removals (media_key) SELECT media_key FROM footage WHERE gone_us = 0 AND "+its+" ON CONFLICT DO NOTHING", args...); err != nil {
			return e, err
		}
		if _, err := t.exec(ctx, "DELETE FROM footage WHERE "+its, args...); err != nil {
			return e, err
		}
		return entry(roster.Delete, roster.CheckKind, id, c.RunnerID), t.execOne(ctx, "DELETE FROM checks WHERE id = ?", id)
	})
}
