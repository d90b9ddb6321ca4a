package storetest

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"sync"
	"testing"
	"time"

	cards "plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// card is a result whose priority is that area; none where it is empty.
func card(t *testing.T, area string) store.Result {
	t.Helper()
	c := cards.Card{
		Program: "plumbstride", Networks: []cards.Network{{Name: "full", Role: "points", SHA256: "cd"}},
		Measures: []cards.Measure{
			{Name: "cadence", Side: form.Both, Unit: "steps/min", Value: 168, SD: 1.2, Low: 165.6, High: 170.4, N: 28},
			{Name: "landing_distance", Side: form.Left, Unit: "cm", Value: 12, SD: 1, Low: 10, High: 14, N: 14},
			{Name: "landing_distance", Side: form.Left, Unit: "% leg length", Value: 13.5, SD: 1, Low: 11.5, High: 15.5, N: 14},
		},
	}
	if area != "" {
		c.Priority.Area = &area
	}
	data := must(json.Marshal(c))(t)
	return store.Result{State: store.Ready, Card: data, Networks: c.Networks, Measures: c.Measures, Pictures: json.RawMessage(`[]`)}
}

func checks(t *testing.T, r *room) {
	cl, a := r.class(t), r.runner(t, "Ada")
	c := must(r.AddCheck(r.ctx, store.Check{ID: "mine", State: store.Ready, Card: json.RawMessage(`{}`), RunnerID: a.ID, ClassID: cl.ID, Kind: store.BackView, Ask: json.RawMessage(`{"speed":3}`)}))(t)
	if c.ID == "mine" || c.State != store.Waiting || c.Card != nil || c.Released() {
		t.Errorf("%+v", c)
	}
	same(t, "read again", must(r.Check(r.ctx, c.ID))(t), c)
	r.Move(time.Minute)
	done := must(r.Measured(r.ctx, c.ID, card(t, "bounce")))(t)
	if done.State != store.Ready || done.Version != 2 || len(done.Card) == 0 || done.Networks[0].SHA256 != "cd" || string(done.Pictures) != "[]" || !done.Measured.Equal(r.stamp()) {
		t.Errorf("%+v", done)
	}
	past := must(r.History(r.ctx, a.ID))(t)
	if len(past) != 3 || past[0].Name != "cadence" || past[0].Value != 168 || past[0].Low != 165.6 || past[0].N != 28 || past[1].Side != form.Left || !past[0].Made.Equal(c.Made) {
		t.Errorf("%+v", past)
	}
	_, err := r.ChangeCheck(r.ctx, c)
	fails(t, "an old version", err, store.ErrConflict)
	done.Corrections = json.RawMessage(`[{"frame":7}]`)
	changed := must(r.ChangeCheck(r.ctx, done))(t)
	if string(changed.Corrections) != `[{"frame":7}]` || string(changed.Card) != string(done.Card) || changed.Version != 3 {
		t.Errorf("%+v", changed)
	}
	refusal := must(r.Measured(r.ctx, c.ID, store.Result{State: store.Refused, Refusal: "film again"}))(t)
	if refusal.State != store.Refused || refusal.Refusal != "film again" || refusal.Card != nil || len(must(r.History(r.ctx, a.ID))(t)) != 0 {
		t.Errorf("measured anew, the old numbers go: %+v", refusal)
	}
	second := r.check(t, a.ID, cl.ID)
	same(t, "a runner's", must(r.RunnerChecks(r.ctx, a.ID))(t), []store.Check{refusal, second})
	same(t, "a class's", must(r.ClassChecks(r.ctx, cl.ID))(t), []store.Check{refusal, second})
	_, err = r.Measured(r.ctx, "none", card(t, ""))
	fails(t, "no such check", err, store.ErrNotFound)
	noNumber := card(t, "")
	noNumber.Measures[0].SD = math.NaN()
	if _, err := r.Measured(r.ctx, c.ID, noNumber); err == nil {
		t.Error("a measure that is no number was kept")
	}
	same(t, "and nothing of it", must(r.Check(r.ctx, c.ID))(t), refusal)
	_, err = r.AddCheck(r.ctx, store.Check{RunnerID: "nobody", Kind: store.Running})
	fails(t, "nobody's", err, store.ErrNotFound)
}

func decisions(t *testing.T, r *room) {
	a := r.runner(t, "Ada")
	c := r.check(t, a.ID, "")
	kim, lee := r.By(store.Who{Kind: "account", ID: "kim"}), r.By(store.Who{Kind: "account", ID: "lee"})
	_, err := kim.Decide(r.ctx, c.ID, c.Version, "bounce", "")
	refused(t, "no card", err, "no card")
	c = must(r.Measured(r.ctx, c.ID, card(t, "bounce")))(t)
	_, err = kim.Decide(r.ctx, c.ID, c.Version, "lean", " ")
	refused(t, "without a reason", err, "reason")
	_, err = kim.Decide(r.ctx, c.ID, c.Version, "posture", "x")
	refused(t, "no area", err, "posture")
	first := must(kim.Decide(r.ctx, c.ID, c.Version, "bounce", ""))(t)
	if !first.Released() || first.Decision.Overrules() || first.Decision.By.ID != "kim" || first.Version != c.Version+1 {
		t.Errorf("%+v", first.Decision)
	}
	_, err = lee.Decide(r.ctx, c.ID, c.Version, "lean", "hips")
	fails(t, "lee had not seen kim's", err, store.ErrConflict)
	second := must(lee.Decide(r.ctx, c.ID, first.Version, "lean", "hips first"))(t)
	same(t, "the latest", must(r.Check(r.ctx, c.ID))(t), second)
	all := must(r.Decisions(r.ctx, c.ID))(t)
	if len(all) != 2 || all[0].By.ID != "kim" || !all[1].Overrules() || all[1].Proposed != "bounce" || all[1].Reason != "hips first" {
		t.Errorf("both are kept: %+v", all)
	}
	none := must(lee.Decide(r.ctx, c.ID, second.Version, "", "rest first"))(t)
	if !none.Decision.Overrules() || none.Decision.Area != "" {
		t.Errorf("%+v", none.Decision)
	}
	_, err = r.Decide(r.ctx, "none", 1, "", "")
	fails(t, "no such check", err, store.ErrNotFound)
}

func removeCheck(t *testing.T, r *room) {
	a := r.runner(t, "Ada")
	r.consent(t, a.ID)
	clip := r.clip(t, a.ID, "", "clips/1")
	var ids []string
	for i := range 2 {
		c := must(r.AddCheck(r.ctx, store.Check{RunnerID: a.ID, ClipID: clip.ID, Kind: store.Running}))(t)
		must(r.Measured(r.ctx, c.ID, card(t, "lean")))(t)
		must(r.AddFootage(r.ctx, store.Footage{RunnerID: a.ID, CheckID: c.ID, Kind: store.Picture, Key: fmt.Sprint("pictures/", i)}))(t)
		ids = append(ids, c.ID)
	}
	ok(t, r.RemoveCheck(r.ctx, ids[0]))
	same(t, "the clip stays for the other check", must(r.Removals(r.ctx))(t), []string{"pictures/0"})
	same(t, "its measures are gone", len(must(r.History(r.ctx, a.ID))(t)), 3)
	ok(t, r.RemoveCheck(r.ctx, ids[1]))
	same(t, "everything", must(r.Removals(r.ctx))(t), []string{"clips/1", "pictures/0", "pictures/1"})
	same(t, "no footage", len(must(r.RunnerFootage(r.ctx, a.ID))(t)), 0)
	fails(t, "twice", r.RemoveCheck(r.ctx, ids[1]), store.ErrNotFound)
}

func trail(t *testing.T, r *room) {
	kim := store.Who{Kind: "account", ID: "kim"}
	s := r.By(kim)
	a := must(s.AddRunner(r.ctx, roster.Runner{Name: "Ada"}))(t)
	r.Move(time.Second)
	ok(t, s.Record(r.ctx, store.Entry{Action: "see", Kind: roster.RunnerKind, Subject: a.ID, RunnerID: a.ID}))
	a.Name = "Bea"
	must(r.ChangeRunner(r.ctx, a))(t)
	if _, err := s.ChangeRunner(r.ctx, a); err == nil {
		t.Error("an old version was taken")
	}
	got := must(r.Entries(r.ctx, store.TrailFilter{RunnerID: a.ID}, 10))(t)
	if len(got) != 3 || got[0].Who.Kind != "program" || got[0].Action != "change" || got[1].Action != "see" || got[1].Who != kim || !got[1].At.Equal(r.stamp()) || got[2].Action != "add" {
		t.Errorf("%+v", got)
	}
	same(t, "the latest only", must(r.Entries(r.ctx, store.TrailFilter{}, 1))(t), got[:1])
	same(t, "before the latest", must(r.Entries(r.ctx, store.TrailFilter{Before: got[0].ID}, 10))(t), got[1:])
	same(t, "by kim", must(r.Entries(r.ctx, store.TrailFilter{WhoID: "kim"}, 10))(t), got[1:])
	same(t, "in a second", must(r.Entries(r.ctx, store.TrailFilter{From: got[1].At, Until: got[1].At.Add(time.Microsecond)}, 10))(t), got[:2])
	same(t, "until then", must(r.Entries(r.ctx, store.TrailFilter{Until: got[1].At}, 10))(t), got[2:])
	ok(t, r.RemoveEntries(r.ctx, got[1].At))
	same(t, "the old ones are gone", must(r.Entries(r.ctx, store.TrailFilter{}, 10))(t), got[:2])
	same(t, "nobody's", len(must(r.Entries(r.ctx, store.TrailFilter{RunnerID: "nobody"}, 10))(t)), 0)
}

func transactions(t *testing.T, r *room) {
	stop := errors.New("stop")
	var id string
	err := r.Within(r.ctx, func(s store.Store) error {
		a := must(s.AddRunner(r.ctx, roster.Runner{Name: "Ada"}))(t)
		id = a.ID
		err := s.Within(r.ctx, func(s store.Store) error {
			_, err := s.Runner(r.ctx, id)
			return err
		})
		ok(t, err)
		return stop
	})
	fails(t, "the error comes back as it is", err, stop)
	_, err = r.Runner(r.ctx, id)
	fails(t, "nothing is kept", err, store.ErrNotFound)
	same(t, "the trail neither", len(must(r.Entries(r.ctx, store.TrailFilter{}, 10))(t)), 0)
	func() {
		defer func() {
			if recover() == nil {
				t.Error("the panic was swallowed")
			}
		}()
		_ = r.Within(r.ctx, func(s store.Store) error {
			must(s.AddRunner(r.ctx, roster.Runner{Name: "Bea"}))(t)
			panic("in the middle")
		})
	}()
	same(t, "after a panic nothing is kept", len(must(r.Runners(r.ctx))(t)), 0)
	ok(t, r.By(store.Who{Kind: "account", ID: "kim"}).Within(r.ctx, func(s store.Store) error {
		_, err := s.AddRunner(r.ctx, roster.Runner{Name: "Cy"})
		return err
	}))
	same(t, "the name holds within", must(r.Entries(r.ctx, store.TrailFilter{}, 10))(t)[0].Who.ID, "kim")
}

// twoCoaches: of many who change the same version, exactly one wins.
func twoCoaches(t *testing.T, r *room) {
	a := r.runner(t, "Ada")
	var wins, conflicts int
	var mu sync.Mutex
	var all sync.WaitGroup
	for i := range 8 {
		all.Go(func() {
			mine := a
			mine.Goals = fmt.Sprint("goal ", i)
			_, err := r.ChangeRunner(r.ctx, mine)
			mu.Lock()
			defer mu.Unlock()
			switch {
			case err == nil:
				wins++
			case errors.Is(err, store.ErrConflict):
				conflicts++
			default:
				t.Error(err)
			}
		})
	}
	all.Wait()
	if wins != 1 || conflicts != 7 {
		t.Errorf("%d won, %d had to look again", wins, conflicts)
	}
}

// manyWriters: nobody's writing is lost or refused because others write.
func manyWriters(t *testing.T, r *room) {
	const writers, each = 8, 10
	var all sync.WaitGroup
	for i := range writers {
		all.Go(func() {
			for j := range each {
				if _, err := r.AddRunner(r.ctx, roster.Runner{Name: fmt.Sprintf("%d %d", i, j)}); err != nil {
					t.Error(err)
				}
				if _, err := r.Runners(r.ctx); err != nil {
					t.Error(err)
				}
			}
		})
	}
	all.Wait()
	same(t, "runners", len(must(r.Runners(r.ctx))(t)), writers*each)
	same(t, "lines of the trail", len(must(r.Entries(r.ctx, store.TrailFilter{}, 1000))(t)), writers*each)
}

func about(t *testing.T, r *room) {
	cl, a := r.class(t), r.runner(t, "Ada")
	r.consent(t, a.ID)
	must(r.Attend(r.ctx, roster.Attendance{ClassID: cl.ID, RunnerID: a.ID, Presence: roster.Here}))(t)
	clip := r.clip(t, a.ID, cl.ID, "clips/1")
	c := must(r.AddCheck(r.ctx, store.Check{RunnerID: a.ID, ClassID: cl.ID, ClipID: clip.ID, Kind: store.Running}))(t)
	c = must(r.Measured(r.ctx, c.ID, card(t, "bounce")))(t)
	must(r.Decide(r.ctx, c.ID, c.Version, "bounce", ""))(t)
	must(r.AddPlan(r.ctx, store.Plan{RunnerID: a.ID, CheckID: c.ID, Plan: json.RawMessage(`{"weeks":6}`)}))(t)
	must(r.AddNote(r.ctx, store.Note{RunnerID: a.ID, Text: "note"}))(t)
	must(r.AddActivity(r.ctx, activity(a.ID, "d1", r.Now())))(t)
	must(r.AddLink(r.ctx, store.Link{Role: roster.Own, RunnerID: a.ID, Hash: hash("a"), Expires: r.Now().Add(day)}))(t)
	must(r.AddMessage(r.ctx, store.Message{RunnerID: a.ID, Kind: "recheck", State: store.Handed}))(t)
	must(r.AddUpload(r.ctx, store.Upload{RunnerID: a.ID, Kind: store.Running, Bytes: 1}))(t)
	must(r.AddJob(r.ctx, store.Job{Kind: "measure", CheckID: c.ID, MaxTries: 1}))(t)
	e := must(store.About(r.ctx, r, a.ID))(t)
	for what, n := range map[string]int{
		"attendance": len(e.Attendance), "classes": len(e.Classes), "consents": len(e.Consents), "checks": len(e.Checks), "decisions": len(e.Decisions),
		"plans": len(e.Plans), "notes": len(e.Notes), "messages": len(e.Messages), "footage": len(e.Footage), "links": len(e.Links),
		"uploads": len(e.Uploads), "activities": len(e.Activities), "jobs": len(e.Jobs),
	} {
		same(t, what, n, 1)
	}
	data := must(e.JSON())(t)
	var back map[string]any
	ok(t, json.Unmarshal(data, &back))
	if len(back) != 17 || back["runner"].(map[string]any)["name"] != "Ada" {
		t.Errorf("%s", data)
	}
	if string(data[len(data)-1]) != "\n" || containsHash(data) {
		t.Error("the export holds a link's hash, or no last line")
	}
}
