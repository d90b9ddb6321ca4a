package tables

import (
	"context"
	"fmt"

	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

const activityColumns = "id, runner_id, digest, start_us, run, who_kind, who_id, made_us"

func readActivity(scan scanner) (a store.Activity, err error) {
	return a, scan(&a.ID, &a.RunnerID, &a.Digest, when{&a.Start}, document{&a.Run}, &a.By.Kind, &a.By.ID, when{&a.Made})
}

// AddActivity adds what a watch recorded, by whoever this store is By.
func (t *Tables) AddActivity(ctx context.Context, a store.Activity) (store.Activity, error) {
	run, err := asDocument("run", a.Run)
	if err != nil {
		return a, err
	}
	if a.Digest == "" || a.Start.IsZero() || run == "null" {
		return a, fmt.Errorf("an activity without digest, start or run: %+v", a)
	}
	a.ID, a.By, a.Made, a.Start = newID(), t.who, t.now(), fromMicro(micro(a.Start))
	return a, t.change(ctx, func(t *Tables) (store.Entry, error) {
		n, err := t.exec(ctx, "INSERT INTO activities ("+activityColumns+") VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (runner_id, digest) DO NOTHING",
			a.ID, a.RunnerID, a.Digest, micro(a.Start), run, a.By.Kind, a.By.ID, micro(a.Made))
		if err == nil && n == 0 {
			err = form.UsageError("%w", store.ErrTaken)
		}
		return entry(roster.Add, roster.PracticeKind, a.ID, a.RunnerID), err
	})
}

// Activity gives what was kept of one recording.
func (t *Tables) Activity(ctx context.Context, id string) (store.Activity, error) {
	return only(ctx, t, readActivity, "SELECT "+activityColumns+" FROM activities WHERE id = ?", id)
}

// RunnerActivities lists a runner's recordings, the earliest start first.
func (t *Tables) RunnerActivities(ctx context.Context, runnerID string) ([]store.Activity, error) {
	return list(ctx, t, readActivity, "SELECT "+activityColumns+" FROM activities WHERE runner_id = ? ORDER BY start_us, id", runnerID)
}

// RemoveActivity deletes one.
func (t *Tables) RemoveActivity(ctx context.Context, id string) error {
	return t.change(ctx, func(t *Tables) (e store.Entry, err error) {
		a, err := t.Activity(ctx, id)
		if err != nil {
			return e, err
		}
		return entry(roster.Delete, roster.PracticeKind, id, a.RunnerID), t.execOne(ctx, "DELETE FROM activities WHERE id = ?", id)
	})
}
