package storetest

import (
	"encoding/json"
	"testing"
	"time"

	"plumbstride/internal/store"
)

// activity is what is kept of an invented recording.
func activity(runnerID, digest string, start time.Time) store.Activity {
	return store.Activity{RunnerID: runnerID, Digest: digest, Start: start, Run: json.RawMessage(`{"kind":"running"}`)}
}

func activities(t *testing.T, r *room) {
	a, b := r.runner(t, "Ada"), r.runner(t, "Bea")
	kim := store.Who{Kind: "account", ID: "kim"}
	late := must(r.By(kim).AddActivity(r.ctx, activity(a.ID, "d1", r.Now())))(t)
	if late.By != kim || len(late.ID) < 22 || !late.Made.Equal(r.stamp()) {
		t.Errorf("%+v", late)
	}
	same(t, "read again", must(r.Activity(r.ctx, late.ID))(t), late)
	early := must(r.AddActivity(r.ctx, activity(a.ID, "d2", r.Now().Add(-day))))(t)
	same(t, "by their start", must(r.RunnerActivities(r.ctx, a.ID))(t), []store.Activity{early, late})
	_, err := r.AddActivity(r.ctx, activity(a.ID, "d1", r.Now().Add(day)))
	fails(t, "the same once more", err, store.ErrTaken)
	must(r.AddActivity(r.ctx, activity(b.ID, "d1", r.Now())))(t) // two may have run together
	_, err = r.AddActivity(r.ctx, activity("nobody", "d1", r.Now()))
	fails(t, "nobody's", err, store.ErrNotFound)
	broken := activity(a.ID, "d3", r.Now())
	broken.Run = json.RawMessage(`{`)
	_, err = r.AddActivity(r.ctx, broken)
	refused(t, "broken", err, "JSON")
	if _, err := r.AddActivity(r.ctx, activity(a.ID, "", r.Now())); err == nil {
		t.Error("one without a digest was kept")
	}
	ok(t, r.RemoveActivity(r.ctx, early.ID))
	fails(t, "twice", r.RemoveActivity(r.ctx, early.ID), store.ErrNotFound)
	same(t, "the other stays", must(r.RunnerActivities(r.ctx, a.ID))(t), []store.Activity{late})
	ok(t, r.ForgetRunner(r.ctx, a.ID))
	same(t, "forgotten with the runner", len(must(r.RunnerActivities(r.ctx, a.ID))(t)), 0)
	_, err = r.Activity(r.ctx, late.ID)
	fails(t, "forgotten with the runner", err, store.ErrNotFound)
}
