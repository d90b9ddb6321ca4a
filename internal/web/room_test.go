package web

import (
	"context"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"plumbstride/internal/account"
	"plumbstride/internal/evening"
	"plumbstride/internal/media"
	"plumbstride/internal/plan"
	"plumbstride/internal/plan/drills"
	"plumbstride/internal/roster"
	"plumbstride/internal/store/sqlite"
	"plumbstride/internal/work"
)

// room is a shop with its pages served over TLS on loopback.
type room struct {
	db    *sqlite.Database
	shelf *media.Folder
	desk  *account.Desk
	queue *work.Queue
	http  *httptest.Server
	said  *strings.Builder // what the log said
}

// cheap is a hash that costs next to nothing: for tests alone.
var cheap = account.Cost{Memory: 64, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32}

const password = "seven quiet plumb lines"

// newRoom opens a shop with nobody in it. What the queue measures with may
// be nil: then it does not run.
func newRoom(t testing.TB, measure evening.Measure) *room {
	t.Helper()
	dir := t.TempDir()
	db, err := sqlite.Open(t.Context(), filepath.Join(dir, "a.db"), time.Now)
	if err != nil {
		t.Fatal(err)
	}
	shelf, err := media.OpenFolder(filepath.Join(dir, "media"), media.Limits{File: 1 << 30})
	if err != nil {
		t.Fatal(err)
	}
	r := &room{db: db, shelf: shelf, said: &strings.Builder{}}
	if r.desk, err = account.New(db, time.Now, cheap); err != nil {
		t.Fatal(err)
	}
	own, err := plan.Load(drills.Files())
	if err != nil {
		t.Fatal(err)
	}
	r.queue = work.New(db, work.Options{
		Kinds: map[string]work.Kind{evening.JobKind: evening.Kind(db, shelf, measure)}, Workers: 2, Poll: 20 * time.Millisecond,
		Trouble: func(err error) { t.Errorf("the queue: %v", err) },
	})
	ended := make(chan struct{})
	ctx, stop := context.WithCancel(context.Background())
	if measure != nil {
		go func() { defer close(ended); r.queue.Run(ctx) }()
	} else {
		close(ended)
	}
	site, err := New(Parts{DB: db, Shelf: shelf, Queue: r.queue, Desk: r.desk, Now: time.Now, Drills: own, Program: "plumbstride test", Log: testLog{t, r.said}})
	if err != nil {
		t.Fatal(err)
	}
	r.http = httptest.NewTLSServer(site)
	t.Cleanup(func() {
		r.http.CloseClientConnections()
		r.http.Close()
		stop()
		<-ended
		_, _ = db.Close(), shelf.Close()
	})
	return r
}

// testLog shows what the site's log says among the test's own lines.
type testLog struct {
	t    testing.TB
	said *strings.Builder
}

func (l testLog) Write(p []byte) (int, error) {
	l.t.Logf("log: %s", p)
	return l.said.Write(p)
}

// browser is somebody's, with cookies of its own.
type browser struct {
	t    testing.TB
	room *room
	c    *http.Client
}

func (r *room) browser(t testing.TB) *browser {
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	c := *r.http.Client()
	c.Jar = jar
	c.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return &browser{t, r, &c}
}

// answer is what came back.
type answer struct {
	status int
	to     string // of a redirect
	body   string
	head   http.Header
}

func (b *browser) do(r *http.Request) answer {
	b.t.Helper()
	got, err := b.c.Do(r)
	if err != nil {
		b.t.Fatal(err)
	}
	defer got.Body.Close()
	body, err := io.ReadAll(got.Body)
	if err != nil {
		b.t.Fatal(err)
	}
	return answer{got.StatusCode, got.Header.Get("Location"), string(body), got.Header}
}

func (b *browser) request(method, path, kind string, body io.Reader) *http.Request {
	b.t.Helper()
	r, err := http.NewRequestWithContext(b.t.Context(), method, b.room.http.URL+path, body)
	if err != nil {
		b.t.Fatal(err)
	}
	if kind != "" {
		r.Header.Set("Content-Type", kind)
	}
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	return r
}

func (b *browser) get(path string) answer {
	b.t.Helper()
	return b.do(b.request("GET", path, "", nil))
}

// post sends a form: names and values in turn.
func (b *browser) post(path string, fields ...string) answer {
	b.t.Helper()
	form := url.Values{}
	for i := 0; i+1 < len(fields); i += 2 {
		form.Add(fields[i], fields[i+1])
	}
	return b.do(b.request("POST", path, "application/x-www-form-urlencoded", strings.NewReader(form.Encode())))
}

// signedIn makes an account and gives its browser.
func (r *room) signedIn(t testing.TB, name string, role roster.Role) *browser {
	t.Helper()
	if _, err := r.desk.Add(t.Context(), r.db, name, password, role); err != nil {
		t.Fatal(err)
	}
	b := r.browser(t)
	if got := b.post("/sign-in", "name", name, "password", password); got.status != http.StatusSeeOther {
		t.Fatalf("signing in as %s: %d %s", name, got.status, got.body)
	}
	return b
}
