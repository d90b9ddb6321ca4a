// Package outbox takes a message that waits in the store and gives it to what
// sends messages: it is what the queue does with one. Afterwards the message
// says that it left, or why not.
package outbox

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"plumbstride/internal/post"
	"plumbstride/internal/store"
	"plumbstride/internal/work"
)

// JobKind names the jobs that Kind does.
const JobKind = "send"

// tries is how often a message is handed over that the server can't take: at
// package work's pauses, of 2 s to 5 min, about a quarter of an hour in all.
const tries = 10

// Job is the job that sends a message: add it in the transaction that adds
// the message.
func Job(messageID string) store.Job {
	payload, err := json.Marshal(map[string]string{"message": messageID})
	if err != nil {
		panic("outbox: " + err.Error())
	}
	return store.Job{Kind: JobKind, Payload: payload, MaxTries: tries}
}

// messageOf is the message that a job is about.
func messageOf(job store.Job) (id string, err error) {
	var p struct{ Message string }
	if err := json.Unmarshal(job.Payload, &p); err != nil {
		return "", work.Final(fmt.Errorf("a job without its message: %w", err))
	}
	return p.Message, nil
}

// Kind sends messages. No mail server can take a message and a database a
// record in one step, so a message is marked before it is handed over: where
// the program ends between the two, it is not sent again, and is said to be
// unsure. So it leaves once at the most.
func Kind(s store.Store, send func(context.Context, post.Letter) error) work.Kind {
	return work.Kind{
		Do: func(ctx context.Context, job store.Job, _ func(store.Progress)) (func(context.Context, store.Store) error, error) {
			id, err := messageOf(job)
			if err != nil {
				return nil, err
			}
			return handOver(ctx, s, id, send)
		},
		Failed: func(ctx context.Context, s store.Store, job store.Job, reason string) error {
			id, err := messageOf(job)
			if err != nil {
				return nil //nolint:nilerr // there is no message to say it on
			}
			for _, from := range []store.MessageState{store.Queued, store.Leaving} {
				err := s.MoveMessage(ctx, id, from, store.Unsent, reason)
				if errors.Is(err, store.ErrNotFound) || err == nil {
					return nil
				}
				if !errors.Is(err, store.ErrConflict) {
					return err
				}
			}
			return nil
		},
	}
}

// handOver sends one message and gives what records it.
func handOver(ctx context.Context, s store.Store, id string, send func(context.Context, post.Letter) error) (func(context.Context, store.Store) error, error) {
	m, err := s.Message(ctx, id)
	switch {
	case errors.Is(err, store.ErrNotFound):
		return nil, nil // its runner was forgotten
	case err != nil:
		return nil, err
	case m.State == store.Leaving:
		return nil, work.Final(post.ErrUnsure)
	case m.State != store.Queued:
		return nil, nil // the runner stopped messages meanwhile
	}
	if err := s.MoveMessage(ctx, id, store.Queued, store.Leaving, ""); err != nil {
		return nil, err
	}
	method := "PUBLISH"
	if strings.Contains(m.Calendar, "METHOD:REQUEST") {
		method = "REQUEST"
	}
	err = send(ctx, post.Letter{ID: m.ID, To: m.Recipient, Subject: m.Subject, Body: m.Body, Calendar: m.Calendar, Method: method, Stop: m.Stop})
	switch {
	case err == nil:
		return func(ctx context.Context, s store.Store) error {
			return s.MoveMessage(ctx, id, store.Leaving, store.Sent, "")
		}, nil
	case errors.Is(err, post.ErrLater):
		return nil, errors.Join(err, s.MoveMessage(context.WithoutCancel(ctx), id, store.Leaving, store.Queued, ""))
	default:
		return nil, work.Final(err)
	}
}
