package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// slow reads a few kilobytes at a time, with a breath between, and breaks off
// after some: a phone on a crowded Wi-Fi.
type slow struct {
	from  io.Reader
	left  int
	pause time.Duration
}

var errLost = errors.New("the Wi-Fi is gone")

func (s *slow) Read(p []byte) (int, error) {
	if s.left <= 0 {
		return 0, errLost
	}
	time.Sleep(s.pause)
	n, err := s.from.Read(p[:min(len(p), s.left, 8<<10)])
	s.left -= n
	return n, err
}

// TestTwentyPhones: twenty phones send at once, slowly, and every connection
// breaks several times; each clip arrives whole and is measured exactly once.
func TestTwentyPhones(t *testing.T) {
	const phones = 20
	r := newRoom(t, line)
	c := r.class(t)
	b := r.signedIn(t, "hugo", roster.Helper)
	data := clip(t)
	runners := make([]roster.Runner, phones)
	for i := range runners {
		runners[i] = r.person(t, fmt.Sprintf("Runner %d", i), c, roster.Audience{})
	}
	var all sync.WaitGroup
	for i := range runners {
		all.Go(func() { sendSlowly(t, b, c.ID, runners[i].ID, data, rand.New(rand.NewPCG(1, uint64(i)))) })
	}
	all.Wait()
	r.settled(t)
	for _, p := range runners {
		checks, err := r.db.RunnerChecks(t.Context(), p.ID)
		if err != nil || len(checks) != 1 || checks[0].State != store.Ready {
			t.Fatalf("%s has %d checks (%v)", p.Name, len(checks), err)
		}
		files, err := r.db.RunnerFootage(t.Context(), p.ID)
		if err != nil || files[0].Bytes != int64(len(data)) {
			t.Errorf("the clip of %s has %d bytes, not %d", p.Name, files[0].Bytes, len(data))
		}
	}
}

// sendSlowly sends one clip as the page's script does.
func sendSlowly(t *testing.T, b *browser, class, runner string, data []byte, dice *rand.Rand) {
	ask := func(method, path string, body io.Reader, length int64) (p progress, err error) {
		q := b.request(method, path, "application/json", body)
		q.Header.Set("Accept", "application/json")
		if length > 0 {
			q.ContentLength = length
		}
		got, err := b.c.Do(q)
		if err != nil {
			return p, err
		}
		defer got.Body.Close()
		if got.StatusCode >= 400 && got.StatusCode != http.StatusConflict {
			t.Errorf("%s %s: %d", method, path, got.StatusCode)
		}
		return p, json.NewDecoder(got.Body).Decode(&p)
	}
	said, err := ask("POST", "/class/"+class+"/runner/"+runner+"/uploads", strings.NewReader(fmt.Sprintf(`{"name":"a.mov","bytes":%d,"speed":"10"}`, len(data))), 0)
	if err != nil {
		t.Error(err)
		return
	}
	up, broken := "/uploads/"+said.ID, 0
	for have := int64(0); ; {
		piece := data[have:min(int64(len(data)), have+200<<10)]
		left := len(piece) + 1
		if broken < 3 {
			left = 1 + dice.IntN(len(piece))
			broken++
		}
		p, err := ask("PATCH", fmt.Sprintf("%s?offset=%d", up, have), &slow{bytes.NewReader(piece), left, time.Millisecond}, int64(len(piece)))
		if err != nil {
			if p, err = ask("GET", up, nil, 0); err != nil {
				t.Error(err)
				return
			}
		}
		if have = p.Have; p.Check != "" {
			return
		}
	}
}

// hostile are texts that somebody might send in any field.
var hostile = []string{
	`<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, `{{.}}`, "a\x00b", "\u202egnp.exe", strings.Repeat("W", 5000), "=cmd()", "../../etc/passwd",
	"'; DROP TABLE runner; --", "\xff\xfe", "👩‍🏃", " ", "%s%n",
}

// TestHostileWords: whatever is written in a form comes back as text, or is
// refused with a sentence; nothing breaks.
func TestHostileWords(t *testing.T) {
	r := newRoom(t, nil)
	b := r.signedIn(t, "nora", roster.Coach)
	x := r.things(t, "Ada")
	page := func(name string, got answer) {
		t.Helper()
		if got.status >= 500 {
			t.Errorf("%s: status %d: %s", name, got.status, got.body)
		}
		for _, raw := range []string{"<script>alert", "<img src=x", "\x00"} {
			if strings.Contains(got.body, raw) {
				t.Errorf("%s: %q came back as it is", name, raw)
			}
		}
	}
	class, runner, check := "/class/"+x.class.ID, "/runner/"+x.runner.ID, "/check/"+x.kept.ID
	for _, text := range hostile {
		page("class", b.post("/classes", "date", time.Now().Format(time.DateOnly), "title", text, "place", text, "note", text))
		page("date", b.post("/classes", "date", text, "capacity", text, "keep_days", text))
		page("runner", b.post(class+"/runners", "name", text, "height", "170", "shoes", text, "goals", text, "contact", text, "sex", text))
		page("numbers", b.post(class+"/runners", "name", "x", "height", text, "mass", text, "birth_year", text))
		page("from the roster", b.post(class+"/runners", "runner", text))
		page("consent", b.post(runner+"/consent?class="+x.class.ID, "film", text, "given_by", text, "keep_days", text))
		page("here", b.post(class+runner+"/here", "presence", text))
		page("word", b.post(check+"/word", "area", text, "reason", text, "version", text))
		page("plan", b.post("/check/"+x.released.ID+"/plan", "usual", text, "runs", text, "weeks", text, "start", text, "note", text))
		page("note", b.post(runner+"/notes", "text", text))
		page("edit", b.post(runner+"/edit", "name", text, "height", text, "pace", text, "version", text))
		page("link", b.post(runner+"/links", "role", text, "class", text))
		page("forget", b.post(runner+"/forget", "name", text+"x"))
		page("account", b.post("/accounts", "name", text, "role", text, "password", text))
		page("door", r.browser(t).post("/door/"+x.door, "name", text, "height", "170", "birth_year", "1990", "contact", text, "film", text, "given_by", text))
		page("sign in", r.browser(t).post("/sign-in", "name", text+"y", "password", text, "next", text))
	}
	if got := b.get(class + "/summary.pdf"); got.status != 200 {
		t.Errorf("the summary: %d", got.status)
	}
	for _, path := range []string{"/classes", class, class + "/board", runner, runner + "/edit", "/people", "/accounts", "/my/" + x.own} {
		page(path, b.get(path))
	}
}

// TestHostileUploads: what is no clip, or too much, or for nobody, leaves
// nothing behind and says why.
func TestHostileUploads(t *testing.T) {
	r := newRoom(t, line)
	b := r.signedIn(t, "nora", roster.Coach)
	c := r.class(t)
	p := r.person(t, "Ada", c, roster.Audience{})
	film := "/class/" + c.ID + "/runner/" + p.ID + "/film"
	b.film(film, []byte{}).want(t, 422, "is empty")
	b.film(film, []byte("GIF89a no clip")).want(t, 303)
	r.settled(t)
	b.get("/class/"+c.ID).want(t, 200, "no clip that can be read", "again")
	b.film("/class/"+c.ID+"/runner/nobody/film", clip(t)).want(t, 404)
	b.do(b.request("POST", film, "multipart/form-data; boundary=x", strings.NewReader("--x\r\nbroken"))).want(t, 422)
	b.do(b.request("POST", film, "text/plain", strings.NewReader("clip"))).want(t, 422)
	big := b.request("POST", "/classes", "application/x-www-form-urlencoded", strings.NewReader("date=2026-03-02&note="+strings.Repeat("x", 2*maxForm)))
	if got := b.do(big); got.status >= 500 {
		t.Errorf("a form of half a megabyte: %d", got.status)
	}
	checks, err := r.db.RunnerChecks(t.Context(), p.ID)
	if err != nil || len(checks) != 1 || checks[0].State != store.Refused {
		t.Errorf("%d checks, %v", len(checks), err)
	}
	// Consent taken back ends what is on its way.
	u, err := r.db.AddUpload(t.Context(), store.Upload{RunnerID: p.ID, ClassID: c.ID, Kind: store.Running, Name: "a", Bytes: 4})
	if err != nil {
		t.Fatal(err)
	}
	if err := r.shelf.Begin(u); err != nil {
		t.Fatal(err)
	}
	b.post("/runner/"+p.ID+"/withdraw").want(t, 303)
	if got := b.do(b.request("PATCH", "/uploads/"+u.ID+"?offset=0", "", strings.NewReader("clip"))); got.status < 400 {
		t.Errorf("a piece after consent was taken back: %d", got.status)
	}
	files, err := r.db.RunnerFootage(t.Context(), p.ID)
	for _, f := range files {
		if f.Gone.IsZero() && f.Kind != store.Track {
			t.Errorf("%+v is still kept", f)
		}
	}
	if err != nil {
		t.Error(err)
	}
}
