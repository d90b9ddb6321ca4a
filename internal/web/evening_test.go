package web

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"math/rand/v2"
	"mime/multipart"
	"net/http"
	"os"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"plumbstride/internal/card"
	"plumbstride/internal/check"
	"plumbstride/internal/form"
	"plumbstride/internal/plan"
	"plumbstride/internal/roster"
	"plumbstride/internal/standin"
	"plumbstride/internal/store"
	"plumbstride/internal/track"
)

// line measures the track that lies in a clip's place with the line's own
// stages, and adds one picture: decoding and networks are tested elsewhere.
func line(ctx context.Context, _ store.CheckKind, path string, ask check.Ask, tell func(check.Progress)) (*check.Outcome, error) {
	tell(check.Progress{Stage: "pose", Done: 1, Total: 2})
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	if !bytes.Contains(data[:min(len(data), 4000)], []byte("time_s,")) {
		return nil, form.ClipError("this is no clip that can be read; film again")
	}
	out, err := check.Track(ctx, check.Deps{Program: "test", Now: time.Now}, bytes.NewReader(data), ask)
	if err != nil {
		return nil, err
	}
	img := image.NewRGBA(image.Rect(0, 0, 300, 540))
	for y := range 540 {
		for x := range 300 {
			img.Set(x, y, color.RGBA{uint8(120 + y/6), uint8(130 + y/7), 150, 255})
		}
	}
	out.Card.Pictures = []card.Picture{{
		Title: "left foot, initial contact", Moment: "initial contact", TimeS: 1.5, Side: form.Left, Image: img,
		CentreOfMass: [2]float64{150, 260}, Body: []card.Line{{X1: 150, Y1: 120, X2: 140, Y2: 270}, {X1: 140, Y1: 270, X2: 170, Y2: 480}}, GroundY: 500,
	}}
	return out, nil
}

var oneTrack = sync.OnceValues(func() ([]byte, error) {
	points, _, err := standin.Track(standin.DefaultRunner(), standin.DefaultCamera(), 8, rand.New(rand.NewPCG(1, 2)))
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	err = track.Write(&b, points)
	return b.Bytes(), err
})

// clip is the track of an invented runner, as it lies in a clip's place.
func clip(t testing.TB) []byte {
	t.Helper()
	data, err := oneTrack()
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// class makes tonight's class.
func (r *room) class(t testing.TB) roster.Class {
	t.Helper()
	day, err := plan.ParseDate(time.Now().Format(time.DateOnly))
	if err != nil {
		t.Fatal(err)
	}
	c, err := r.db.AddClass(t.Context(), roster.Class{Title: "Invented class", Date: day, Capacity: 12})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// person adds a runner who is here and agreed to everything.
func (r *room) person(t testing.TB, name string, c roster.Class, shown roster.Audience) roster.Runner {
	t.Helper()
	p, err := r.db.AddRunner(t.Context(), roster.Runner{Name: name, BirthYear: 1990, HeightM: standin.DefaultRunner().HeightM, Contact: "contact of " + name, HealthNote: "history of " + name})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.db.AddConsent(t.Context(), roster.Consent{RunnerID: p.ID, Film: true, Pictures: true, GivenBy: name, Words: "I agree.", Shown: shown}); err != nil {
		t.Fatal(err)
	}
	if _, err := r.db.Attend(t.Context(), roster.Attendance{ClassID: c.ID, RunnerID: p.ID, Presence: roster.Here}); err != nil {
		t.Fatal(err)
	}
	return p
}

// film sends a clip by a plain form.
func (b *browser) film(path string, clips ...[]byte) answer {
	b.t.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	_ = w.WriteField("kind", "running")
	_ = w.WriteField("speed", "10,8")
	for i, c := range clips {
		f, err := w.CreateFormFile("clip", fmt.Sprintf("clip %d.mov", i))
		if err != nil {
			b.t.Fatal(err)
		}
		_, _ = f.Write(c)
	}
	if err := w.Close(); err != nil {
		b.t.Fatal(err)
	}
	return b.do(b.request("POST", path, w.FormDataContentType(), &body))
}

// settled waits until nothing is in the line.
func (r *room) settled(t testing.TB) {
	t.Helper()
	changes, stop := r.queue.Watch()
	defer stop()
	for deadline := time.After(2 * time.Minute); ; {
		jobs, err := r.db.Queue(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if len(jobs) == 0 {
			return
		}
		select {
		case <-changes:
		case <-time.After(50 * time.Millisecond):
		case <-deadline:
			t.Fatal("the line never came to an end")
		}
	}
}

// last is the last part of the path of a redirect.
func last(to string) string {
	to, _, _ = strings.Cut(to, "#")
	to, _, _ = strings.Cut(to, "?")
	return to[strings.LastIndex(to, "/")+1:]
}

func (a answer) want(t testing.TB, status int, words ...string) {
	t.Helper()
	if a.status != status {
		t.Errorf("status %d, want %d: %.600s", a.status, status, a.body)
	}
	for _, w := range words {
		if !strings.Contains(a.body, w) {
			t.Errorf("%q is not in the answer %.3000s", w, a.body)
		}
	}
}

// TestEvening walks the whole evening with forms alone: class, runner,
// consent, clip, card, the coach's word, plan, private link, summary.
func TestEvening(t *testing.T) {
	r := newRoom(t, line)
	b := r.signedIn(t, "nora", roster.Coach)
	made := b.post("/classes", "date", time.Now().Format(time.DateOnly), "title", "Invented class", "capacity", "12")
	class := "/class/" + last(made.to)
	if got := b.get("/"); got.to != class {
		t.Errorf("the coach is led to %q, not to tonight's class %q (%s)", got.to, class, made.body)
	}
	b.get(class).want(t, 200, "Nobody is here yet")
	b.post(class+"/runners", "name", "", "height", "172").want(t, 422, "role=\"alert\"")
	b.post(class+"/runners", "name", "Ada <b>", "height", "17").want(t, 422, "Ada &lt;b&gt;", "between 100 and 230 cm")
	added := b.post(class+"/runners", "name", "Ada", "height", "175", "birth_year", "1990")
	runner := strings.TrimSuffix(strings.Split(added.to, "?")[0], "/consent")
	b.get(class).want(t, 200, "Ada", "Ask consent", "consent first")

	film := class + "/runner/" + last(runner) + "/film"
	if got := b.get(film); !strings.Contains(got.to, "/consent") {
		t.Errorf("filming without consent leads to %q", got.to)
	}
	b.film(film, clip(t)).want(t, 422, "consent")
	if files, err := r.db.RunnerFootage(t.Context(), last(runner)); err != nil || len(files) != 0 {
		t.Fatalf("a clip was stored without consent: %v %v", files, err)
	}
	b.get(added.to).want(t, 200, "no medical examination")
	b.post(added.to, "given_by", "Ada").want(t, 422, "Without a yes to filming")
	if got := b.post(added.to, "film", "on", "pictures", "on", "runner_sees", "on", "given_by", "Ada"); got.status != 303 {
		t.Fatalf("consent: %d %s", got.status, got.body)
	}
	b.get(film).want(t, 200, "hip height", "capture=\"environment\"", "8 seconds or more")
	b.film(film).want(t, 422, "No clip was chosen")
	if got := b.film(film, clip(t)); got.status != 303 {
		t.Fatalf("filming: %d %s", got.status, got.body)
	}
	r.settled(t)
	b.get(class).want(t, 200, "To be confirmed")
	checks, err := r.db.RunnerChecks(t.Context(), last(runner))
	if err != nil || len(checks) != 1 {
		t.Fatal(checks, err)
	}
	c := "/check/" + checks[0].ID
	b.get(c).want(t, 200, "class=\"form-card\"", "Your word", "data:image/jpeg", `value="`+fmt.Sprint(checks[0].Version)+`"`)
	b.post(c+"/plan", "usual", "120").want(t, 422, "Confirm what to work on first")
	b.post(c+"/word", "area", "cadence", "version", fmt.Sprint(checks[0].Version)).want(t, 422, "reason")
	if got := b.post(c+"/word", "area", "cadence", "version", fmt.Sprint(checks[0].Version), "reason", "Heard it on the belt."); got.status != 303 {
		t.Fatalf("overruling: %d %s", got.status, got.body)
	}
	b.post(c+"/word", "area", "lean", "version", fmt.Sprint(checks[0].Version), "reason", "Kept for you.").want(t, 409, "Somebody else changed", "Kept for you.", "Heard it on the belt.")
	if all, err := r.db.Decisions(t.Context(), checks[0].ID); err != nil || len(all) != 1 || all[0].Proposed == "cadence" {
		t.Errorf("the words kept: %+v %v", all, err)
	}
	evening2(t, r, b, class, runner, c)
}

// evening2 is the evening from the plan on.
func evening2(t *testing.T, r *room, b *browser, class, runner, c string) {
	fields := []string{"usual", "120", "runs", "3", "weeks", "6", "start", "2026-03-02", "asked", "on"}
	b.post(c+"/plan", "usual", "x", "runs", "3", "weeks", "6", "start", "2026-03-02", "asked", "on").want(t, 422, "usual week", `value="x"`)
	b.post(c+"/plan", append(fields, "health-pain_now", "on")...).want(t, 422)
	made := b.post(c+"/plan", fields...)
	if made.status != 303 {
		t.Fatalf("plan: %d %s", made.status, made.body)
	}
	b.get(made.to).want(t, 200, "form-plan", "Pain", "Private link and code")
	for path, kind := range map[string]string{made.to + "/plan.pdf": "%PDF", made.to + "/plan.ics": "BEGIN:VCALENDAR", c + "/form-card.pdf": "%PDF", class + "/summary.pdf": "%PDF"} {
		if got := b.get(path); got.status != 200 || !strings.HasPrefix(got.body, kind) {
			t.Errorf("%s: %d %.100s", path, got.status, got.body)
		}
	}
	b.get(class+"/board").want(t, 200, "What to demonstrate", "Ada")
	handed := b.post(runner+"/links", "role", "own")
	handed.want(t, 200, "<svg class=\"qr\"", "/my/")
	own := regexp.MustCompile(`/my/[a-z0-9]+`).FindString(handed.body)
	stranger := r.browser(t)
	stranger.get(own).want(t, 200, "Ada", "Pain means stop", "Each measure in time")
	stranger.get(own+c).want(t, 200, "form-card", "data:image/jpeg")
	stranger.get(own+made.to).want(t, 200, "form-plan", "Take it with you")
	if got := stranger.get(own + made.to + "/plan.ics"); got.status != 200 {
		t.Errorf("the runner's calendar: %d", got.status)
	}
	id := regexp.MustCompile(`/links/([a-z0-9]+)/end`).FindStringSubmatch(b.get(runner).body)
	if id == nil {
		t.Fatal("the link isn't on the runner's page")
	}
	if got := b.post(runner + "/links/" + id[1] + "/end"); got.status != 303 {
		t.Errorf("ending the link: %d %s", got.status, got.body)
	}
	stranger.get(own).want(t, 404, "opens nothing")
	b.get(runner+"/everything.json").want(t, 200, `"decisions"`)
	b.post(runner+"/notes", "text", "Watch the left <i>ankle</i>.").want(t, 303)
	b.get(runner).want(t, 200, "left &lt;i&gt;ankle")
	edit := b.get(runner + "/edit")
	version := regexp.MustCompile(`name="version" value="(\d+)"`).FindStringSubmatch(edit.body)[1]
	b.post(runner+"/edit", "version", version, "name", "Ada", "height", "175", "birth_year", "1990", "goals", "Ten kilometres").want(t, 303)
	b.post(runner+"/edit", "version", version, "name", "Ada", "height", "175", "goals", "Not lost").want(t, 409, "Not lost")
	b.post(runner+"/forget", "name", "Bob").want(t, 422, "Nothing was deleted")
	b.post(runner+"/forget", "name", "Ada").want(t, 303)
	b.get(runner).want(t, 404)
}

// TestPieces: a clip comes in pieces over connections that break, and is
// whole in the end; a piece that leaves a gap is told where to go on.
func TestPieces(t *testing.T) {
	r := newRoom(t, line)
	b := r.signedIn(t, "nora", roster.Coach)
	c := r.class(t)
	p := r.person(t, "Ada", c, roster.Audience{})
	data := clip(t)
	var got progress
	ask := func(method, path string, body []byte, want int) {
		t.Helper()
		q := b.request(method, path, "application/json", bytes.NewReader(body))
		q.Header.Set("Accept", "application/json")
		a := b.do(q)
		if got = (progress{}); a.status != want || json.Unmarshal([]byte(a.body), &got) != nil {
			t.Fatalf("%s %s: %d %s", method, path, a.status, a.body)
		}
	}
	to := "/class/" + c.ID + "/runner/" + p.ID + "/uploads"
	ask("POST", to, []byte(`{"name":"../../etc/passwd","bytes":-1}`), 422)
	ask("POST", to, []byte(`not json`), 422)
	ask("POST", to, fmt.Appendf(nil, `{"name":"../../a\u202eb.mov","bytes":%d,"kind":"running","speed":"10"}`, len(data)), 201)
	up := "/uploads/" + got.ID
	ask("PATCH", up+"?offset=10", data[10:20], http.StatusConflict)
	if got.Have != 0 {
		t.Errorf("%d bytes are here", got.Have)
	}
	ask("PATCH", up+"?offset=0", data[:1000], 200)
	ask("PATCH", up+"?offset=500", data[500:2000], 200) // a piece sent again
	ask("GET", up, nil, 200)
	if got.Have != 2000 || got.Check != "" {
		t.Fatalf("%+v", got)
	}
	ask("PATCH", up+"?offset=2000", append(data[2000:], 'x'), 422)
	ask("GET", up, nil, 200)
	ask("PATCH", fmt.Sprintf("%s?offset=%d", up, got.Have), data[got.Have:], 200)
	if got.Check == "" {
		t.Fatalf("%+v", got)
	}
	ask("PATCH", up+"?offset=0", data, 200) // the answer was lost: asked again
	r.settled(t)
	checks, err := r.db.RunnerChecks(t.Context(), p.ID)
	if err != nil || len(checks) != 1 || checks[0].State != store.Ready {
		t.Fatalf("%d checks, %v", len(checks), err)
	}
	files, err := r.db.RunnerFootage(t.Context(), p.ID)
	if err != nil || files[0].Name != "ab.mov" {
		t.Errorf("the clip is called %q, %v", files[0].Name, err)
	}
}
