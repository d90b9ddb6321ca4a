package storetest

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"plumbstride/internal/store"
)

var kinds = []string{"measure"}

const lease = time.Minute

func (r *room) job(t *testing.T, payload string) store.Job {
	t.Helper()
	return must(r.AddJob(r.ctx, store.Job{Kind: "measure", MaxTries: 3, Payload: json.RawMessage(payload)}))(t)
}

func (r *room) claim(t *testing.T) store.Job {
	t.Helper()
	return must(r.ClaimJob(r.ctx, kinds, lease))(t)
}

func jobs(t *testing.T, r *room) {
	one, two := r.job(t, `1`), r.job(t, `2`)
	_, err := r.ClaimJob(r.ctx, []string{"sweep"}, lease)
	fails(t, "of another kind", err, store.ErrNoJob)
	_, err = r.ClaimJob(r.ctx, nil, lease)
	fails(t, "of no kind", err, store.ErrNoJob)
	mine := r.claim(t)
	if mine.ID != one.ID || mine.Tries != 1 || mine.State != store.JobRunning || !mine.Lease.Equal(r.stamp().Add(lease)) || string(mine.Payload) != "1" {
		t.Errorf("%+v", mine)
	}
	ok(t, r.KeepJob(r.ctx, mine, lease, store.Progress{Stage: "reading", Done: 3, Total: 10}))
	queue := must(r.Queue(r.ctx))(t)
	if len(queue) != 2 || queue[0].Progress != (store.Progress{Stage: "reading", Done: 3, Total: 10}) || queue[1].ID != two.ID {
		t.Errorf("%+v", queue)
	}
	r.Move(lease)
	again := r.claim(t)
	if again.ID != one.ID || again.Tries != 2 || again.Progress.Done != 0 {
		t.Errorf("the lease is over: %+v", again)
	}
	for what, err := range map[string]error{
		"keep": r.KeepJob(r.ctx, mine, lease, store.Progress{}), "complete": r.CompleteJob(r.ctx, mine), "fail": r.FailJob(r.ctx, mine, "x"),
		"retry": r.RetryJob(r.ctx, mine, "x", 0), "return": r.ReturnJob(r.ctx, mine),
	} {
		fails(t, "fenced off: "+what, err, store.ErrFenced)
	}
	ok(t, r.RetryJob(r.ctx, again, "hiccup", time.Hour))
	if next := r.claim(t); next.ID != two.ID {
		t.Error("a job that waits for later holds up the next")
	} else {
		ok(t, r.ReturnJob(r.ctx, next))
		same(t, "a returned try does not count", must(r.Job(r.ctx, two.ID))(t).Tries, 0)
		ok(t, r.CompleteJob(r.ctx, r.claim(t)))
	}
	_, err = r.ClaimJob(r.ctx, kinds, lease)
	fails(t, "later is not now", err, store.ErrNoJob)
	r.Move(time.Hour)
	last := r.claim(t)
	if last.ID != one.ID || last.Tries != 3 || last.Reason != "hiccup" {
		t.Errorf("%+v", last)
	}
	ok(t, r.FailJob(r.ctx, last, "for good"))
	fails(t, "ended twice", r.CompleteJob(r.ctx, last), store.ErrFenced)
	failed := must(r.Job(r.ctx, one.ID))(t)
	if failed.State != store.JobFailed || failed.Reason != "for good" || !failed.Finished.Equal(r.stamp()) {
		t.Errorf("%+v", failed)
	}
	same(t, "nothing waits", len(must(r.Queue(r.ctx))(t)), 0)
	ok(t, r.RemoveFinished(r.ctx, r.Now().Add(-time.Minute)))
	_, err = r.Job(r.ctx, two.ID)
	fails(t, "ended long ago", err, store.ErrNotFound)
	_ = must(r.Job(r.ctx, one.ID))(t)
}

// jobsOfRemovedCheck: with its check a job goes, and its worker is told.
func jobsOfRemovedCheck(t *testing.T, r *room) {
	a := r.runner(t, "Ada")
	c := r.check(t, a.ID, "")
	j := must(r.AddJob(r.ctx, store.Job{Kind: "measure", CheckID: c.ID, MaxTries: 1}))(t)
	same(t, "a check's", must(r.CheckJobs(r.ctx, c.ID))(t), []store.Job{must(r.Job(r.ctx, j.ID))(t)})
	mine := r.claim(t)
	ok(t, r.RemoveCheck(r.ctx, c.ID))
	fails(t, "the worker is told", r.KeepJob(r.ctx, mine, lease, store.Progress{}), store.ErrFenced)
	err := r.Within(r.ctx, func(s store.Store) error {
		if err := s.CompleteJob(r.ctx, mine); err != nil {
			return err
		}
		_, err := s.Measured(r.ctx, c.ID, card(t, ""))
		return err
	})
	fails(t, "and leaves no result", err, store.ErrFenced)
}

// claimsAlone: however many ask at once, each job is given to one.
func claimsAlone(t *testing.T, r *room) {
	const workers, n = 6, 30
	for i := range n {
		r.job(t, fmt.Sprint(i))
	}
	var mu sync.Mutex
	got := map[string]int{}
	var all sync.WaitGroup
	for range workers {
		all.Go(func() {
			for {
				j, err := r.ClaimJob(r.ctx, kinds, lease)
				if errors.Is(err, store.ErrNoJob) {
					return
				}
				if err != nil {
					t.Error(err)
					return
				}
				mu.Lock()
				got[j.ID]++
				mu.Unlock()
				if err := r.CompleteJob(r.ctx, j); err != nil {
					t.Error(err)
				}
			}
		})
	}
	all.Wait()
	if len(got) != n {
		t.Errorf("%d of %d jobs were given", len(got), n)
	}
	for id, times := range got {
		if times != 1 {
			t.Errorf("job %s was given %d times", id, times)
		}
	}
}

// model is the queue as it ought to be.
type model struct {
	jobs []*store.Job
}

// next is the job that ought to be claimed.
func (m *model) next(now time.Time) *store.Job {
	for _, j := range m.jobs {
		if j.State == store.JobQueued && !j.After.After(now) || j.State == store.JobRunning && !j.Lease.After(now) {
			return j
		}
	}
	return nil
}

// Queue holds the queue of a store to a model, over any sequence of adding,
// claiming, keeping, ending in any way by rightful and by former holders,
// and time that passes.
func Queue(t *testing.T, open Open) {
	clock := NewClock(time.Date(2026, 3, 3, 18, 0, 0, 0, time.UTC))
	r := &room{Database: open(t, clock.Now), Clock: clock, ctx: t.Context()}
	rapid.Check(t, func(t *rapid.T) {
		for _, j := range must(r.Queue(r.ctx))(t) { // what an earlier run left
			r.Move(time.Hour)
			claimed := must(r.ClaimJob(r.ctx, kinds, lease))(t)
			if err := r.CompleteJob(r.ctx, claimed); err != nil {
				t.Fatal(j.ID, err)
			}
		}
		m := &model{}
		var holders []store.Job // everybody who ever held a job
		t.Repeat(map[string]func(*rapid.T){
			"add":   func(t *rapid.T) { m.add(t, r) },
			"claim": func(t *rapid.T) { holders = append(holders, m.claim(t, r)...) },
			"move":  func(t *rapid.T) { r.Move(time.Duration(rapid.IntRange(1, 90).Draw(t, "seconds")) * time.Second) },
			"end": func(t *rapid.T) {
				if len(holders) > 0 {
					m.end(t, r, rapid.SampledFrom(holders).Draw(t, "holder"))
				}
			},
			"": func(t *rapid.T) { m.compare(t, r) },
		})
	})
}

func (m *model) add(t *rapid.T, r *room) {
	j := must(r.AddJob(r.ctx, store.Job{Kind: "measure", MaxTries: 2}))(t)
	m.jobs = append(m.jobs, &j)
}

func (m *model) claim(t *rapid.T, r *room) []store.Job {
	want := m.next(r.Now())
	got, err := r.ClaimJob(r.ctx, kinds, lease)
	if want == nil {
		if !errors.Is(err, store.ErrNoJob) {
			t.Fatalf("nothing waits, but %+v came (%v)", got, err)
		}
		return nil
	}
	if err != nil || got.ID != want.ID {
		t.Fatalf("%s was next, not %s (%v)", want.ID, got.ID, err)
	}
	want.State, want.Token, want.Tries, want.Lease = store.JobRunning, want.Token+1, want.Tries+1, r.Now().Add(lease)
	if got.Token != want.Token || got.Tries != want.Tries {
		t.Fatalf("token %d, try %d; want %d, %d", got.Token, got.Tries, want.Token, want.Tries)
	}
	return []store.Job{got}
}

// end lets a holder, rightful or not, say one of the words.
func (m *model) end(t *rapid.T, r *room, by store.Job) {
	at := slices.IndexFunc(m.jobs, func(j *store.Job) bool { return j.ID == by.ID })
	j := m.jobs[at]
	rightful := j.Token == by.Token && j.State == store.JobRunning
	var err error
	var then store.Job
	switch rapid.SampledFrom([]string{"keep", "complete", "retry", "return", "fail"}).Draw(t, "word") {
	case "keep":
		err, then = r.KeepJob(r.ctx, by, lease, store.Progress{}), store.Job{State: store.JobRunning, Lease: r.Now().Add(lease), Tries: j.Tries}
	case "complete":
		err, then = r.CompleteJob(r.ctx, by), store.Job{State: store.JobDone, Tries: j.Tries}
	case "retry":
		err, then = r.RetryJob(r.ctx, by, "again", lease/2), store.Job{State: store.JobQueued, After: r.Now().Add(lease / 2), Tries: j.Tries}
	case "return":
		err, then = r.ReturnJob(r.ctx, by), store.Job{State: store.JobQueued, Tries: j.Tries - 1}
	case "fail":
		err, then = r.FailJob(r.ctx, by, "no"), store.Job{State: store.JobFailed, Tries: j.Tries}
	}
	if rightful != (err == nil) || !rightful && !errors.Is(err, store.ErrFenced) {
		t.Fatalf("rightful: %t, but %v", rightful, err)
	}
	if rightful {
		j.State, j.Lease, j.After, j.Tries = then.State, then.Lease, then.After, then.Tries
	}
}

func (m *model) compare(t *rapid.T, r *room) {
	for _, want := range m.jobs {
		got := must(r.Job(r.ctx, want.ID))(t)
		if got.State != want.State || got.Tries != want.Tries || got.Token != want.Token {
			t.Fatalf("%+v, want %+v", got, want)
		}
	}
}
