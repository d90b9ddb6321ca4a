package web

import (
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"plumbstride/internal/account"
	"plumbstride/internal/plan"
	"plumbstride/internal/plan/drills"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/store/aside"
)

// again serves a room's records a second time, with other parts.
func (r *room) again(t *testing.T, change func(*Parts)) *room {
	t.Helper()
	own, err := plan.Load(drills.Files())
	if err != nil {
		t.Fatal(err)
	}
	p := Parts{DB: r.db, Shelf: r.shelf, Queue: r.queue, Now: time.Now, Drills: own, Program: "plumbstride test", Log: testLog{t, r.said}}
	change(&p)
	if p.Desk, err = account.New(p.DB, time.Now, cheap); err != nil {
		t.Fatal(err)
	}
	site, err := New(p)
	if err != nil {
		t.Fatal(err)
	}
	other := *r
	other.desk, other.http = p.Desk, httptest.NewTLSServer(site)
	t.Cleanup(other.http.Close)
	return &other
}

// reading serves a room's records for reading alone, and gives what it told.
func (r *room) reading(t *testing.T) (*room, *[]store.Entry) {
	t.Helper()
	seen := &[]store.Entry{}
	db := aside.New(r.db, time.Now, func(e store.Entry) { *seen = append(*seen, e) })
	return r.again(t, func(p *Parts) { p.DB, p.ReadOnly = db, true }), seen
}

// TestReadOnly: every address that changes something is refused with the same
// sentence, by the pages before the records are asked; every page can be
// read, and no form on it can be sent.
func TestReadOnly(t *testing.T) {
	r := newRoom(t, nil)
	r.signedIn(t, "nora", roster.Coach)
	ada := r.things(t, "Ada")
	lines := func() int {
		all, err := r.db.Entries(t.Context(), store.TrailFilter{}, 100000)
		if err != nil {
			t.Fatal(err)
		}
		return len(all)
	}
	before := lines()
	still, seen := r.reading(t)
	coach := still.browser(t)
	coach.post("/sign-in", "name", "nora", "password", password).want(t, http.StatusSeeOther)
	for pattern, who := range allowed {
		method, rest, _ := strings.Cut(pattern, " ")
		b, token := coach, ""
		switch {
		case strings.Contains(who, "O"):
			b, token = still.browser(t), ada.own
		case strings.Contains(who, "I"):
			b, token = still.browser(t), ada.invited
		case strings.Contains(who, "S"):
			b, token = still.browser(t), ada.stop
		case strings.Contains(who, "D"):
			b, token = still.browser(t), ada.door
		}
		path := ada.path(rest, token, true)
		if strings.HasSuffix(path, "/news") {
			continue // it goes on until the browser leaves
		}
		got := b.do(b.request(method, path, "application/x-www-form-urlencoded", strings.NewReader("name=Ada")))
		if method != "GET" {
			if got.status != http.StatusForbidden || !strings.Contains(got.body, "open for reading alone") {
				t.Errorf("%s: %d %.300s", pattern, got.status, got.body)
			}
			continue
		}
		if got.status >= http.StatusInternalServerError {
			t.Errorf("%s: %d", pattern, got.status)
		}
		for _, form := range changing.FindAllString(got.body, -1) {
			if !strings.Contains(form, "inert") && !strings.Contains(form, `action="/sign-`) && !strings.Contains(form, `action="/language"`) {
				t.Errorf("%s: a form that can be sent: %s", pattern, form)
			}
		}
	}
	coach.get("/runner/"+ada.runner.ID).want(t, 200, "Ada", "Open for reading alone")
	if n := lines(); n != before {
		t.Errorf("%d lines were written", n-before)
	}
	if !slices.ContainsFunc(*seen, func(e store.Entry) bool { return e.Kind == roster.HealthKind && e.Who.Kind == "account" }) {
		t.Errorf("nobody is told who looked: %+v", *seen)
	}
	coach.post("/sign-out").want(t, http.StatusSeeOther)
	coach.get("/people").want(t, http.StatusSeeOther)
}

// TestTrailTellsLooks: what was looked at or taken away stands in the trail
// once, by whom, and so does who was refused.
func TestTrailTellsLooks(t *testing.T) {
	r := newRoom(t, nil)
	coach := r.signedIn(t, "nora", roster.Coach)
	ada := r.things(t, "Ada")
	for range 3 {
		coach.get("/runner/"+ada.runner.ID).want(t, 200)
	}
	coach.get("/check/"+ada.released.ID).want(t, 200)
	coach.get("/people").want(t, 200)
	coach.get("/accounts").want(t, 200)
	coach.get("/runner/"+ada.runner.ID+"/consent").want(t, 200)
	coach.get("/runner/"+ada.runner.ID+"/everything.json").want(t, 200)
	coach.get("/check/"+ada.released.ID+"/form-card.pdf").want(t, 200)
	coach.get("/plan/"+ada.releasedPlan.ID+"/plan.ics").want(t, 200)
	coach.get("/check/" + ada.released.ID + "/stride/0") // there is no picture
	r.browser(t).get("/my/"+ada.own).want(t, 200)
	if got := r.browser(t).post("/sign-in", "name", "nora", "password", "not the password"); got.status != http.StatusUnprocessableEntity {
		t.Errorf("%d", got.status)
	}
	coach.post("/sign-out").want(t, http.StatusSeeOther)
	all, err := r.db.Entries(t.Context(), store.TrailFilter{}, 1000)
	if err != nil {
		t.Fatal(err)
	}
	stands := map[string]int{}
	for _, e := range all {
		stands[e.Who.Kind+" "+e.Action+" "+string(e.Kind)]++
		if strings.Contains(e.Subject, "not the password") {
			t.Error("the trail holds what was typed")
		}
	}
	for _, want := range []string{
		"account see runner", "account see contact", "account see health", "account see check", "account see roster", "account see account",
		"account see consent", "account export runner", "account export check", "account export plan", "account see picture",
		"link see runner", "visitor refuse account", "account sign-in account", "account sign-out account",
	} {
		if stands[want] != 1 {
			t.Errorf("%q stands in the trail %d times", want, stands[want])
		}
	}
}

// TestTrailPage: the trail can be read by a coach, by runner, account and
// day, in every language, and page by page.
func TestTrailPage(t *testing.T) {
	r := newRoom(t, nil)
	coach, helper := r.signedIn(t, "nora", roster.Coach), r.signedIn(t, "hugo", roster.Helper)
	ada, bob := r.things(t, "Ada"), r.things(t, "Bob")
	helper.get("/trail").want(t, http.StatusForbidden)
	coach.get("/runner/"+ada.runner.ID).want(t, 200)
	helper.get("/runner/"+bob.runner.ID).want(t, 200)
	if err := r.db.ForgetRunner(t.Context(), bob.runner.ID); err != nil {
		t.Fatal(err)
	}
	list := func(query string) string {
		t.Helper()
		got := coach.get("/trail" + query)
		got.want(t, 200)
		_, body, _ := strings.Cut(got.body, `<ul class="trail">`)
		return body
	}
	if body := list(""); !strings.Contains(body, "hugo") || !strings.Contains(body, "forgot") || !strings.Contains(body, bob.runner.ID) || strings.Contains(body, ">Bob<") {
		t.Errorf("%.3000s", body)
	}
	if body := list("?runner=" + ada.runner.ID); !strings.Contains(body, "looked at: answers about health") || strings.Contains(body, "hugo") || strings.Contains(body, bob.runner.ID) {
		t.Errorf("of Ada: %.3000s", body)
	}
	hugo, err := r.db.AccountByName(t.Context(), "hugo")
	if err != nil {
		t.Fatal(err)
	}
	if body := list("?account=" + hugo.ID); strings.Contains(body, "nora") || !strings.Contains(body, "looked at: runner") {
		t.Errorf("by hugo: %.3000s", body)
	}
	if body := list("?day=2020-01-01"); strings.Contains(body, "<li>") {
		t.Errorf("of another day: %.3000s", body)
	}
	coach.get("/trail?day=x").want(t, http.StatusUnprocessableEntity)
	for range 2 * trailLines {
		if err := r.db.Record(t.Context(), store.Entry{Action: "see", Kind: roster.RunnerKind, Subject: "x", RunnerID: ada.runner.ID}); err != nil {
			t.Fatal(err)
		}
	}
	next := "/trail?runner=" + ada.runner.ID
	pages := 0
	for ; next != "" && pages < 10; pages++ {
		body := coach.get(next).body
		_, rest, more := strings.Cut(body, `<a class="button" href="/trail?`)
		if next = ""; more {
			rest, _, _ = strings.Cut(rest, `"`)
			next = "/trail?" + strings.ReplaceAll(rest, "&amp;", "&")
		}
	}
	if pages != 3 {
		t.Errorf("%d pages", pages)
	}
}
