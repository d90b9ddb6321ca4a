// Package work takes jobs from the store and gives each to the function that
// does its kind, a few at a time and in the order of coming, until it has
// ended exactly once: done, with its result written in the same transaction,
// or failed for good, with the reason. It outlives crashes, since a job whose
// worker no longer says that it is alive is begun again.
package work

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"plumbstride/internal/form"
	"plumbstride/internal/store"
)

// Kind is how one kind of job is done.
type Kind struct {
	// Do does the job. It tells how far it is as often as it likes, and gives
	// a function that writes the result: that one runs in the transaction
	// which completes the job, so that its writes are kept exactly once. Do
	// itself may run several times and writes nothing to the store. It ends
	// soon after its context does. An error is tried again later, except for
	// one that Final marks or a form.Error about the clip.
	Do func(ctx context.Context, job store.Job, tell func(store.Progress)) (write func(context.Context, store.Store) error, err error)
	// Failed writes what a job that failed for good leaves behind, in the
	// same transaction. It may be nil.
	Failed func(ctx context.Context, s store.Store, job store.Job, reason string) error
}

// Options say how a queue is run.
type Options struct {
	Kinds map[string]Kind
	// Workers is how many jobs are done at once; 1 where it is 0.
	Workers int
	// Lease is how long a worker may be silent before its job is begun anew;
	// 30 s where it is 0. It says that it is alive three times as often.
	Lease time.Duration
	// Poll is how often jobs of other processes are looked for; 1 s where it
	// is 0.
	Poll time.Duration
	// Room is an error while no job should be begun: the disk is nearly full.
	// It may be nil.
	Room func() error
	// Trouble is told what went wrong with the store itself. It may be nil.
	Trouble func(error)
}

// Queue runs jobs.
type Queue struct {
	s    store.Store
	o    Options
	wake chan struct{}

	mu       sync.Mutex
	held     error
	watchers map[chan struct{}]bool
}

// New gives a queue on a store; Run runs it.
func New(s store.Store, o Options) *Queue {
	o.Workers = max(o.Workers, 1)
	if o.Lease <= 0 {
		o.Lease = 30 * time.Second
	}
	if o.Poll <= 0 {
		o.Poll = time.Second
	}
	if o.Trouble == nil {
		o.Trouble = func(error) {}
	}
	return &Queue{s: s, o: o, wake: make(chan struct{}, 1), watchers: map[chan struct{}]bool{}}
}

// Wake lets the queue look for jobs now: call it after adding one.
func (q *Queue) Wake() {
	select {
	case q.wake <- struct{}{}:
	default:
	}
	q.changed()
}

// Held is why no job is begun just now; nil while all is well.
func (q *Queue) Held() error {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.held
}

// Watch gives a channel on which something comes soon after any change in
// the queue by this process: read the store then. Several changes may come
// as one. stop ends it.
func (q *Queue) Watch() (changes <-chan struct{}, stop func()) {
	c := make(chan struct{}, 1)
	q.mu.Lock()
	defer q.mu.Unlock()
	q.watchers[c] = true
	return c, func() {
		q.mu.Lock()
		defer q.mu.Unlock()
		delete(q.watchers, c)
	}
}

func (q *Queue) changed() {
	q.mu.Lock()
	defer q.mu.Unlock()
	for c := range q.watchers {
		select {
		case c <- struct{}{}:
		default:
		}
	}
}

// Run does jobs until the context ends; jobs that are not done then are put
// back. It returns when every worker has.
func (q *Queue) Run(ctx context.Context) {
	var all sync.WaitGroup
	for range q.o.Workers {
		all.Go(func() { q.work(ctx) })
	}
	all.Wait()
}

func (q *Queue) work(ctx context.Context) {
	timer := time.NewTimer(0)
	defer timer.Stop()
	for ctx.Err() == nil {
		if q.next(ctx) {
			continue // there may be more
		}
		timer.Reset(q.o.Poll)
		select {
		case <-ctx.Done():
		case <-q.wake:
			q.passOn()
		case <-timer.C:
		}
	}
}

// passOn wakes the next worker too: one Wake may mean several jobs.
func (q *Queue) passOn() {
	if q.o.Workers > 1 {
		jobs, err := q.s.Queue(context.Background())
		waiting := 0
		for _, j := range jobs {
			if j.State == store.JobQueued {
				waiting++
			}
		}
		if err == nil && waiting > 1 {
			select {
			case q.wake <- struct{}{}:
			default:
			}
		}
	}
}

// hold looks whether there is room, and remembers the answer.
func (q *Queue) hold() error {
	if q.o.Room == nil {
		return nil
	}
	err := q.o.Room()
	q.mu.Lock()
	before := q.held
	q.held = err
	q.mu.Unlock()
	if (before == nil) != (err == nil) {
		q.changed()
	}
	return err
}

// next does one job, and tells whether there was one.
func (q *Queue) next(ctx context.Context) bool {
	if q.hold() != nil {
		return false
	}
	var kinds []string
	for k := range q.o.Kinds {
		kinds = append(kinds, k)
	}
	job, err := q.s.ClaimJob(ctx, kinds, q.o.Lease)
	switch {
	case errors.Is(err, store.ErrNoJob), ctx.Err() != nil && err != nil:
		return false
	case err != nil:
		q.o.Trouble(fmt.Errorf("looking for a job: %w", err))
		return false
	}
	q.changed()
	defer q.changed()
	if err := q.run(ctx, job); err != nil && !errors.Is(err, store.ErrFenced) {
		// The lease runs out, and the job is begun again.
		q.o.Trouble(fmt.Errorf("job %s (%s): %w", job.ID, job.Kind, err))
	}
	return true
}

// errStopping and errLost are why a job's context ends early.
var (
	errStopping = errors.New("the program is stopping")
	errLost     = errors.New("the job went to somebody else")
)

// run does a job that was claimed and ends it.
func (q *Queue) run(ctx context.Context, job store.Job) error {
	// What ends a job is written even when the program stops.
	last := context.WithoutCancel(ctx)
	kind := q.o.Kinds[job.Kind]
	if job.Tries > job.MaxTries {
		return q.fail(last, kind, job, exhausted(job))
	}
	doing, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	p := &progress{}
	var heart sync.WaitGroup
	heart.Go(func() { q.beat(doing, job, p, cancel) })
	write, err := attempt(doing, kind, job, p)
	lost := errors.Is(context.Cause(doing), errLost)
	cancel(errStopping)
	heart.Wait()
	switch {
	case lost:
		return store.ErrFenced
	case err == nil:
		err = q.s.Within(last, func(s store.Store) error {
			if err := s.CompleteJob(last, job); err != nil || write == nil {
				return err
			}
			return write(last, s)
		})
		if err == nil || errors.Is(err, store.ErrFenced) {
			return err
		}
	case ctx.Err() != nil:
		return q.s.ReturnJob(last, job)
	}
	if final(err) || job.Tries >= job.MaxTries {
		return q.fail(last, kind, job, err.Error())
	}
	return q.s.RetryJob(last, job, err.Error(), pause(job.Tries))
}

// pause is how long a job waits before its next try: 2, 4, 8 s… up to five
// minutes.
func pause(tries int) time.Duration {
	return min(5*time.Minute, time.Second<<min(tries, 10))
}

// exhausted is the reason of a job whose worker ended every time.
func exhausted(job store.Job) string {
	reason := fmt.Sprintf("the program ended %d times while it did this", job.MaxTries)
	if job.Reason != "" {
		reason = fmt.Sprintf("given up after %d tries; the last that said why: %s", job.MaxTries, job.Reason)
	}
	return reason
}

func (q *Queue) fail(ctx context.Context, kind Kind, job store.Job, reason string) error {
	return q.s.Within(ctx, func(s store.Store) error {
		if err := s.FailJob(ctx, job, reason); err != nil || kind.Failed == nil {
			return err
		}
		return kind.Failed(ctx, s, job, reason)
	})
}

// attempt runs Do; a panic is an error like any other.
func attempt(ctx context.Context, kind Kind, job store.Job, p *progress) (write func(context.Context, store.Store) error, err error) {
	defer func() {
		if r := recover(); r != nil {
			write, err = nil, fmt.Errorf("a mistake in the program: %v", r)
		}
	}()
	return kind.Do(ctx, job, p.tell)
}

// beat says that the worker is alive and how far it is, until its context
// ends. Where the job is somebody else's, it ends the work.
func (q *Queue) beat(ctx context.Context, job store.Job, p *progress, cancel context.CancelCauseFunc) {
	every := q.o.Lease / 3
	tick := time.NewTicker(min(every, 500*time.Millisecond))
	defer tick.Stop()
	said, at := store.Progress{}, time.Now()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		now := p.get()
		if now == said && time.Since(at) < every {
			continue
		}
		err := q.s.KeepJob(ctx, job, q.o.Lease, now)
		switch {
		case err == nil:
			said, at = now, time.Now()
			q.changed()
		case errors.Is(err, store.ErrFenced):
			cancel(errLost)
			return
		case ctx.Err() == nil:
			q.o.Trouble(fmt.Errorf("job %s: %w", job.ID, err))
		}
	}
}

// progress is how far a job is, as its worker last told.
type progress struct {
	mu  sync.Mutex
	now store.Progress
}

// tell takes what the worker says. Within a stage it never goes back, and
// never beyond the whole.
func (p *progress) tell(now store.Progress) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now.Done = max(0, now.Done)
	if now.Total > 0 {
		now.Done = min(now.Done, now.Total)
	}
	if now.Stage == p.now.Stage && now.Total == p.now.Total && now.Done < p.now.Done {
		return
	}
	p.now = now
}

func (p *progress) get() store.Progress {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.now
}

// finalError is one that trying again won't help.
type finalError struct{ error }

func (e finalError) Unwrap() error { return e.error }

// Final marks an error that trying again won't help.
func Final(err error) error { return finalError{err} }

// final tells whether trying again won't help.
func final(err error) bool {
	_, marked := errors.AsType[finalError](err)
	return marked || form.CodeOf(err) == form.CodeClip
}
