package storetest

import (
	"testing"
	"time"

	"plumbstride/internal/form"
	"plumbstride/internal/store"
)

// messages are kept with their states, in order, and never against the
// runner's wish.
func messages(t *testing.T, r *room) {
	a, b := r.runner(t, "Ada"), r.runner(t, "Bob")
	kim := store.Who{Kind: "account", ID: "kim"}
	m := must(r.By(kim).AddMessage(r.ctx, store.Message{RunnerID: a.ID, Kind: "recheck", State: store.Queued, Recipient: "ada@example.org", Subject: "s", Body: "b", Calendar: "c", Stop: "u"}))(t)
	if m.By != kim || !m.Made.Equal(r.stamp()) || !m.Ended.IsZero() {
		t.Errorf("%+v", m)
	}
	same(t, "read again", must(r.Message(r.ctx, m.ID))(t), m)
	fails(t, "from another state", r.MoveMessage(r.ctx, m.ID, store.Leaving, store.Sent, ""), store.ErrConflict)
	r.Move(time.Second)
	ok(t, r.MoveMessage(r.ctx, m.ID, store.Queued, store.Leaving, ""))
	ok(t, r.MoveMessage(r.ctx, m.ID, store.Leaving, store.Sent, ""))
	sent := must(r.Message(r.ctx, m.ID))(t)
	if sent.State != store.Sent || !sent.Ended.Equal(r.stamp()) {
		t.Errorf("%+v", sent)
	}
	same(t, "the trail tells that it left", must(r.Entries(r.ctx, store.TrailFilter{RunnerID: a.ID}, 1))(t)[0].Action, "send")
	waits := must(r.AddMessage(r.ctx, store.Message{RunnerID: a.ID, Kind: "quiet", State: store.Queued}))(t)
	handed := must(r.AddMessage(r.ctx, store.Message{RunnerID: b.ID, Kind: "quiet", State: store.Handed}))(t)
	if handed.Ended.IsZero() {
		t.Errorf("%+v", handed)
	}
	ok(t, r.Object(r.ctx, a.ID, true))
	ok(t, r.Object(r.ctx, a.ID, true)) // again does no harm
	no := must(r.Objections(r.ctx))(t)
	if len(no) != 1 || !no[a.ID].Equal(r.stamp()) {
		t.Errorf("%+v", no)
	}
	if got := must(r.Message(r.ctx, waits.ID))(t); got.State != store.Unsent || got.Reason == "" {
		t.Errorf("what waited: %+v", got)
	}
	if _, err := r.AddMessage(r.ctx, store.Message{RunnerID: a.ID, State: store.Handed}); form.CodeOf(err) != form.CodeUsage {
		t.Errorf("against the runner's wish: %v", err)
	}
	same(t, "of Ada", len(must(r.RunnerMessages(r.ctx, a.ID))(t)), 2)
	ok(t, r.Object(r.ctx, a.ID, false))
	same(t, "nobody objects", len(must(r.Objections(r.ctx))(t)), 0)
	ok(t, r.Object(r.ctx, b.ID, true))
	ok(t, r.ForgetRunner(r.ctx, b.ID))
	same(t, "forgotten with the runner", len(must(r.Objections(r.ctx))(t)), 0)
	_, err := r.Message(r.ctx, handed.ID)
	fails(t, "forgotten with the runner", err, store.ErrNotFound)
	_, err = r.AddMessage(r.ctx, store.Message{RunnerID: "nobody", State: store.Handed})
	fails(t, "to nobody", err, store.ErrNotFound)
}
