package tables

import (
	"context"
	"time"

	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

const consentColumns = "id, runner_id, film, pictures, faces, helpers, runner, keep_days, given_by, guardian, stated_of_age, words, given_us, withdrawn_us"

func readConsent(scan scanner) (c roster.Consent, err error) {
	var withdrawn time.Time
	err = scan(&c.ID, &c.RunnerID, &c.Film, &c.Pictures, &c.Faces, &c.Shown.Helpers, &c.Shown.Runner, &c.KeepDays, &c.GivenBy,
		&c.Guardian, &c.StatedOfAge, &c.Words, when{&c.Given}, when{&withdrawn})
	if !withdrawn.IsZero() {
		c.Withdrawn = &withdrawn
	}
	return c, err
}

// AddConsent records a consent in place of earlier ones.
func (t *Tables) AddConsent(ctx context.Context, c roster.Consent) (roster.Consent, error) {
	c, err := c.Clean()
	if err != nil {
		return c, err
	}
	c.ID, c.Given, c.Withdrawn = newID(), t.now(), nil
	err = t.change(ctx, func(t *Tables) (store.Entry, error) {
		e := entry(roster.Add, roster.ConsentKind, c.ID, c.RunnerID)
		// A later consent is later, even on a clock that stands still.
		last, err := only(ctx, t, readInt64, "SELECT COALESCE(MAX(given_us), 0) FROM consents WHERE runner_id = ?", c.RunnerID)
		if err != nil {
			return e, err
		}
		if micro(c.Given) <= last {
			c.Given = fromMicro(last + 1)
		}
		_, err = t.exec(ctx, "INSERT INTO consents ("+consentColumns+") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
			c.ID, c.RunnerID, truth(c.Film), truth(c.Pictures), truth(c.Faces), truth(c.Shown.Helpers), truth(c.Shown.Runner), c.KeepDays,
			c.GivenBy, truth(c.Guardian), truth(c.StatedOfAge), c.Words, micro(c.Given), 0)
		if err != nil {
			return e, err
		}
		return e, t.applyConsent(ctx, c)
	})
	return c, err
}

func readInt64(scan scanner) (n int64, err error) { return n, scan(&n) }

// applyConsent brings the footage that is there under the new consent.
func (t *Tables) applyConsent(ctx context.Context, c roster.Consent) error {
	if !c.Film {
		return t.endFilming(ctx, c.RunnerID)
	}
	// Faces that may no longer be seen are not blurred afterwards: the
	// pictures go.
	faces, err := list(ctx, t, readInt, "SELECT faces FROM consents WHERE runner_id = ? AND id <> ? ORDER BY given_us DESC LIMIT 1", c.RunnerID, c.ID)
	if err != nil {
		return err
	}
	if hidden := !c.Faces && len(faces) > 0 && faces[0] == 1; !c.Pictures || hidden {
		if err := t.makeDue(ctx, "runner_id = ? AND kind = ?", c.RunnerID, string(store.Picture)); err != nil {
			return err
		}
	}
	if c.KeepDays == 0 {
		return nil
	}
	_, err = t.exec(ctx, `UPDATE footage SET keep_until_us = made_us + ? WHERE runner_id = ? AND kind <> ? AND gone_us = 0
		AND keep_until_us > made_us + ?`, daysMicro(c.KeepDays), c.RunnerID, string(store.Track), daysMicro(c.KeepDays))
	return err
}

func daysMicro(days int) int64 { return int64(days) * 24 * time.Hour.Microseconds() }

// makeDue lets the time of clips and pictures be over now.
func (t *Tables) makeDue(ctx context.Context, where string, args ...any) error {
	now := micro(t.now())
	_, err := t.exec(ctx, "UPDATE footage SET keep_until_us = ? WHERE kind <> ? AND gone_us = 0 AND keep_until_us > ? AND "+where,
		append([]any{now, string(store.Track), now}, args...)...)
	return err
}

// takenBack is what a check says whose runner takes the consent back while it
// waits.
const takenBack = "The runner took the consent back before the clip was measured."

// endFilming makes all clips and pictures due, ends uploads, and takes what
// waits to be measured, or is being measured, out of the queue.
func (t *Tables) endFilming(ctx context.Context, runnerID string) error {
	if err := t.makeDue(ctx, "runner_id = ?", runnerID); err != nil {
		return err
	}
	if _, err := t.exec(ctx, `DELETE FROM jobs WHERE state IN ('queued', 'running')
		AND check_id IN (SELECT id FROM checks WHERE runner_id = ?)`, runnerID); err != nil {
		return err
	}
	if _, err := t.exec(ctx, "UPDATE checks SET version = version + 1, state = ?, refusal = ?, measured_us = ? WHERE runner_id = ? AND state = ?",
		string(store.Refused), takenBack, micro(t.now()), runnerID, string(store.Waiting)); err != nil {
		return err
	}
	return t.dropUploads(ctx, "runner_id = ? AND check_id IS NULL", runnerID)
}

// Consents lists a runner's consents, the earliest first.
func (t *Tables) Consents(ctx context.Context, runnerID string) ([]roster.Consent, error) {
	return list(ctx, t, readConsent, "SELECT "+consentColumns+" FROM consents WHERE runner_id = ? ORDER BY given_us, id", runnerID)
}

// WithdrawConsent takes a consent back.
func (t *Tables) WithdrawConsent(ctx context.Context, id string) error {
	return t.change(ctx, func(t *Tables) (e store.Entry, err error) {
		c, err := only(ctx, t, readConsent, "SELECT "+consentColumns+" FROM consents WHERE id = ?", id)
		if err != nil || c.Withdrawn != nil {
			return e, err
		}
		// Not before it was given, whatever the clock says.
		at := max(micro(t.now()), micro(c.Given))
		if _, err := t.exec(ctx, "UPDATE consents SET withdrawn_us = ? WHERE id = ?", at, id); err != nil {
			return e, err
		}
		all, err := t.Consents(ctx, c.RunnerID)
		if err != nil {
			return e, err
		}
		if all[len(all)-1].ID == id {
			err = t.endFilming(ctx, c.RunnerID)
		}
		return entry("withdraw", roster.ConsentKind, id, c.RunnerID), err
	})
}

// mayFilm gives the runner's standing consent, or says what to ask.
func (t *Tables) mayFilm(ctx context.Context, runnerID string) (roster.Consent, error) {
	r, err := t.Runner(ctx, runnerID)
	if err != nil {
		return roster.Consent{}, err
	}
	consents, err := t.Consents(ctx, runnerID)
	if err != nil {
		return roster.Consent{}, err
	}
	at := t.now()
	if n := len(consents); n > 0 && at.Before(consents[n-1].Given) {
		at = consents[n-1].Given // two within one microsecond
	}
	return roster.MayFilm(r, consents, at)
}
