package tables

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"plumbstride/internal/store"
)

const jobColumns = "id, kind, state, check_id, payload, place, tries, max_tries, token, lease_us, after_us, stage, done, total, reason, made_us, finished_us"

func readJob(scan scanner) (j store.Job, err error) {
	return j, scan(&j.ID, &j.Kind, &j.State, text{&j.CheckID}, document{&j.Payload}, &j.Place, &j.Tries, &j.MaxTries, &j.Token,
		when{&j.Lease}, when{&j.After}, &j.Progress.Stage, &j.Progress.Done, &j.Progress.Total, &j.Reason, when{&j.Made}, when{&j.Finished})
}

// AddJob puts a job at the end of the queue.
func (t *Tables) AddJob(ctx context.Context, j store.Job) (store.Job, error) {
	if j.Kind == "" || j.MaxTries < 1 {
		panic("tables: a job without a kind or tries")
	}
	payload, err := asDocument("job", j.Payload)
	if err != nil {
		return j, err
	}
	j = store.Job{ID: newID(), Kind: j.Kind, State: store.JobQueued, CheckID: j.CheckID, Payload: j.Payload, MaxTries: j.MaxTries,
		After: j.After.UTC().Truncate(time.Microsecond), Made: t.now()}
	err = t.within(ctx, func(t *Tables) error {
		if j.Place, err = only(ctx, t, readInt64, "SELECT COALESCE(MAX(place), 0) + 1 FROM jobs"); err != nil {
			return err
		}
		_, err := t.exec(ctx, "INSERT INTO jobs ("+jobColumns+") VALUES (?, ?, ?, ?, ?, ?, 0, ?, 0, 0, ?, '', 0, 0, '', ?, 0)",
			j.ID, j.Kind, string(j.State), maybe(j.CheckID), payload, j.Place, j.MaxTries, micro(j.After), micro(j.Made))
		return err
	})
	return j, err
}

// Job gives a job.
func (t *Tables) Job(ctx context.Context, id string) (store.Job, error) {
	return only(ctx, t, readJob, "SELECT "+jobColumns+" FROM jobs WHERE id = ?", id)
}

// Queue lists the jobs that wait or run, in their order.
func (t *Tables) Queue(ctx context.Context) ([]store.Job, error) {
	return list(ctx, t, readJob, "SELECT "+jobColumns+" FROM jobs WHERE state IN ('queued', 'running') ORDER BY place, id")
}

// CheckJobs lists a check's jobs, the earliest first.
func (t *Tables) CheckJobs(ctx context.Context, checkID string) ([]store.Job, error) {
	return list(ctx, t, readJob, "SELECT "+jobColumns+" FROM jobs WHERE check_id = ? ORDER BY place, id", checkID)
}

// ClaimJob takes the first job that may be begun.
func (t *Tables) ClaimJob(ctx context.Context, kinds []string, lease time.Duration) (j store.Job, err error) {
	if len(kinds) == 0 {
		return j, store.ErrNoJob
	}
	err = t.within(ctx, func(t *Tables) error {
		now := micro(t.now())
		args := []any{}
		for _, k := range kinds {
			args = append(args, k)
		}
		args = append(args, now, now)
		j, err = only(ctx, t, readJob, "SELECT "+jobColumns+" FROM jobs WHERE kind IN (?"+strings.Repeat(", ?", len(kinds)-1)+`)
			AND ((state = 'queued' AND after_us <= ?) OR (state = 'running' AND lease_us <= ?)) ORDER BY place, id LIMIT 1`, args...)
		if errors.Is(err, store.ErrNotFound) {
			return store.ErrNoJob
		}
		if err != nil {
			return err
		}
		before := j.Token
		j.State, j.Token, j.Tries, j.Progress = store.JobRunning, before+1, j.Tries+1, store.Progress{}
		j.Lease = t.now().Add(lease).Truncate(time.Microsecond)
		err = t.execOne(ctx, `UPDATE jobs SET state = 'running', token = ?, tries = ?, lease_us = ?, stage = '', done = 0, total = 0
			WHERE id = ? AND token = ?`, j.Token, j.Tries, micro(j.Lease), j.ID, before)
		if errors.Is(err, store.ErrNotFound) {
			return store.ErrNoJob // another process was faster
		}
		return err
	})
	if err != nil {
		return store.Job{}, err
	}
	return j, nil
}

// fenced runs an UPDATE whose WHERE ends with the holder's token. A lease
// that ran out without another claim is still the holder's.
func (t *Tables) fenced(ctx context.Context, j store.Job, set string, args ...any) error {
	return t.within(ctx, func(t *Tables) error {
		args := append(args, j.ID, j.Token)
		err := t.execOne(ctx, "UPDATE jobs SET "+set+" WHERE id = ? AND token = ? AND state = 'running'", args...)
		if errors.Is(err, store.ErrNotFound) {
			return fmt.Errorf("job %s: %w", j.ID, store.ErrFenced)
		}
		return err
	})
}

// KeepJob prolongs the lease and records progress.
func (t *Tables) KeepJob(ctx context.Context, j store.Job, lease time.Duration, p store.Progress) error {
	return t.fenced(ctx, j, "lease_us = ?, stage = ?, done = ?, total = ?", micro(t.now().Add(lease)), p.Stage, p.Done, p.Total)
}

// CompleteJob ends a job well.
func (t *Tables) CompleteJob(ctx context.Context, j store.Job) error {
	return t.fenced(ctx, j, "state = 'done', reason = '', lease_us = 0, finished_us = ?", micro(t.now()))
}

// RetryJob puts a job back for later.
func (t *Tables) RetryJob(ctx context.Context, j store.Job, reason string, after time.Duration) error {
	return t.fenced(ctx, j, "state = 'queued', reason = ?, lease_us = 0, after_us = ?", reason, micro(t.now().Add(after)))
}

// ReturnJob puts a job back; the try does not count.
func (t *Tables) ReturnJob(ctx context.Context, j store.Job) error {
	return t.fenced(ctx, j, "state = 'queued', lease_us = 0, after_us = 0, tries = tries - 1")
}

// FailJob ends a job for good.
func (t *Tables) FailJob(ctx context.Context, j store.Job, reason string) error {
	return t.fenced(ctx, j, "state = 'failed', reason = ?, lease_us = 0, finished_us = ?", reason, micro(t.now()))
}

// RemoveFinished deletes jobs that ended before then.
func (t *Tables) RemoveFinished(ctx context.Context, before time.Time) error {
	return t.within(ctx, func(t *Tables) error {
		_, err := t.exec(ctx, "DELETE FROM jobs WHERE state IN ('done', 'failed') AND finished_us < ?", micro(before))
		return err
	})
}
