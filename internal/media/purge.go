package media

import (
	"context"
	"fmt"
	"time"

	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// The times after which things go that nobody asked to keep.
const (
	uploadAge   = 24 * time.Hour      // an upload, finished or not
	orphanAge   = time.Hour           // a file that no record knows
	finishedAge = 30 * 24 * time.Hour // a job that has ended
)

// TrailYears is for how long it can be told who saw or changed what (common
// practice, no source).
const TrailYears = 3

// Purged is what a purge took away.
type Purged struct {
	Footage int `json:"footage"` // clips and pictures whose time was over
	Uploads int `json:"uploads"` // uploads that were never finished
	Files   int `json:"files"`   // all files removed, with those left over from before
}

// Any tells whether there was anything.
func (p Purged) Any() bool { return p != Purged{} }

// Purge takes away clips and pictures whose time is over, uploads that were
// given up, and whatever a process that was killed left behind. Measures
// stay. Every removal stands in the trail. Run it at start and once an hour.
func Purge(ctx context.Context, db store.Database, shelf Shelf, now time.Time) (p Purged, err error) {
	s := db.By(store.Who{Kind: "program", ID: "purge"})
	for {
		due, err := s.DueFootage(ctx, 100)
		if err != nil {
			return p, fmt.Errorf("purge: %w", err)
		}
		for _, f := range due {
			if err := s.RemoveFootage(ctx, f.ID); err != nil {
				return p, fmt.Errorf("purge: %w", err)
			}
			p.Footage++
		}
		if len(due) == 0 {
			break
		}
	}
	stale, err := s.StaleUploads(ctx, now.Add(-uploadAge))
	if err != nil {
		return p, fmt.Errorf("purge: %w", err)
	}
	for _, u := range stale {
		if err := s.RemoveUpload(ctx, u.ID); err != nil {
			return p, fmt.Errorf("purge: %w", err)
		}
		if u.CheckID == "" {
			p.Uploads++
		}
	}
	if p.Files, err = removeFiles(ctx, s, shelf); err != nil {
		return p, err
	}
	return p, settle(ctx, db, s, shelf, &p, now)
}

// settle takes away what is left over, and leaves no trace of names.
func settle(ctx context.Context, db store.Database, s store.Store, shelf Shelf, p *Purged, now time.Time) error {
	known, err := s.Keys(ctx)
	if err != nil {
		return fmt.Errorf("purge: %w", err)
	}
	orphans, err := shelf.Sweep(ctx, known, now.Add(-orphanAge))
	if err != nil {
		return fmt.Errorf("purge: %w", err)
	}
	p.Files += orphans
	if err := s.RemoveExpired(ctx); err != nil {
		return fmt.Errorf("purge: %w", err)
	}
	if err := s.RemoveFinished(ctx, now.Add(-finishedAge)); err != nil {
		return fmt.Errorf("purge: %w", err)
	}
	if err := s.RemoveEntries(ctx, now.AddDate(-TrailYears, 0, 0)); err != nil {
		return fmt.Errorf("purge: %w", err)
	}
	if p.Any() {
		if err := s.Record(ctx, store.Entry{Action: "purge", Kind: roster.ClipKind}); err != nil {
			return fmt.Errorf("purge: %w", err)
		}
	}
	// Always: a process that was killed may have deleted and not scrubbed.
	return db.Scrub(ctx)
}

// removeFiles removes the files on the list of removals.
func removeFiles(ctx context.Context, s store.Store, shelf Shelf) (n int, err error) {
	keys, err := s.Removals(ctx)
	if err != nil {
		return 0, fmt.Errorf("files to remove: %w", err)
	}
	for _, key := range keys {
		if err := shelf.Remove(ctx, key); err != nil {
			return n, err
		}
		if err := s.RemovalDone(ctx, key); err != nil {
			return n, fmt.Errorf("files to remove: %w", err)
		}
		n++
	}
	return n, nil
}

// Forget deletes a runner, everything about them and their files, and leaves
// no byte of them in the database's files. Whoever is named in by stands in
// the trail. Where it is interrupted, run it or Purge again: what is left to
// do is remembered.
func Forget(ctx context.Context, db store.Database, shelf Shelf, runnerID string, by store.Who) error {
	s := db.By(by)
	if err := s.ForgetRunner(ctx, runnerID); err != nil {
		return err
	}
	if _, err := removeFiles(ctx, s, shelf); err != nil {
		return err
	}
	return db.Scrub(ctx)
}

// Withdraw takes a consent back and removes the clips and pictures that were
// kept under it, at once. Whoever is named in by stands in the trail.
func Withdraw(ctx context.Context, db store.Database, shelf Shelf, consentID string, now time.Time, by store.Who) error {
	if err := db.By(by).WithdrawConsent(ctx, consentID); err != nil {
		return err
	}
	_, err := Purge(ctx, db, shelf, now)
	return err
}
