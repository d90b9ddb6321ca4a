package tables

import (
	"context"
	"time"

	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

const messageColumns = "id, runner_id, kind, state, recipient, subject, body, calendar, stop, reason, who_kind, who_id, made_us, ended_us"

func readMessage(scan scanner) (m store.Message, err error) {
	return m, scan(&m.ID, &m.RunnerID, &m.Kind, &m.State, &m.Recipient, &m.Subject, &m.Body, &m.Calendar, &m.Stop, &m.Reason,
		&m.By.Kind, &m.By.ID, when{&m.Made}, when{&m.Ended})
}

// AddMessage adds a message, unless the runner wants none.
func (t *Tables) AddMessage(ctx context.Context, m store.Message) (store.Message, error) {
	if m.State != store.Handed && m.State != store.Queued {
		panic("tables: a message that begins as " + string(m.State))
	}
	m.ID, m.Made, m.Ended, m.Reason, m.By = newID(), t.now(), time.Time{}, "", t.who
	if m.State == store.Handed {
		m.Ended = m.Made
	}
	return m, t.change(ctx, func(t *Tables) (e store.Entry, err error) {
		no, err := t.Objections(ctx)
		if err != nil {
			return e, err
		}
		if _, ok := no[m.RunnerID]; ok {
			return e, form.UsageError("this runner wants no messages; nothing was written")
		}
		_, err = t.exec(ctx, "INSERT INTO messages ("+messageColumns+") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
			m.ID, m.RunnerID, m.Kind, string(m.State), m.Recipient, m.Subject, m.Body, m.Calendar, m.Stop, m.Reason, m.By.Kind, m.By.ID, micro(m.Made), micro(m.Ended))
		return entry(roster.Add, roster.MessageKind, m.ID, m.RunnerID), err
	})
}

// Message gives a message.
func (t *Tables) Message(ctx context.Context, id string) (store.Message, error) {
	return only(ctx, t, readMessage, "SELECT "+messageColumns+" FROM messages WHERE id = ?", id)
}

// RunnerMessages lists a runner's messages, the earliest first.
func (t *Tables) RunnerMessages(ctx context.Context, runnerID string) ([]store.Message, error) {
	return list(ctx, t, readMessage, "SELECT "+messageColumns+" FROM messages WHERE runner_id = ? ORDER BY made_us, id", runnerID)
}

// MoveMessage takes a message from one state to another.
func (t *Tables) MoveMessage(ctx context.Context, id string, from, to store.MessageState, reason string) error {
	return t.change(ctx, func(t *Tables) (e store.Entry, err error) {
		m, err := t.Message(ctx, id)
		if err != nil {
			return e, err
		}
		if m.State != from {
			return e, store.ErrConflict
		}
		ended := int64(0)
		if to == store.Sent || to == store.Unsent || to == store.Handed {
			ended = micro(t.now())
		}
		if err := t.execOne(ctx, "UPDATE messages SET state = ?, reason = ?, ended_us = ? WHERE id = ?", string(to), reason, ended, id); err != nil {
			return e, err
		}
		if to != store.Sent {
			return e, nil
		}
		return entry("send", roster.MessageKind, id, m.RunnerID), nil
	})
}

// stoppedMessages is why a message did not leave whose runner wants none.
const stoppedMessages = "The runner wants no messages."

// Object records whether a runner wants messages.
func (t *Tables) Object(ctx context.Context, runnerID string, objects bool) error {
	return t.change(ctx, func(t *Tables) (e store.Entry, err error) {
		e = entry(roster.Change, roster.MessageKind, runnerID, runnerID)
		if !objects {
			_, err = t.exec(ctx, "DELETE FROM objections WHERE runner_id = ?", runnerID)
			return e, err
		}
		if _, err := t.exec(ctx, "INSERT INTO objections (runner_id, since_us) VALUES (?, ?) ON CONFLICT DO NOTHING", runnerID, micro(t.now())); err != nil {
			return e, err
		}
		_, err = t.exec(ctx, "UPDATE messages SET state = ?, reason = ?, ended_us = ? WHERE runner_id = ? AND state = ?",
			string(store.Unsent), stoppedMessages, micro(t.now()), runnerID, string(store.Queued))
		return e, err
	})
}

// Objections gives who wants no messages.
func (t *Tables) Objections(ctx context.Context) (map[string]time.Time, error) {
	type one struct {
		id string
		at time.Time
	}
	all, err := list(ctx, t, func(scan scanner) (o one, err error) { return o, scan(&o.id, when{&o.at}) }, "SELECT runner_id, since_us FROM objections")
	out := map[string]time.Time{}
	for _, o := range all {
		out[o.id] = o.at
	}
	return out, err
}
