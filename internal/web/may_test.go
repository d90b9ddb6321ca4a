package web

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"plumbstride/internal/account"
	"plumbstride/internal/card/cardtest"
	"plumbstride/internal/plan"
	"plumbstride/internal/plan/drills"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// allowed says for every address who is let in: C the coach, H a helper, O
// the private link of the runner whose thing it is, I an invitation of that
// runner, D the door of that class, S the
// link with which that runner stops messages. Everybody else is kept out: nobody signed
// in, the links of another runner or class, links of another kind, links that
// are over. R marks what a private link opens only once a coach has had their
// word. Written by hand, so that no change of the program changes it.
var allowed = map[string]string{
	"GET /password":            "CH",
	"POST /password":           "CH",
	"GET /accounts":            "C",
	"POST /accounts":           "C",
	"POST /accounts/{account}": "C",
	"GET /trail":               "C",
	"GET /clinic":              "C",
	"GET /clinic/clinic.pdf":   "C",
	"GET /clinic/clinic.csv":   "C",

	"GET /classes":                                "CH",
	"POST /classes":                               "C",
	"GET /class/{class}":                          "CH",
	"GET /class/{class}/news":                     "CH",
	"GET /class/{class}/edit":                     "C",
	"POST /class/{class}/edit":                    "C",
	"POST /class/{class}/runners":                 "CH",
	"POST /class/{class}/runner/{runner}/here":    "CH",
	"POST /class/{class}/door":                    "C",
	"POST /class/{class}/door/end":                "C",
	"GET /class/{class}/board":                    "CH",
	"GET /class/{class}/board/news":               "CH",
	"GET /class/{class}/summary.pdf":              "C",
	"GET /class/{class}/runner/{runner}/film":     "CH",
	"POST /class/{class}/runner/{runner}/film":    "CH",
	"POST /class/{class}/runner/{runner}/uploads": "CH",
	"GET /class/{class}/clips":                    "CH",
	"GET /uploads/{upload}":                       "CH",
	"PATCH /uploads/{upload}":                     "CH",

	"GET /check/{check}":               "CH",
	"GET /check/{check}/news":          "CH",
	"GET /check/{check}/form-card.pdf": "C",
	"POST /check/{check}/word":         "C",
	"POST /check/{check}/again":        "C",
	"POST /check/{check}/plan":         "C",
	"GET /plan/{plan}":                 "C",
	"GET /plan/{plan}/plan.pdf":        "C",
	"GET /plan/{plan}/plan.ics":        "C",

	"GET /check/{check}/stride":           "CH",
	"POST /check/{check}/stride":          "C",
	"GET /check/{check}/stride/{picture}": "C", // a helper where the runner agreed

	"GET /people":                                      "CH",
	"GET /runner/{runner}":                             "CH",
	"GET /runner/{runner}/compare":                     "CH",
	"GET /runner/{runner}/compare.pdf":                 "CH",
	"GET /runner/{runner}/edit":                        "CH",
	"POST /runner/{runner}/edit":                       "CH",
	"GET /runner/{runner}/consent":                     "CH",
	"POST /runner/{runner}/consent":                    "CH",
	"POST /runner/{runner}/withdraw":                   "CH",
	"POST /runner/{runner}/notes":                      "C",
	"POST /runner/{runner}/links":                      "C",
	"POST /runner/{runner}/links/{link}/end":           "C",
	"GET /runner/{runner}/everything.json":             "C",
	"POST /runner/{runner}/forget":                     "C",
	"POST /runner/{runner}/practice":                   "C",
	"POST /runner/{runner}/practice/{activity}/delete": "C",
	"POST /my/{token}/practice":                        "O",
	"POST /my/{token}/practice/{activity}/delete":      "O",

	"GET /follow-up":                 "C",
	"GET /runner/{runner}/message":   "C",
	"POST /runner/{runner}/message":  "C",
	"POST /runner/{runner}/objects":  "C",
	"GET /runner/{runner}/again.ics": "C",
	"GET /stop/{token}":              "S",
	"POST /stop/{token}":             "S",

	"GET /door/{token}":  "D",
	"POST /door/{token}": "D",

	"GET /my/{token}":                             "O",
	"GET /my/{token}/compare":                     "O",
	"GET /my/{token}/compare.pdf":                 "O",
	"POST /my/{token}/withdraw":                   "O",
	"GET /my/{token}/check/{check}":               "OR",
	"GET /my/{token}/check/{check}/form-card.pdf": "OR",
	"GET /my/{token}/plan/{plan}":                 "OR",
	"GET /my/{token}/plan/{plan}/plan.pdf":        "OR",
	"GET /my/{token}/plan/{plan}/plan.ics":        "OR",

	"GET /my/{token}/check/{check}/stride":           "OR",
	"GET /my/{token}/check/{check}/stride/{picture}": "OR",

	"GET /invited/{token}":                    "I",
	"POST /invited/{token}/consent":           "I",
	"POST /invited/{token}/withdraw":          "I",
	"POST /invited/{token}/film":              "I",
	"POST /invited/{token}/uploads":           "I",
	"GET /invited/{token}/uploads/{upload}":   "I",
	"PATCH /invited/{token}/uploads/{upload}": "I",
}

// openToAll are the addresses that need nothing.
var openToAll = map[string]bool{
	"GET /{$}": true, "GET /static/{file}": true, "GET /begin": true, "POST /begin": true, "GET /sign-in": true, "POST /sign-in": true, "POST /sign-out": true, "POST /language": true,
}

// things are records of one runner in one class.
type things struct {
	runner                   roster.Runner
	class                    roster.Class
	released, kept           store.Check // decided, and not
	releasedPlan, keptPlan   store.Plan
	upload                   store.Upload
	activity                 store.Activity
	own, invited, door, over string // tokens
	stop                     string
	link                     store.Link
}

// check adds a check of an invented card.
func (r *room) check(t testing.TB, runner, class string, decided bool) (store.Check, store.Plan) {
	t.Helper()
	ctx := t.Context()
	c, err := r.db.AddCheck(ctx, store.Check{RunnerID: runner, ClassID: class, Kind: store.Running})
	if err != nil {
		t.Fatal(err)
	}
	invented := cardtest.Invented()
	invented.Pictures = nil
	earlier, err := r.db.RunnerChecks(ctx, runner)
	if err != nil {
		t.Fatal(err)
	}
	invented.Clip.Frames += len(earlier) // each check is of another clip
	object, err := json.Marshal(invented)
	if err != nil {
		t.Fatal(err)
	}
	if c, err = r.db.Measured(ctx, c.ID, store.Result{State: store.Ready, Card: object, Measures: invented.Measures}); err != nil {
		t.Fatal(err)
	}
	if decided {
		if c, err = r.db.Decide(ctx, c.ID, c.Version, "cadence", "seen in the room"); err != nil {
			t.Fatal(err)
		}
	}
	p, err := r.db.AddPlan(ctx, store.Plan{RunnerID: runner, CheckID: c.ID, Plan: inventedPlan(t)})
	if err != nil {
		t.Fatal(err)
	}
	return c, p
}

// inventedPlan is a plan with steps of cadence.
func inventedPlan(t testing.TB) json.RawMessage {
	t.Helper()
	own, err := plan.Load(drills.Files())
	if err != nil {
		t.Fatal(err)
	}
	ask := plan.Ask{
		Runner: "Ada", Area: "cadence", Why: "Quicker steps.", UsualWeekMin: 120, RunsPerWeek: 3, Weeks: 6,
		Cadence: &plan.Cadence{StepsPerMin: 158, SD: 1, SpeedMS: 2.8, Low: 163, High: 180, BandSource: "invented"}, Health: plan.Health{Asked: true},
	}
	if ask.Start, err = plan.ParseDate(time.Now().Format(time.DateOnly)); err != nil {
		t.Fatal(err)
	}
	p, err := plan.Make(ask, own)
	if err != nil {
		t.Fatal(err)
	}
	object, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	return object
}

func (r *room) things(t testing.TB, name string) things {
	t.Helper()
	ctx := t.Context()
	x := things{class: r.class(t)}
	x.runner = r.person(t, name, x.class, roster.Audience{Runner: true})
	x.released, x.releasedPlan = r.check(t, x.runner.ID, x.class.ID, true)
	x.kept, x.keptPlan = r.check(t, x.runner.ID, x.class.ID, false)
	var err error
	if x.upload, err = r.db.AddUpload(ctx, store.Upload{RunnerID: x.runner.ID, ClassID: x.class.ID, Kind: store.Running, Name: "a", Bytes: 10}); err != nil {
		t.Fatal(err)
	}
	if x.activity, err = r.db.AddActivity(ctx, store.Activity{RunnerID: x.runner.ID, Digest: "invented", Start: time.Now().Add(-time.Hour), Run: json.RawMessage(`{"kind":"running","digest":"invented","length_s":600,"running_s":600}`)}); err != nil {
		t.Fatal(err)
	}
	token := func(l store.Link, end bool) string {
		l.Expires = time.Now().Add(time.Hour)
		token, l, err := account.NewLink(ctx, r.db, l)
		if err == nil && end {
			err = r.db.RevokeLink(ctx, l.ID)
		}
		if err != nil {
			t.Fatal(err)
		}
		x.link = l
		return token
	}
	x.door = token(store.Link{Role: roster.Door, ClassID: x.class.ID}, false)
	x.over = token(store.Link{Role: roster.Own, RunnerID: x.runner.ID}, true)
	x.invited = token(store.Link{Role: roster.Invited, RunnerID: x.runner.ID}, false)
	x.stop = token(store.Link{Role: roster.Stop, RunnerID: x.runner.ID}, false)
	x.own = token(store.Link{Role: roster.Own, RunnerID: x.runner.ID}, false)
	return x
}

// path fills a pattern's places with the records of x.
func (x things) path(pattern, token string, released bool) string {
	c, p := x.kept, x.keptPlan
	if released {
		c, p = x.released, x.releasedPlan
	}
	return strings.NewReplacer("{class}", x.class.ID, "{runner}", x.runner.ID, "{check}", c.ID, "{plan}", p.ID, "{upload}", x.upload.ID, "{activity}", x.activity.ID,
		"{link}", x.link.ID, "{account}", "nobody", "{picture}", "0", "{token}", token).Replace(pattern)
}

// TestAuthorisation asks for every address as everybody: nobody, coach,
// helper, and the links of this runner and of another. The actions
// themselves are replaced by one that only says that it was reached.
func TestAuthorisation(t *testing.T) {
	r := newRoom(t, nil)
	coach, helper, nobody := r.signedIn(t, "nora", roster.Coach), r.signedIn(t, "hugo", roster.Helper), r.browser(t)
	ada, bob := r.things(t, "Ada"), r.things(t, "Bob")
	site := r.http.Config.Handler.(*Site)
	mux := http.NewServeMux()
	for _, rt := range site.routes() {
		if rt.kind == "" {
			if !openToAll[rt.pattern] {
				t.Errorf("%s is open to everybody, and shouldn't be", rt.pattern)
			}
			continue
		}
		if _, ok := allowed[rt.pattern]; !ok {
			t.Errorf("%s is not in the test's table", rt.pattern)
		}
		rt.do = func(v *visit) error { v.w.WriteHeader(http.StatusNoContent); return nil }
		mux.Handle(rt.pattern, site.guard(rt))
	}
	reached := httptest.NewTLSServer(mux)
	defer reached.Close()
	entered := func(b *browser, method, path string) bool {
		t.Helper()
		q := b.request(method, path, "", nil)
		q.URL.Host = strings.TrimPrefix(reached.URL, "https://")
		for _, c := range b.c.Jar.Cookies(b.request("GET", "/", "", nil).URL) {
			q.AddCookie(c)
		}
		got := b.do(q)
		switch got.status {
		case http.StatusNoContent:
			return true
		case http.StatusUnauthorized, http.StatusForbidden, http.StatusNotFound, http.StatusSeeOther:
			if strings.Contains(got.body, "Ada") {
				t.Errorf("%s %s: the refusal names the runner", method, path)
			}
			return false
		}
		t.Errorf("%s %s: status %d", method, path, got.status)
		return false
	}
	for pattern, who := range allowed {
		method, rest, _ := strings.Cut(pattern, " ")
		withLink := strings.Contains(rest, "{token}")
		visitors := map[string]struct {
			b     *browser
			token string
			let   bool
		}{
			"nobody":            {nobody, ada.over, false},
			"coach":             {coach, ada.over, strings.Contains(who, "C")},
			"helper":            {helper, ada.over, strings.Contains(who, "H")},
			"own link":          {nobody, ada.own, strings.Contains(who, "O")},
			"invitation":        {nobody, ada.invited, strings.Contains(who, "I")},
			"stop":              {nobody, ada.stop, strings.Contains(who, "S")},
			"door":              {nobody, ada.door, strings.Contains(who, "D")},
			"ended link":        {nobody, ada.over, false},
			"coach with a link": {coach, bob.own, strings.Contains(who, "C")},
		}
		for name, v := range visitors {
			for _, released := range []bool{true, false} {
				let := v.let && (!strings.Contains(who, "R") || released)
				if name == "coach with a link" && withLink {
					continue // a link of Bob's, below
				}
				if got := entered(v.b, method, ada.path(rest, v.token, released)); got != let {
					t.Errorf("%s as %s (released %v): let in %v, want %v", pattern, name, released, got, let)
				}
			}
		}
		if !withLink {
			continue
		}
		// Bob's links open Bob's things alone: where the address names a thing
		// of Ada's, they open nothing.
		names := strings.Contains(rest, "{check}") || strings.Contains(rest, "{plan}") || strings.Contains(rest, "{upload}") || strings.Contains(rest, "{activity}")
		for _, token := range []string{bob.own, bob.invited, bob.door, bob.stop} {
			for _, b := range []*browser{nobody, helper} {
				if names && entered(b, method, ada.path(rest, token, true)) {
					t.Errorf("%s: another runner's link opened it", pattern)
				}
			}
		}
	}
	for pattern := range allowed {
		found := false
		for _, rt := range site.routes() {
			found = found || rt.pattern == pattern
		}
		if !found {
			t.Errorf("%s is in the test's table and not among the routes", pattern)
		}
	}
}

// TestWhatIsShown: pages show only what their reader may know.
func TestWhatIsShown(t *testing.T) {
	r := newRoom(t, nil)
	coach, helper := r.signedIn(t, "nora", roster.Coach), r.signedIn(t, "hugo", roster.Helper)
	ada, bob := r.things(t, "Ada"), r.things(t, "Bob")
	if _, err := r.db.AddNote(t.Context(), store.Note{RunnerID: ada.runner.ID, Text: "a note of the coach"}); err != nil {
		t.Fatal(err)
	}
	page := "/runner/" + ada.runner.ID
	coach.get(page).want(t, 200, "contact of Ada", "history of Ada", "a note of the coach", "/plan/"+ada.releasedPlan.ID, "Delete this runner")
	for _, path := range []string{page, page + "/edit", "/class/" + ada.class.ID, "/check/" + ada.kept.ID} {
		got := helper.get(path)
		got.want(t, 200)
		for _, secret := range []string{"contact of Ada", "history of Ada", "a note of the coach", "/plan/", "everything.json", "Delete this runner", "Your word", "/links", "/practice", "from a watch"} {
			if strings.Contains(got.body, secret) {
				t.Errorf("a helper reads %q on %s", secret, path)
			}
		}
	}
	// What a helper sends about contact and health is not written.
	helper.post(page+"/edit", "version", "1", "name", "Ada", "height", "175", "contact", "other", "health_note", "other", "health-pain_now", "on").want(t, 303)
	if now, err := r.db.Runner(t.Context(), ada.runner.ID); err != nil || now.Contact != ada.runner.Contact || now.HealthNote != ada.runner.HealthNote || len(now.Health.Yes) != 0 {
		t.Errorf("a helper changed %+v", now)
	}
	own := r.browser(t).get("/my/" + ada.own)
	own.want(t, 200, "Ada", ada.released.ID, ada.releasedPlan.ID)
	for _, secret := range []string{"Bob", bob.runner.ID, ada.kept.ID, ada.keptPlan.ID, "history of Ada", "a note of the coach", "Sign out"} {
		if strings.Contains(own.body, secret) {
			t.Errorf("the private page shows %q", secret)
		}
	}
	trail, err := r.db.Entries(t.Context(), store.TrailFilter{RunnerID: ada.runner.ID}, 1000)
	if err != nil {
		t.Fatal(err)
	}
	saw := map[string]bool{}
	for _, e := range trail {
		if e.Action == string(roster.See) {
			saw[e.Who.Kind+" "+string(e.Kind)] = true
		}
	}
	for _, want := range []string{"account runner", "account check", "link runner"} {
		if !saw[want] {
			t.Errorf("the trail doesn't tell that %s was looked at: %v", want, saw)
		}
	}
	door := r.browser(t).get("/door/" + ada.door)
	if door.want(t, 200, "Sign in for tonight"); strings.Contains(door.body, "Ada") {
		t.Error("the door shows who is in the class")
	}
}
