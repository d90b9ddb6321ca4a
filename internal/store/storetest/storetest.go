// Package storetest takes a way to open a store and gives the tests that any
// store must pass: the contract of package store, told once for all
// databases.
package storetest

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"

	"plumbstride/internal/form"
	"plumbstride/internal/plan"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// Open opens an empty store of that clock; the test's end closes it.
type Open func(t *testing.T, now func() time.Time) store.Database

// Run runs all tests of the contract.
func Run(t *testing.T, open Open) {
	for _, test := range []struct {
		name string
		run  func(*testing.T, *room)
	}{
		{"classes", classes}, {"runners", runners}, {"attendance", attendance}, {"joining", joining},
		{"consents", consents}, {"consent before footage", consentFirst}, {"consent narrows footage", consentNarrows},
		{"faces hidden", facesHidden}, {"consent withdrawn on the way", withdrawnOnTheWay},
		{"footage", footage}, {"pictures go with their clip", pictures}, {"uploads", uploads},
		{"checks", checks}, {"decisions", decisions}, {"removing a check", removeCheck}, {"plans", plans}, {"notes", notes}, {"activities", activities}, {"messages", messages},
		{"links", links}, {"accounts", accounts}, {"sessions", sessions}, {"settings", settings},
		{"trail", trail}, {"transactions", transactions}, {"two coaches", twoCoaches}, {"many writers", manyWriters},
		{"forgetting", forgetting}, {"removing a class", removeClass}, {"everything about a runner", about},
		{"jobs", jobs}, {"jobs of a removed check", jobsOfRemovedCheck}, {"claims are alone", claimsAlone}, {"hostile text", hostile},
	} {
		t.Run(test.name, func(t *testing.T) {
			clock := &Clock{at: time.Date(2026, 3, 3, 18, 0, 0, 123456789, time.FixedZone("shop", 3600))}
			test.run(t, &room{Database: open(t, clock.Now), Clock: clock, ctx: t.Context()})
		})
	}
}

// Clock stands still until it is moved.
type Clock struct {
	mu sync.Mutex
	at time.Time
}

// NewClock gives a clock that stands at that moment.
func NewClock(at time.Time) *Clock { return &Clock{at: at} }

// Now gives the clock's moment.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

// Move moves the clock on.
func (c *Clock) Move(by time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(by)
}

// room is a store with its clock.
type room struct {
	store.Database
	*Clock
	ctx context.Context
}

const day = 24 * time.Hour

// stamp is the clock's moment as a store keeps it.
func (r *room) stamp() time.Time { return r.Now().UTC().Truncate(time.Microsecond) }

// Day is a day of the tests' calendar.
func Day(t testing.TB, text string) plan.Date {
	t.Helper()
	return must(plan.ParseDate(text))(t)
}

// fataler ends a test, or a run of a property.
type fataler interface {
	Helper()
	Fatal(args ...any)
}

// must gives a value that came without an error.
func must[T any](v T, err error) func(fataler) T {
	return func(t fataler) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func same(t *testing.T, what string, got, want any) {
	t.Helper()
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%s:\n got %+v\nwant %+v", what, got, want)
	}
}

func fails(t *testing.T, what string, err, want error) {
	t.Helper()
	if !errors.Is(err, want) {
		t.Errorf("%s: %v, want %v", what, err, want)
	}
}

func refused(t *testing.T, what string, err error, says string) {
	t.Helper()
	if form.CodeOf(err) == "" || !strings.Contains(err.Error(), says) {
		t.Errorf("%s: %v, want a sentence about %q", what, err, says)
	}
}

// ok ends the test on an error.
func ok(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func (r *room) class(t *testing.T) roster.Class {
	t.Helper()
	return must(r.AddClass(r.ctx, roster.Class{Title: "Tuesday", Date: Day(t, "2026-03-03"), Place: "the shop", Capacity: 12, Coach: "Kim", Note: "a\nb", KeepDays: 30}))(t)
}

func (r *room) runner(t *testing.T, name string) roster.Runner {
	t.Helper()
	return must(r.AddRunner(r.ctx, roster.Runner{
		Name: name, Contact: name + "@example.org", BirthYear: 1990, HeightM: 1.72, MassKg: 61.5, Sex: roster.Female,
		Paces: []roster.Pace{{Name: "easy", SpeedMS: 2.5}}, Shoes: "old", Goals: "ten kilometres", HealthNote: "left calf",
		Health: plan.Health{Asked: true, Yes: []plan.Reason{plan.CalfTrouble}},
	}))(t)
}

func (r *room) consent(t *testing.T, runnerID string) roster.Consent {
	t.Helper()
	return must(r.AddConsent(r.ctx, roster.Consent{RunnerID: runnerID, Film: true, Pictures: true, GivenBy: "Ada", Words: "I agree."}))(t)
}

func (r *room) check(t *testing.T, runnerID, classID string) store.Check {
	t.Helper()
	return must(r.AddCheck(r.ctx, store.Check{RunnerID: runnerID, ClassID: classID, Kind: store.Running, Ask: json.RawMessage(`{"height_m":1.72}`)}))(t)
}

func (r *room) clip(t *testing.T, runnerID, classID, key string) store.Footage {
	t.Helper()
	return must(r.AddFootage(r.ctx, store.Footage{RunnerID: runnerID, ClassID: classID, Kind: store.Clip, Name: "a.mp4", Key: key, SHA256: "ab", Bytes: 7}))(t)
}

func classes(t *testing.T, r *room) {
	c := r.class(t)
	if len(c.ID) < 22 || c.Version != 1 || !c.Made.Equal(r.stamp()) {
		t.Errorf("%+v", c)
	}
	same(t, "read again", must(r.Class(r.ctx, c.ID))(t), c)
	later := must(r.AddClass(r.ctx, roster.Class{Date: Day(t, "2026-03-10")}))(t)
	same(t, "the latest first", must(r.Classes(r.ctx))(t), []roster.Class{later, c})
	r.Move(time.Minute)
	c.Note = "changed"
	changed := must(r.ChangeClass(r.ctx, c))(t)
	if changed.Version != 2 || changed.Note != "changed" || !changed.Changed.Equal(r.stamp()) || !changed.Made.Equal(c.Made) {
		t.Errorf("%+v", changed)
	}
	_, err := r.ChangeClass(r.ctx, c)
	fails(t, "an old version", err, store.ErrConflict)
	c.ID = "nobody"
	_, err = r.ChangeClass(r.ctx, c)
	fails(t, "no such class", err, store.ErrNotFound)
	_, err = r.Class(r.ctx, "nobody")
	fails(t, "no such class", err, store.ErrNotFound)
	fails(t, "removing no such class", r.RemoveClass(r.ctx, "nobody"), store.ErrNotFound)
	_, err = r.AddClass(r.ctx, roster.Class{Date: Day(t, "2026-03-03"), Capacity: -1})
	refused(t, "capacity", err, "class of -1")
}

func runners(t *testing.T, r *room) {
	b, a := r.runner(t, "bea"), r.runner(t, "Ada")
	same(t, "read again", must(r.Runner(r.ctx, a.ID))(t), a)
	same(t, "by name", must(r.Runners(r.ctx))(t), []roster.Runner{a, b})
	r.Move(time.Hour)
	a.Name, a.Paces, a.Health = "Zoë", []roster.Pace{}, plan.Health{}
	changed := must(r.ChangeRunner(r.ctx, a))(t)
	if changed.Name != "Zoë" || changed.Version != 2 || changed.Health.Asked || len(changed.Paces) != 0 || !changed.Changed.Equal(r.stamp()) {
		t.Errorf("%+v", changed)
	}
	_, err := r.ChangeRunner(r.ctx, a)
	fails(t, "an old version", err, store.ErrConflict)
	_, err = r.AddRunner(r.ctx, roster.Runner{})
	refused(t, "nobody", err, "name")
	twin := r.runner(t, "bea")
	if twin.ID == b.ID {
		t.Error("two people of one name are one")
	}
}

func attendance(t *testing.T, r *room) {
	c, a, b := r.class(t), r.runner(t, "Ada"), r.runner(t, "Bea")
	one := must(r.Attend(r.ctx, roster.Attendance{ClassID: c.ID, RunnerID: a.ID, Presence: roster.Expected}))(t)
	two := must(r.Attend(r.ctx, roster.Attendance{ClassID: c.ID, RunnerID: b.ID, Presence: roster.Here}))(t)
	if one.Place != 1 || two.Place != 2 {
		t.Errorf("turns %d and %d", one.Place, two.Place)
	}
	since := one.Since
	r.Move(time.Minute)
	one = must(r.Attend(r.ctx, roster.Attendance{ClassID: c.ID, RunnerID: a.ID, Presence: roster.Expected, Place: 5}))(t)
	if !one.Since.Equal(since) || one.Place != 5 {
		t.Errorf("only the turn changed: %+v", one)
	}
	one = must(r.Attend(r.ctx, roster.Attendance{ClassID: c.ID, RunnerID: a.ID, Presence: roster.Here}))(t)
	if !one.Since.Equal(r.stamp()) || one.Place != 5 {
		t.Errorf("only the presence changed: %+v", one)
	}
	same(t, "in turn", must(r.Attendance(r.ctx, c.ID))(t), []roster.Attendance{two, one})
	next := must(r.AddClass(r.ctx, roster.Class{Date: Day(t, "2026-03-10")}))(t)
	again := must(r.Attend(r.ctx, roster.Attendance{ClassID: next.ID, RunnerID: a.ID, Presence: roster.Expected}))(t)
	same(t, "a runner's classes", must(r.Attended(r.ctx, a.ID))(t), []roster.Attendance{again, one})
	ok(t, r.Unattend(r.ctx, c.ID, a.ID))
	fails(t, "twice", r.Unattend(r.ctx, c.ID, a.ID), store.ErrNotFound)
	_, err := r.Attend(r.ctx, roster.Attendance{ClassID: c.ID, RunnerID: "nobody", Presence: roster.Here})
	fails(t, "nobody", err, store.ErrNotFound)
	_, err = r.Attend(r.ctx, roster.Attendance{ClassID: "none", RunnerID: a.ID, Presence: roster.Here})
	fails(t, "no class", err, store.ErrNotFound)
	_, err = r.Attend(r.ctx, roster.Attendance{ClassID: c.ID, RunnerID: a.ID, Presence: "asleep"})
	refused(t, "presence", err, "asleep")
}

func plans(t *testing.T, r *room) {
	a := r.runner(t, "Ada")
	c := r.check(t, a.ID, "")
	p := must(r.AddPlan(r.ctx, store.Plan{RunnerID: a.ID, CheckID: c.ID, Plan: json.RawMessage(`{"weeks":6}`)}))(t)
	same(t, "read again", must(r.Plan(r.ctx, p.ID))(t), p)
	p.Plan = json.RawMessage(`{"weeks":8}`)
	changed := must(r.ChangePlan(r.ctx, p))(t)
	same(t, "changed", string(changed.Plan), `{"weeks":8}`)
	_, err := r.ChangePlan(r.ctx, p)
	fails(t, "an old version", err, store.ErrConflict)
	_, err = r.AddPlan(r.ctx, store.Plan{RunnerID: a.ID, Plan: json.RawMessage(`{`)})
	refused(t, "broken", err, "JSON")
	_, err = r.AddPlan(r.ctx, store.Plan{RunnerID: "nobody"})
	fails(t, "nobody's", err, store.ErrNotFound)
	ok(t, r.RemoveCheck(r.ctx, c.ID))
	left := must(r.RunnerPlans(r.ctx, a.ID))(t)
	if len(left) != 1 || left[0].CheckID != "" {
		t.Errorf("a plan outlives its check: %+v", left)
	}
	ok(t, r.RemovePlan(r.ctx, p.ID))
	fails(t, "twice", r.RemovePlan(r.ctx, p.ID), store.ErrNotFound)
}

func notes(t *testing.T, r *room) {
	a := r.runner(t, "Ada")
	kim := store.Who{Kind: "account", ID: "kim"}
	n := must(r.By(kim).AddNote(r.ctx, store.Note{RunnerID: a.ID, Text: " tight left hip \n"}))(t)
	if n.By != kim || n.Text != "tight left hip" {
		t.Errorf("%+v", n)
	}
	same(t, "read again", must(r.Note(r.ctx, n.ID))(t), n)
	n.Text = "better"
	changed := must(r.ChangeNote(r.ctx, n))(t)
	if changed.Version != 2 || changed.Text != "better" || changed.By != kim {
		t.Errorf("%+v", changed)
	}
	_, err := r.ChangeNote(r.ctx, n)
	fails(t, "an old version", err, store.ErrConflict)
	_, err = r.AddNote(r.ctx, store.Note{RunnerID: a.ID, Text: "  "})
	refused(t, "empty", err, "without words")
	same(t, "a runner's", must(r.RunnerNotes(r.ctx, a.ID))(t), []store.Note{changed})
	ok(t, r.RemoveNote(r.ctx, n.ID))
	fails(t, "twice", r.RemoveNote(r.ctx, n.ID), store.ErrNotFound)
}

func settings(t *testing.T, r *room) {
	same(t, "never set", must(r.Setting(r.ctx, "shop"))(t), "")
	ok(t, r.SetSetting(r.ctx, "shop", "Corner"))
	ok(t, r.SetSetting(r.ctx, "shop", "Round the corner"))
	same(t, "set twice", must(r.Setting(r.ctx, "shop"))(t), "Round the corner")
}

// hostile: whatever people write comes back as they wrote it, and is no SQL.
func hostile(t *testing.T, r *room) {
	for _, name := range []string{`'; DROP TABLE runners; --`, `Robert"); --`, "名前 🏃", "%_*", "a\\b", "null"} {
		a := r.runner(t, name)
		same(t, "name", must(r.Runner(r.ctx, a.ID))(t).Name, name)
		_, err := r.Runner(r.ctx, name)
		fails(t, "an ID that is none", err, store.ErrNotFound)
	}
	_, err := r.AccountByName(r.ctx, "' OR '1'='1")
	fails(t, "everybody's account", err, store.ErrNotFound)
	if n := len(must(r.Runners(r.ctx))(t)); n != 6 {
		t.Error(fmt.Sprint(n, " runners"))
	}
}
