package work

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"pgregory.net/rapid"

	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/store/sqlite"
)

func openStore(t testing.TB, path string) *sqlite.Database {
	t.Helper()
	db, err := sqlite.Open(context.Background(), path, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	return db
}

func newStore(t testing.TB) *sqlite.Database {
	t.Helper()
	return openStore(t, filepath.Join(t.TempDir(), "plumbstride.db"))
}

func add(t fataler, s store.Store, kind string, tries int) store.Job {
	t.Helper()
	j, err := s.AddJob(context.Background(), store.Job{Kind: kind, MaxTries: tries})
	if err != nil {
		t.Fatal(err)
	}
	return j
}

type fataler interface {
	Helper()
	Fatal(args ...any)
}

// runUntil runs the queue until the condition holds, which it must within a
// time that no machine exceeds.
func runUntil(t *testing.T, q *Queue, done func() bool) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	var ended sync.WaitGroup
	ended.Go(func() { q.Run(ctx) })
	deadline := time.Now().Add(time.Minute)
	for !done() {
		if time.Now().After(deadline) {
			t.Fatal("it never came to that")
		}
		time.Sleep(5 * time.Millisecond)
	}
	cancel()
	ended.Wait()
}

func jobOf(t testing.TB, s store.Store, id string) store.Job {
	t.Helper()
	j, err := s.Job(context.Background(), id)
	if err != nil {
		t.Fatal(err)
	}
	return j
}

// settled tells whether nothing waits or runs.
func settled(t testing.TB, s store.Store) func() bool {
	return func() bool {
		jobs, err := s.Queue(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		return len(jobs) == 0
	}
}

// writes gives a Do that writes one note-like setting per job.
func note(word string) func(context.Context, store.Store) error {
	return func(ctx context.Context, s store.Store) error {
		_, err := s.AddRunner(ctx, roster.Runner{Name: word})
		return err
	}
}

func names(t testing.TB, s store.Store) map[string]int {
	t.Helper()
	all, err := s.Runners(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	n := map[string]int{}
	for _, r := range all {
		n[r.Name]++
	}
	return n
}

func TestInOrderWithResults(t *testing.T) {
	s := newStore(t)
	var order []string
	q := New(s, Options{Kinds: map[string]Kind{"measure": {Do: func(_ context.Context, j store.Job, _ func(store.Progress)) (func(context.Context, store.Store) error, error) {
		order = append(order, j.ID)
		return note(j.ID), nil
	}}}})
	var want []string
	for range 5 {
		want = append(want, add(t, s, "measure", 3).ID)
	}
	other := add(t, s, "of another process", 3)
	runUntil(t, q, func() bool { return jobOf(t, s, want[4]).State == store.JobDone })
	if strings.Join(order, " ") != strings.Join(want, " ") {
		t.Errorf("done in the order %v, want %v", order, want)
	}
	if got := names(t, s); len(got) != 5 {
		t.Errorf("%v", got)
	}
	if j := jobOf(t, s, other.ID); j.State != store.JobQueued || j.Tries != 0 {
		t.Errorf("%+v", j)
	}
}

// TestPoison: a job that can't be done fails after its tries with the reason
// and holds up nobody; one that never will be isn't tried again.
func TestPoison(t *testing.T) {
	s := newStore(t)
	var mu sync.Mutex
	failed := map[string]string{}
	kind := func(do func(store.Job) error) Kind {
		return Kind{
			Do: func(_ context.Context, j store.Job, _ func(store.Progress)) (func(context.Context, store.Store) error, error) {
				return note("done " + j.Kind), do(j)
			},
			Failed: func(ctx context.Context, s store.Store, j store.Job, reason string) error {
				mu.Lock()
				defer mu.Unlock()
				failed[j.Kind] = reason
				return note("failed "+j.Kind)(ctx, s)
			},
		}
	}
	q := New(s, Options{Poll: 10 * time.Millisecond, Kinds: map[string]Kind{
		"broken": kind(func(store.Job) error { return errors.New("no such codec") }),
		"panics": kind(func(store.Job) error { panic("index out of range") }),
		"clip":   kind(func(store.Job) error { return form.ClipError("it is too dark; film with more light") }),
		"final":  kind(func(store.Job) error { return fmt.Errorf("wrapped: %w", Final(errors.New("never"))) }),
		"good":   kind(func(store.Job) error { return nil }),
	}})
	jobs := map[string]store.Job{}
	for _, k := range []string{"broken", "panics", "clip", "final", "good"} {
		jobs[k] = add(t, s, k, 2)
	}
	runUntil(t, q, settled(t, s))
	for kind, want := range map[string]struct {
		state store.JobState
		tries int
		says  string
	}{
		"broken": {store.JobFailed, 2, "no such codec"}, "panics": {store.JobFailed, 2, "mistake in the program: index out of range"},
		"clip": {store.JobFailed, 1, "too dark"}, "final": {store.JobFailed, 1, "never"}, "good": {store.JobDone, 1, ""},
	} {
		j := jobOf(t, s, jobs[kind].ID)
		if j.State != want.state || j.Tries != want.tries || !strings.Contains(j.Reason, want.says) || !strings.Contains(failed[kind], want.says) {
			t.Errorf("%s: %+v; told %q", kind, j, failed[kind])
		}
	}
	got := names(t, s)
	for _, word := range []string{"failed broken", "failed panics", "failed clip", "failed final", "done good"} {
		if got[word] != 1 {
			t.Errorf("%q was written %d times", word, got[word])
		}
	}
	if len(got) != 5 {
		t.Errorf("%v", got)
	}
	good, broken := jobOf(t, s, jobs["good"].ID), jobOf(t, s, jobs["broken"].ID)
	if !good.Finished.Before(broken.Finished) {
		t.Error("the good job waited for the poisoned one")
	}
}

// TestResultNotWritten: where the result can't be written the job isn't done.
func TestResultNotWritten(t *testing.T) {
	s := newStore(t)
	var times atomic.Int32
	q := New(s, Options{Poll: 10 * time.Millisecond, Kinds: map[string]Kind{"measure": {Do: func(context.Context, store.Job, func(store.Progress)) (func(context.Context, store.Store) error, error) {
		return func(ctx context.Context, s store.Store) error {
			if err := note("once")(ctx, s); err != nil {
				return err
			}
			if times.Add(1) == 1 {
				return errors.New("the store was busy")
			}
			return nil
		}, nil
	}}}})
	j := add(t, s, "measure", 3)
	runUntil(t, q, settled(t, s))
	if j := jobOf(t, s, j.ID); j.State != store.JobDone || j.Tries != 2 {
		t.Errorf("%+v", j)
	}
	if n := names(t, s)["once"]; n != 1 {
		t.Errorf("written %d times", n)
	}
}

// TestStopping: a job in hand is put back, and the try does not count.
func TestStopping(t *testing.T) {
	s := newStore(t)
	begun := make(chan struct{})
	q := New(s, Options{Kinds: map[string]Kind{"measure": {Do: func(ctx context.Context, _ store.Job, _ func(store.Progress)) (func(context.Context, store.Store) error, error) {
		close(begun)
		<-ctx.Done()
		return nil, ctx.Err()
	}}}})
	j := add(t, s, "measure", 1)
	runUntil(t, q, func() bool {
		select {
		case <-begun:
			return true
		default:
			return false
		}
	})
	if j := jobOf(t, s, j.ID); j.State != store.JobQueued || j.Tries != 0 {
		t.Errorf("%+v", j)
	}
}

// TestTakenAway: a worker whose job is gone stops, and leaves nothing.
func TestTakenAway(t *testing.T) {
	s := newStore(t)
	r, err := s.AddRunner(t.Context(), roster.Runner{Name: "Ada"})
	if err != nil {
		t.Fatal(err)
	}
	c, err := s.AddCheck(t.Context(), store.Check{RunnerID: r.ID, Kind: store.Running})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.AddJob(t.Context(), store.Job{Kind: "measure", CheckID: c.ID, MaxTries: 3}); err != nil {
		t.Fatal(err)
	}
	var stopped atomic.Bool
	q := New(s, Options{Lease: 300 * time.Millisecond, Kinds: map[string]Kind{"measure": {Do: func(ctx context.Context, _ store.Job, _ func(store.Progress)) (func(context.Context, store.Store) error, error) {
		if err := s.ForgetRunner(context.Background(), r.ID); err != nil {
			t.Error(err)
		}
		<-ctx.Done()
		stopped.Store(true)
		return note("too late"), nil
	}}}, Trouble: func(err error) { t.Error(err) }})
	runUntil(t, q, stopped.Load)
	if got := names(t, s); len(got) != 0 {
		t.Errorf("%v", got)
	}
}

func TestProgress(t *testing.T) {
	s := newStore(t)
	var p progress
	for _, step := range []struct{ say, want store.Progress }{
		{store.Progress{Stage: "reading", Done: 5, Total: 10}, store.Progress{Stage: "reading", Done: 5, Total: 10}},
		{store.Progress{Stage: "reading", Done: 3, Total: 10}, store.Progress{Stage: "reading", Done: 5, Total: 10}},
		{store.Progress{Stage: "reading", Done: 30, Total: 10}, store.Progress{Stage: "reading", Done: 10, Total: 10}},
		{store.Progress{Stage: "measuring", Done: -1}, store.Progress{Stage: "measuring"}},
	} {
		p.tell(step.say)
		if got := p.get(); got != step.want {
			t.Errorf("%+v, want %+v", got, step.want)
		}
	}
	if share, ok := (store.Progress{Done: 1, Total: 4}).Share(); share != 0.25 || !ok {
		t.Error(share, ok)
	}
	if _, ok := (store.Progress{Done: 1}).Share(); ok {
		t.Error("a share of nobody knows how much")
	}
	seen := make(chan struct{})
	q := New(s, Options{Kinds: map[string]Kind{"measure": {Do: func(_ context.Context, _ store.Job, tell func(store.Progress)) (func(context.Context, store.Store) error, error) {
		tell(store.Progress{Stage: "reading", Done: 3, Total: 10})
		<-seen
		return nil, nil
	}}}})
	changes, stop := q.Watch()
	defer stop()
	j := add(t, s, "measure", 1)
	q.Wake()
	runUntil(t, q, func() bool {
		<-changes
		if jobOf(t, s, j.ID).Progress.Done == 3 {
			close(seen)
			return true
		}
		return false
	})
}

// TestBackPressure: while the disk is nearly full no job is begun.
func TestBackPressure(t *testing.T) {
	s := newStore(t)
	var full atomic.Bool
	full.Store(true)
	var begun atomic.Int32
	room := func() error {
		if full.Load() {
			return form.MissingError("the disk is nearly full")
		}
		return nil
	}
	q := New(s, Options{Room: room, Poll: 5 * time.Millisecond, Kinds: map[string]Kind{"measure": {Do: func(context.Context, store.Job, func(store.Progress)) (func(context.Context, store.Store) error, error) {
		begun.Add(1)
		return nil, nil
	}}}})
	j := add(t, s, "measure", 1)
	runUntil(t, q, func() bool { return q.Held() != nil })
	if j := jobOf(t, s, j.ID); begun.Load() != 0 || j.State != store.JobQueued || j.Tries != 0 {
		t.Errorf("%+v", j)
	}
	full.Store(false)
	runUntil(t, q, settled(t, s))
	if q.Held() != nil || begun.Load() != 1 {
		t.Errorf("%v, %d", q.Held(), begun.Load())
	}
}

// TestExactlyOnce: over any mix of jobs that succeed, fail, panic or lose
// their lease, with several queues at once, each ends once: with its result,
// or with its failure.
func TestExactlyOnce(t *testing.T) {
	s := newStore(t)
	rapid.Check(t, func(rt *rapid.T) {
		fates := map[string][]string{}
		for range rapid.IntRange(1, 6).Draw(rt, "jobs") {
			fate := rapid.SliceOfN(rapid.SampledFrom([]string{"done", "error", "panic", "stall", "final"}), 3, 3).Draw(rt, "fate")
			fates[add(rt, s, "measure", 3).ID] = fate
		}
		kind := Kind{
			Do: func(ctx context.Context, j store.Job, _ func(store.Progress)) (func(context.Context, store.Store) error, error) {
				switch fates[j.ID][j.Tries-1] {
				case "error":
					return nil, errors.New("hiccup")
				case "panic":
					panic("hiccup")
				case "final":
					return nil, Final(errors.New("hiccup"))
				case "stall": // another takes the job while this one goes on
					if _, err := s.ClaimJob(ctx, []string{"none"}, 0); !errors.Is(err, store.ErrNoJob) {
						return nil, err
					}
					expire(rt, s, j)
				}
				return note("end " + j.ID), nil
			},
			Failed: func(ctx context.Context, s store.Store, j store.Job, _ string) error {
				return note("end "+j.ID)(ctx, s)
			},
		}
		ctx, cancel := context.WithCancel(context.Background())
		var all sync.WaitGroup
		for range 2 {
			q := New(quick{s}, Options{Kinds: map[string]Kind{"measure": kind}, Workers: 2, Poll: time.Millisecond, Lease: time.Minute})
			all.Go(func() { q.Run(ctx) })
		}
		for deadline := time.Now().Add(time.Minute); !settled(t, s)(); time.Sleep(time.Millisecond) {
			if time.Now().After(deadline) {
				rt.Fatal("it never came to an end")
			}
		}
		cancel()
		all.Wait()
		got := names(t, s)
		for id, fate := range fates {
			if got["end "+id] != 1 {
				rt.Errorf("job %s with the fate %v ended %d times", id, fate, got["end "+id])
			}
		}
	})
}

// quick is a store whose jobs needn't wait before they are tried again.
type quick struct{ store.Store }

func (q quick) RetryJob(ctx context.Context, j store.Job, reason string, _ time.Duration) error {
	return q.Store.RetryJob(ctx, j, reason, 0)
}

// expire lets a job's lease be over.
func expire(t fataler, s store.Store, j store.Job) {
	if err := s.KeepJob(context.Background(), j, -time.Second, store.Progress{}); err != nil && !errors.Is(err, store.ErrFenced) {
		t.Fatal(err)
	}
	time.Sleep(2 * time.Millisecond) // for the others to see it; either outcome is allowed
}
