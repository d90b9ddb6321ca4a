package outbox

import (
	"context"
	"errors"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"plumbstride/internal/form"
	"plumbstride/internal/post"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/store/sqlite"
	"plumbstride/internal/work"
)

// waiting is a store with a runner and a message that waits with its job.
func waiting(t *testing.T, now func() time.Time) (db *sqlite.Database, m store.Message) {
	t.Helper()
	db, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "a.db"), now)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	r, err := db.AddRunner(t.Context(), roster.Runner{Name: "Ada"})
	if err != nil {
		t.Fatal(err)
	}
	m, err = db.AddMessage(t.Context(), store.Message{RunnerID: r.ID, State: store.Queued, Recipient: "ada@example.org", Subject: "s", Body: "b"})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.AddJob(t.Context(), Job(m.ID)); err != nil {
		t.Fatal(err)
	}
	return db, m
}

// run runs the queue until the job has ended.
func run(t *testing.T, db *sqlite.Database, send func(context.Context, post.Letter) error) {
	t.Helper()
	ctx, stop := context.WithTimeout(t.Context(), time.Minute)
	defer stop()
	q := work.New(db, work.Options{Kinds: map[string]work.Kind{JobKind: Kind(db, send)}, Poll: 2 * time.Millisecond, Lease: time.Hour, Trouble: func(err error) { t.Error(err) }})
	changes, end := q.Watch()
	defer end()
	var all sync.WaitGroup
	all.Go(func() { q.Run(ctx) })
	defer all.Wait()
	defer stop()
	for {
		jobs, err := db.Queue(ctx)
		if err != nil {
			t.Fatal(err)
		}
		if len(jobs) == 0 {
			return
		}
		select {
		case <-changes:
		case <-ctx.Done():
			t.Fatal("the job never ends")
		}
	}
}

// TestKind: a message leaves once, or is said to have failed, with the
// reason.
func TestKind(t *testing.T) {
	for name, c := range map[string]struct {
		answers []error // of the server, one a try
		before  func(*testing.T, *sqlite.Database, store.Message)
		state   store.MessageState
		reason  string
		tries   int
	}{
		"sent":         {[]error{nil}, nil, store.Sent, "", 1},
		"sent later":   {[]error{post.ErrLater, nil}, nil, store.Sent, "", 2},
		"refused":      {[]error{form.UsageError("no such mailbox")}, nil, store.Unsent, "no such mailbox", 1},
		"nobody knows": {[]error{post.ErrUnsure}, nil, store.Unsent, "nobody knows", 1},
		"stopped before": {nil, func(t *testing.T, db *sqlite.Database, m store.Message) {
			ok(t, db.Object(t.Context(), m.RunnerID, true))
		}, store.Unsent, "wants no messages", 0},
		"killed between": {nil, func(t *testing.T, db *sqlite.Database, m store.Message) {
			ok(t, db.MoveMessage(t.Context(), m.ID, store.Queued, store.Leaving, ""))
		}, store.Unsent, "nobody knows", 0},
	} {
		db, m := waiting(t, time.Now)
		if c.before != nil {
			c.before(t, db, m)
		}
		tries := 0
		run(t, db, func(_ context.Context, l post.Letter) error {
			if l.ID != m.ID || l.To != m.Recipient {
				t.Errorf("%s: %+v", name, l)
			}
			tries++
			if tries > len(c.answers) {
				return errors.New("it is sent once too often")
			}
			return c.answers[tries-1]
		})
		got, err := db.Message(t.Context(), m.ID)
		if err != nil || got.State != c.state || !strings.Contains(got.Reason, c.reason) || tries != c.tries {
			t.Errorf("%s: %d tries, %+v, %v", name, tries, got, err)
		}
	}
}

// TestKindGivesUp: what a server can't take is tried for a quarter of an hour,
// as decision 34 says, by a clock that goes on two seconds whenever it is asked.
func TestKindGivesUp(t *testing.T) {
	var asked atomic.Int64
	start := time.Date(2026, 3, 2, 19, 0, 0, 0, time.UTC)
	passed := func() time.Duration { return time.Duration(asked.Load()) * 2 * time.Second }
	db, m := waiting(t, func() time.Time { asked.Add(1); return start.Add(passed()) })
	var first, last time.Duration
	run(t, db, func(context.Context, post.Letter) error {
		if last = passed(); first == 0 {
			first = last
		}
		return post.ErrLater
	})
	got, err := db.Message(t.Context(), m.ID)
	if err != nil || got.State != store.Unsent {
		t.Errorf("%+v, %v", got, err)
	}
	if d := last - first; d < 13*time.Minute || d > 17*time.Minute {
		t.Errorf("it was tried for %s", d)
	}
}

func ok(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// TestKindForgotten: a message of somebody who was forgotten goes nowhere.
func TestKindForgotten(t *testing.T) {
	db, m := waiting(t, time.Now)
	ok(t, db.ForgetRunner(t.Context(), m.RunnerID))
	run(t, db, func(context.Context, post.Letter) error { t.Error("it was sent"); return nil })
}
