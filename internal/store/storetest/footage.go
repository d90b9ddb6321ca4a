package storetest

import (
	"encoding/json"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

func consents(t *testing.T, r *room) {
	a := r.runner(t, "Ada")
	one := r.consent(t, a.ID)
	two := must(r.AddConsent(r.ctx, roster.Consent{
		RunnerID: a.ID, Film: true, Faces: true, Shown: roster.Audience{Helpers: true, Runner: true}, KeepDays: 7,
		GivenBy: "Bo", Guardian: true, StatedOfAge: true, Words: "We agree.",
	}))(t)
	if !two.Given.After(one.Given) {
		t.Error("on a clock that stands still, the later consent is not later")
	}
	same(t, "all, the earliest first", must(r.Consents(r.ctx, a.ID))(t), []roster.Consent{one, two})
	r.Move(time.Hour)
	ok(t, r.WithdrawConsent(r.ctx, two.ID))
	at := r.stamp()
	r.Move(time.Hour)
	ok(t, r.WithdrawConsent(r.ctx, two.ID))
	all := must(r.Consents(r.ctx, a.ID))(t)
	if all[1].Withdrawn == nil || !all[1].Withdrawn.Equal(at) || all[0].Withdrawn != nil {
		t.Errorf("%+v", all)
	}
	fails(t, "no such consent", r.WithdrawConsent(r.ctx, "none"), store.ErrNotFound)
	_, err := r.AddConsent(r.ctx, roster.Consent{RunnerID: a.ID, Film: true})
	refused(t, "of nobody", err, "name")
	_, err = r.AddConsent(r.ctx, roster.Consent{RunnerID: "nobody", Film: true, GivenBy: "x", Words: "y"})
	fails(t, "no such runner", err, store.ErrNotFound)
}

// consentFirst: without a standing consent no clip is stored, nor begun.
func consentFirst(t *testing.T, r *room) {
	a := r.runner(t, "Ada")
	try := func(what, says string) {
		t.Helper()
		_, err := r.AddFootage(r.ctx, store.Footage{RunnerID: a.ID, Kind: store.Clip, Key: "clips/" + what})
		refused(t, what+": footage", err, says)
		_, err = r.AddUpload(r.ctx, store.Upload{RunnerID: a.ID, Kind: store.Running, Bytes: 9})
		refused(t, what+": upload", err, says)
	}
	try("nobody asked", "agreed to be filmed")
	c := r.consent(t, a.ID)
	r.clip(t, a.ID, "", "clips/1")
	ok(t, r.WithdrawConsent(r.ctx, c.ID))
	try("taken back", "agreed to be filmed")
	must(r.AddConsent(r.ctx, roster.Consent{RunnerID: a.ID, GivenBy: "Ada", Words: "Only here."}))(t)
	try("not to be filmed", "not to be filmed")
	must(r.AddConsent(r.ctx, roster.Consent{RunnerID: a.ID, Film: true, GivenBy: "Ada", Words: "No pictures."}))(t)
	r.clip(t, a.ID, "", "clips/2")
	_, err := r.AddFootage(r.ctx, store.Footage{RunnerID: a.ID, Kind: store.Picture, Key: "pictures/1"})
	refused(t, "no pictures", err, "not to pictures")
	child := must(r.AddRunner(r.ctx, roster.Runner{Name: "Cy", BirthYear: 2015}))(t)
	r.consent(t, child.ID)
	_, err = r.AddFootage(r.ctx, store.Footage{RunnerID: child.ID, Kind: store.Clip, Key: "clips/3"})
	refused(t, "a child's own word", err, "guardian")
}

// due gives the keys of footage whose time is over.
func (r *room) due(t *testing.T) (keys []string) {
	t.Helper()
	for _, f := range must(r.DueFootage(r.ctx, 100))(t) {
		keys = append(keys, f.Key)
	}
	return keys
}

// consentNarrows: a later consent reaches what is there already.
func consentNarrows(t *testing.T, r *room) {
	a, b := r.runner(t, "Ada"), r.runner(t, "Bea")
	r.consent(t, a.ID)
	r.consent(t, b.ID)
	r.clip(t, a.ID, "", "a")
	r.clip(t, b.ID, "", "b")
	must(r.AddFootage(r.ctx, store.Footage{RunnerID: a.ID, Kind: store.Picture, Key: "p"}))(t)
	must(r.AddFootage(r.ctx, store.Footage{RunnerID: a.ID, Kind: store.Track, Key: "t"}))(t)
	up := must(r.AddUpload(r.ctx, store.Upload{RunnerID: a.ID, Kind: store.Running, Bytes: 9}))(t)
	must(r.AddConsent(r.ctx, roster.Consent{RunnerID: a.ID, Film: true, KeepDays: 7, GivenBy: "Ada", Words: "No pictures, a week."}))(t)
	same(t, "no pictures any more", r.due(t), []string{"p"})
	r.Move(7 * day)
	same(t, "a week later", r.due(t), []string{"p", "a"})
	_, err := r.Upload(r.ctx, up.ID)
	ok(t, err)
	c := must(r.AddConsent(r.ctx, roster.Consent{RunnerID: a.ID, Film: true, GivenBy: "Ada", Words: "All right."}))(t)
	same(t, "a wider consent brings nothing back", r.due(t), []string{"p", "a"})
	r.clip(t, a.ID, "", "a2")
	r.Move(time.Second)
	ok(t, r.WithdrawConsent(r.ctx, c.ID))
	same(t, "taken back", r.due(t), []string{"p", "a", "a2"})
	_, err = r.Upload(r.ctx, up.ID)
	fails(t, "the upload ended", err, store.ErrNotFound)
	same(t, "what had come of it goes", must(r.Removals(r.ctx))(t), []string{up.ClipKey(), up.Key()})
	r.Move(83 * day) // a few seconds more than 90 in all
	same(t, "after 90 days the other, and never the track", r.due(t), []string{"p", "a", "a2", "b"})
}

func footage(t *testing.T, r *room) {
	c, a := r.class(t), r.runner(t, "Ada")
	r.consent(t, a.ID)
	filmed := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	f := must(r.AddFootage(r.ctx, store.Footage{RunnerID: a.ID, ClassID: c.ID, Kind: store.Clip, Name: "../\x1b[2Ja\x00.mp4", Key: "clips/1", SHA256: "ab", Bytes: 7, Filmed: filmed}))(t)
	if f.Name != "../[2Ja.mp4" || !f.KeepUntil.Equal(r.stamp().Add(30*day)) || !f.Filmed.Equal(filmed) {
		t.Errorf("%+v", f)
	}
	same(t, "read again", must(r.Footage(r.ctx, f.ID))(t), f)
	same(t, "a runner's", must(r.RunnerFootage(r.ctx, a.ID))(t), []store.Footage{f})
	_, err := r.AddFootage(r.ctx, store.Footage{RunnerID: a.ID, Kind: store.Clip, Key: "clips/1"})
	fails(t, "the same key", err, store.ErrTaken)
	same(t, "keys", must(r.Keys(r.ctx))(t), map[string]bool{"clips/1": true})
	r.Move(30*day - time.Second)
	same(t, "not yet", len(r.due(t)), 0)
	r.Move(time.Second)
	same(t, "due", r.due(t), []string{"clips/1"})
	ok(t, r.RemoveFootage(r.ctx, f.ID))
	ok(t, r.RemoveFootage(r.ctx, f.ID))
	gone := must(r.Footage(r.ctx, f.ID))(t)
	if gone.Name != "" || !gone.Gone.Equal(r.stamp()) {
		t.Errorf("%+v", gone)
	}
	same(t, "not due again", len(r.due(t)), 0)
	same(t, "no keys", len(must(r.Keys(r.ctx))(t)), 0)
	same(t, "to remove", must(r.Removals(r.ctx))(t), []string{"clips/1"})
	ok(t, r.RemovalDone(r.ctx, "clips/1"))
	ok(t, r.RemovalDone(r.ctx, "clips/1"))
	same(t, "removed", len(must(r.Removals(r.ctx))(t)), 0)
}

func pictures(t *testing.T, r *room) {
	a := r.runner(t, "Ada")
	r.consent(t, a.ID)
	clip := r.clip(t, a.ID, "", "clips/1")
	c := must(r.AddCheck(r.ctx, store.Check{RunnerID: a.ID, Kind: store.Running, ClipID: clip.ID}))(t)
	r.Move(80 * day)
	p := must(r.AddFootage(r.ctx, store.Footage{RunnerID: a.ID, CheckID: c.ID, Kind: store.Picture, Key: "pictures/1"}))(t)
	if !p.KeepUntil.Equal(clip.KeepUntil) {
		t.Errorf("a picture made late is kept until %s, its clip until %s", p.KeepUntil, clip.KeepUntil)
	}
	same(t, "a check's", must(r.CheckFootage(r.ctx, c.ID))(t), []store.Footage{clip, p})
}

func uploads(t *testing.T, r *room) {
	c, a := r.class(t), r.runner(t, "Ada")
	r.consent(t, a.ID)
	u := must(r.AddUpload(r.ctx, store.Upload{
		RunnerID: a.ID, ClassID: c.ID, Kind: store.Running, Name: "IMG 1.MOV", Bytes: 9, SHA256: "ab", Ask: json.RawMessage(`{"a":1}`), Filmed: r.stamp(),
	}))(t)
	same(t, "read again", must(r.Upload(r.ctx, u.ID))(t), u)
	same(t, "unfinished", must(r.ClassUploads(r.ctx, c.ID))(t), []store.Upload{u})
	same(t, "keys", must(r.Keys(r.ctx))(t), map[string]bool{u.Key(): true, u.ClipKey(): true})
	check, other := r.check(t, a.ID, c.ID), r.check(t, a.ID, c.ID)
	ok(t, r.UploadDone(r.ctx, u.ID, check.ID))
	ok(t, r.UploadDone(r.ctx, u.ID, check.ID))
	fails(t, "another check", r.UploadDone(r.ctx, u.ID, other.ID), store.ErrConflict)
	same(t, "still tells", must(r.Upload(r.ctx, u.ID))(t).CheckID, check.ID)
	same(t, "finished", len(must(r.ClassUploads(r.ctx, c.ID))(t)), 0)
	same(t, "no file of its own any more", len(must(r.Keys(r.ctx))(t)), 0)
	two := must(r.AddUpload(r.ctx, store.Upload{RunnerID: a.ID, Kind: store.BackView, Bytes: 1}))(t)
	r.Move(day + time.Second)
	same(t, "stale", len(must(r.StaleUploads(r.ctx, r.Now().Add(-day)))(t)), 2)
	ok(t, r.RemoveUpload(r.ctx, two.ID))
	fails(t, "twice", r.RemoveUpload(r.ctx, two.ID), store.ErrNotFound)
	fails(t, "finishing what is gone", r.UploadDone(r.ctx, two.ID, check.ID), store.ErrNotFound)
	same(t, "to remove", must(r.Removals(r.ctx))(t), []string{two.ClipKey(), two.Key()})
	_, err := r.AddUpload(r.ctx, store.Upload{RunnerID: a.ID, Kind: store.Running})
	refused(t, "empty", err, "empty")
	_, err = r.AddUpload(r.ctx, store.Upload{RunnerID: a.ID, Kind: "flying", Bytes: 1})
	refused(t, "kind", err, "flying")
}

// forgetting: nothing of a runner is left but the trail's random IDs, and
// nothing of others is lost.
func forgetting(t *testing.T, r *room) {
	c, a, b := r.class(t), r.runner(t, "Ada"), r.runner(t, "Bea")
	for _, id := range []string{a.ID, b.ID} {
		r.consent(t, id)
		must(r.Attend(r.ctx, roster.Attendance{ClassID: c.ID, RunnerID: id, Presence: roster.Here}))(t)
		clip := r.clip(t, id, c.ID, "clips/"+id)
		check := must(r.AddCheck(r.ctx, store.Check{RunnerID: id, ClassID: c.ID, ClipID: clip.ID, Kind: store.Running}))(t)
		must(r.Measured(r.ctx, check.ID, card(t, "bounce")))(t)
		must(r.AddPlan(r.ctx, store.Plan{RunnerID: id, CheckID: check.ID}))(t)
		must(r.AddNote(r.ctx, store.Note{RunnerID: id, Text: "a note"}))(t)
		must(r.AddUpload(r.ctx, store.Upload{RunnerID: id, Kind: store.Running, Bytes: 1}))(t)
		must(r.AddLink(r.ctx, store.Link{Role: roster.Own, RunnerID: id, Hash: hash(id), Expires: r.Now().Add(day)}))(t)
		must(r.AddJob(r.ctx, store.Job{Kind: "measure", CheckID: check.ID, MaxTries: 3}))(t)
	}
	gone := must(r.RunnerFootage(r.ctx, a.ID))(t)[0]
	ok(t, r.RemoveFootage(r.ctx, gone.ID)) // before: its file is removed once, not twice
	ok(t, r.RemovalDone(r.ctx, gone.Key))
	kept := must(store.About(r.ctx, r, b.ID))(t)
	ok(t, r.ForgetRunner(r.ctx, a.ID))
	_, err := store.About(r.ctx, r, a.ID)
	fails(t, "forgotten", err, store.ErrNotFound)
	fails(t, "twice", r.ForgetRunner(r.ctx, a.ID), store.ErrNotFound)
	same(t, "another is whole", must(store.About(r.ctx, r, b.ID))(t), kept)
	same(t, "only the other is here", len(must(r.Attendance(r.ctx, c.ID))(t)), 1)
	same(t, "only the other's check", len(must(r.ClassChecks(r.ctx, c.ID))(t)), 1)
	same(t, "only the other's job", len(must(r.Queue(r.ctx))(t)), 1)
	_, err = r.LinkByHash(r.ctx, hash(a.ID))
	fails(t, "the link", err, store.ErrNotFound)
	removals := must(r.Removals(r.ctx))(t)
	if len(removals) != 2 || removals[0][:6] != "clips/" || removals[1][:9] != "incoming/" {
		t.Errorf("to remove: %v", removals)
	}
	trail := must(r.Entries(r.ctx, store.TrailFilter{RunnerID: a.ID}, 100))(t)
	if len(trail) < 8 || trail[0].Action != "forget" {
		t.Errorf("trail: %+v", trail)
	}
}

// removeClass: what was measured stays with its runner.
func removeClass(t *testing.T, r *room) {
	c, a := r.class(t), r.runner(t, "Ada")
	r.consent(t, a.ID)
	must(r.Attend(r.ctx, roster.Attendance{ClassID: c.ID, RunnerID: a.ID, Presence: roster.Here}))(t)
	clip := r.clip(t, a.ID, c.ID, "clips/1")
	check := r.check(t, a.ID, c.ID)
	must(r.AddLink(r.ctx, store.Link{Role: roster.Door, ClassID: c.ID, Hash: hash("door"), Expires: r.Now().Add(day)}))(t)
	ok(t, r.RemoveClass(r.ctx, c.ID))
	same(t, "attendance", len(must(r.Attended(r.ctx, a.ID))(t)), 0)
	same(t, "check", must(r.Check(r.ctx, check.ID))(t).ClassID, "")
	same(t, "clip", must(r.Footage(r.ctx, clip.ID))(t).KeepUntil, clip.KeepUntil)
	_, err := r.LinkByHash(r.ctx, hash("door"))
	fails(t, "door", err, store.ErrNotFound)
}

// facesHidden: pictures with a face in them go when it may no longer be seen.
func facesHidden(t *testing.T, r *room) {
	a := r.runner(t, "Ada")
	agree := func(faces bool) {
		t.Helper()
		must(r.AddConsent(r.ctx, roster.Consent{RunnerID: a.ID, Film: true, Pictures: true, Faces: faces, GivenBy: "Ada", Words: "Yes."}))(t)
	}
	picture := func(key string) {
		t.Helper()
		must(r.AddFootage(r.ctx, store.Footage{RunnerID: a.ID, Kind: store.Picture, Key: key}))(t)
	}
	agree(true)
	picture("p1")
	r.clip(t, a.ID, "", "c1")
	agree(true)
	same(t, "as before", len(r.due(t)), 0)
	agree(false)
	same(t, "no faces any more", r.due(t), []string{"p1"})
	picture("p2")
	agree(false)
	agree(true)
	same(t, "blurred ones stay", r.due(t), []string{"p1"})
}

// withdrawnOnTheWay: what waits to be measured is not measured any more.
func withdrawnOnTheWay(t *testing.T, r *room) {
	a, b := r.runner(t, "Ada"), r.runner(t, "Bea")
	consent := r.consent(t, a.ID)
	r.consent(t, b.ID)
	ready := must(r.Measured(r.ctx, r.check(t, a.ID, "").ID, card(t, "lean")))(t)
	waiting, others := r.check(t, a.ID, ""), r.check(t, b.ID, "")
	for _, c := range []store.Check{waiting, ready, others} {
		must(r.AddJob(r.ctx, store.Job{Kind: "measure", CheckID: c.ID, MaxTries: 3}))(t)
	}
	running := r.claim(t)
	ok(t, r.WithdrawConsent(r.ctx, consent.ID))
	fails(t, "the worker is told", r.KeepJob(r.ctx, running, lease, store.Progress{}), store.ErrFenced)
	now := must(r.Check(r.ctx, waiting.ID))(t)
	if now.State != store.Refused || now.Refusal == "" || now.Version != 2 {
		t.Errorf("%+v", now)
	}
	same(t, "what was measured stays", must(r.Check(r.ctx, ready.ID))(t), ready)
	same(t, "another's waits", must(r.Check(r.ctx, others.ID))(t), others)
	queue := must(r.Queue(r.ctx))(t)
	if len(queue) != 1 || queue[0].CheckID != others.ID {
		t.Errorf("%+v", queue)
	}
}

// joining: a class takes as many as fit, however they come.
func joining(t *testing.T, r *room) {
	c := must(r.AddClass(r.ctx, roster.Class{Date: Day(t, "2026-03-03"), Capacity: 3}))(t)
	var joined, full atomic.Int32
	var all sync.WaitGroup
	var first roster.Runner
	for i := range 6 {
		a := r.runner(t, string(rune('a'+i)))
		if i == 0 {
			first = a
			must(store.Join(r.ctx, r, roster.Attendance{ClassID: c.ID, RunnerID: a.ID, Presence: roster.Expected}))(t)
		}
		all.Go(func() {
			_, err := store.Join(r.ctx, r, roster.Attendance{ClassID: c.ID, RunnerID: a.ID, Presence: roster.Here})
			switch {
			case err == nil:
				joined.Add(1)
			case form.CodeOf(err) == form.CodeUsage:
				full.Add(1)
			default:
				t.Error(err)
			}
		})
	}
	all.Wait()
	if joined.Load() != 3 || full.Load() != 3 {
		t.Errorf("%d joined, for %d it was full", joined.Load(), full.Load())
	}
	must(r.Attend(r.ctx, roster.Attendance{ClassID: c.ID, RunnerID: first.ID, Presence: roster.Gone}))(t)
	late := r.runner(t, "late")
	must(store.Join(r.ctx, r, roster.Attendance{ClassID: c.ID, RunnerID: late.ID, Presence: roster.Here}))(t)
	must(r.Attend(r.ctx, roster.Attendance{ClassID: c.ID, RunnerID: first.ID, Presence: roster.Here}))(t) // the coach takes in one more
	_, err := store.Join(r.ctx, r, roster.Attendance{ClassID: "none", RunnerID: late.ID, Presence: roster.Here})
	fails(t, "no such class", err, store.ErrNotFound)
}
