package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"plumbstride/internal/account"
	"plumbstride/internal/home"
	"plumbstride/internal/plan"
	"plumbstride/internal/roster"
	"plumbstride/internal/standin"
	"plumbstride/internal/store"
	"plumbstride/internal/store/sqlite"
	"plumbstride/internal/track"
)

// clinicRoom is a data folder that a program of its own serves, without a
// decoder on its path: tracks are measured, clips can't be.
type clinicRoom struct {
	t       *testing.T
	dir     string
	class   roster.Class
	runner  roster.Runner
	program *exec.Cmd
	out     *spoken
	base    string
	c       *http.Client
}

const coachPassword = "three calm plumb bobs"

func newClinicRoom(t *testing.T) *clinicRoom {
	t.Helper()
	r := &clinicRoom{t: t, dir: filepath.Join(t.TempDir(), "home")}
	if err := os.MkdirAll(r.dir, 0o700); err != nil {
		t.Fatal(err)
	}
	db := r.open()
	defer db.Close()
	ctx := t.Context()
	desk, err := account.New(db, time.Now, account.DefaultCost())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := desk.Add(ctx, db, "nora", coachPassword, roster.Coach); err != nil {
		t.Fatal(err)
	}
	day, err := plan.ParseDate(time.Now().Format(time.DateOnly))
	if err != nil {
		t.Fatal(err)
	}
	if r.class, err = db.AddClass(ctx, roster.Class{Date: day}); err != nil {
		t.Fatal(err)
	}
	if r.runner, err = db.AddRunner(ctx, roster.Runner{Name: "Invented Ida", BirthYear: 1990, HeightM: standin.DefaultRunner().HeightM}); err != nil {
		t.Fatal(err)
	}
	if _, err := db.AddConsent(ctx, roster.Consent{RunnerID: r.runner.ID, Film: true, GivenBy: r.runner.Name, Words: "I agree."}); err != nil {
		t.Fatal(err)
	}
	return r
}

func (r *clinicRoom) open() *sqlite.Database {
	r.t.Helper()
	db, err := sqlite.Open(context.Background(), home.Folder(r.dir).Database(), time.Now)
	if err != nil {
		r.t.Fatal(err)
	}
	return db
}

// serve starts the program and signs in.
func (r *clinicRoom) serve(flags ...string) {
	r.t.Helper()
	program, err := exec.LookPath("plumbstride")
	if err != nil {
		r.t.Fatal(err)
	}
	r.program, r.out = exec.Command(program, append([]string{"serve", "--http", "--address", "127.0.0.1:0"}, flags...)...), &spoken{}
	r.program.Env = []string{home.Variable + "=" + r.dir, "HOME=" + r.t.TempDir(), "PATH=" + r.t.TempDir()}
	r.program.Stdout, r.program.Stderr = r.out, r.out
	if err := r.program.Start(); err != nil {
		r.t.Fatal(err)
	}
	r.t.Cleanup(r.kill)
	for deadline := time.Now().Add(time.Minute); !strings.Contains(r.out.String(), "Ctrl-C"); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(deadline) {
			r.t.Fatalf("it never serves: %s", r.out)
		}
	}
	r.base = strings.TrimSuffix(regexp.MustCompile(`http://localhost:\d+/`).FindString(r.out.String()), "/")
	jar, err := cookiejar.New(nil)
	if err != nil {
		r.t.Fatal(err)
	}
	r.c = &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	form := url.Values{"name": {"nora"}, "password": {coachPassword}}
	if status, body := r.do("POST", "/sign-in", "application/x-www-form-urlencoded", strings.NewReader(form.Encode())); status != http.StatusSeeOther {
		r.t.Fatalf("signing in: %d %s", status, body)
	}
}

// kill ends the program as a power cut does.
func (r *clinicRoom) kill() {
	if r.program != nil {
		_ = r.program.Process.Kill()
		_ = r.program.Wait()
		r.program = nil
	}
}

func (r *clinicRoom) do(method, path, kind string, body io.Reader) (int, string) {
	r.t.Helper()
	q, err := http.NewRequestWithContext(r.t.Context(), method, r.base+path, body)
	if err != nil {
		r.t.Fatal(err)
	}
	q.Header.Set("Content-Type", kind)
	q.Header.Set("Sec-Fetch-Site", "same-origin")
	q.Header.Set("Accept", "application/json")
	got, err := r.c.Do(q)
	if err != nil {
		r.t.Fatal(err)
	}
	defer got.Body.Close()
	text, err := io.ReadAll(got.Body)
	if err != nil {
		r.t.Fatal(err)
	}
	return got.StatusCode, string(text)
}

// announce says that a clip comes.
func (r *clinicRoom) announce(name string, bytes int) (int, string) {
	r.t.Helper()
	text, err := json.Marshal(map[string]any{"name": name, "bytes": bytes, "kind": "running"})
	if err != nil {
		r.t.Fatal(err)
	}
	return r.do("POST", fmt.Sprintf("/class/%s/runner/%s/uploads", r.class.ID, r.runner.ID), "application/json", strings.NewReader(string(text)))
}

// upload sends a clip and gives its check.
func (r *clinicRoom) upload(name string, content []byte) (checkID string) {
	r.t.Helper()
	status, body := r.announce(name, len(content))
	var p struct{ ID, Check string }
	if err := json.Unmarshal([]byte(body), &p); err != nil || status != http.StatusCreated {
		r.t.Fatalf("announcing %s: %d %s", name, status, body)
	}
	status, body = r.do("PATCH", "/uploads/"+p.ID+"?offset=0", "application/octet-stream", bytes.NewReader(content))
	if err := json.Unmarshal([]byte(body), &p); err != nil || status != http.StatusOK || p.Check == "" {
		r.t.Fatalf("sending %s: %d %s", name, status, body)
	}
	return p.Check
}

// inventedRunFor is the track of an invented runner that many seconds long.
func inventedRunFor(t *testing.T, seconds, rate float64) []byte {
	t.Helper()
	cam := standin.DefaultCamera()
	cam.RateHz = rate
	points, _, err := standin.Track(standin.DefaultRunner(), cam, seconds, rand.New(rand.NewPCG(1, 2)))
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := track.Write(&b, points); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// until waits for something in the records.
func (r *clinicRoom) until(what string, patience time.Duration, done func(*sqlite.Database) bool) {
	r.t.Helper()
	db := r.open()
	defer db.Close()
	for deadline := time.Now().Add(patience); !done(db); time.Sleep(20 * time.Millisecond) {
		if time.Now().After(deadline) {
			r.t.Fatalf("%s: never; %s", what, r.out)
		}
	}
}

func (r *clinicRoom) check(db *sqlite.Database, id string) store.Check {
	r.t.Helper()
	c, err := db.Check(context.Background(), id)
	if err != nil {
		r.t.Fatal(err)
	}
	return c
}

// TestServeKilledMidCheck: the program is killed while it measures. Started
// again, it finishes the check exactly once; meanwhile a clip that can't be
// measured fails after its tries, with the reason, and blocks nobody.
func TestServeKilledMidCheck(t *testing.T) {
	r := newClinicRoom(t)
	r.serve()
	long := r.upload("long.csv", inventedRunFor(t, 60, 240))
	var tries int
	r.until("the check is begun", time.Minute, func(db *sqlite.Database) bool {
		jobs, err := db.CheckJobs(context.Background(), long)
		if err != nil || len(jobs) != 1 {
			t.Fatal(jobs, err)
		}
		if jobs[0].State == store.JobDone {
			t.Fatal("it was measured before it could be killed: make the track longer")
		}
		tries = jobs[0].Tries
		return jobs[0].State == store.JobRunning
	})
	r.kill()
	r.until("the check waits", time.Second, func(db *sqlite.Database) bool { return tries == 1 && r.check(db, long).State == store.Waiting })
	r.serve()
	poisoned := r.upload("poisoned.mp4", bytes.Repeat([]byte("\x00\x00\x00\x18ftypmp42 no clip at all "), 400))
	short := r.upload("short.csv", inventedRunFor(t, 8, 60))
	r.until("all three have ended", 3*time.Minute, func(db *sqlite.Database) bool {
		for _, id := range []string{long, poisoned, short} {
			if r.check(db, id).State == store.Waiting {
				return false
			}
		}
		return true
	})
	db := r.open()
	defer db.Close()
	if c := r.check(db, long); c.State != store.Ready {
		t.Errorf("the check that was killed: %s %s", c.State, c.Refusal)
	}
	failed, quick := r.check(db, poisoned), r.check(db, short)
	if failed.State != store.Failed || !strings.Contains(failed.Refusal, "ffmpeg") {
		t.Errorf("the poisoned clip: %s %q", failed.State, failed.Refusal)
	}
	if quick.State != store.Ready || !quick.Measured.Before(failed.Measured) {
		t.Errorf("the clip behind it: %s, measured %v, the poisoned one given up %v", quick.State, quick.Measured, failed.Measured)
	}
	for id, want := range map[string]int{long: 2, poisoned: 3, short: 1} {
		jobs, err := db.CheckJobs(t.Context(), id)
		if err != nil || len(jobs) != 1 || jobs[0].Tries != want {
			t.Errorf("%d tries expected: %+v, %v", want, jobs, err)
		}
	}
	files, err := db.CheckFootage(t.Context(), long)
	if err != nil {
		t.Fatal(err)
	}
	tracks := 0
	for _, f := range files {
		if f.Kind == store.Track && f.Gone.IsZero() {
			tracks++
		}
	}
	past, err := db.History(t.Context(), r.runner.ID)
	if err != nil {
		t.Fatal(err)
	}
	cadences := 0
	for _, p := range past {
		if p.CheckID == long && p.Name == "cadence" {
			cadences++
		}
	}
	if tracks != 1 || cadences != 1 {
		t.Errorf("%d tracks and %d cadences of a check that is done once", tracks, cadences)
	}
}

// TestServeNearlyFull: where the disk has no room, a clip is refused when it
// is announced, with a sentence that says what to do, and nothing is kept.
func TestServeNearlyFull(t *testing.T) {
	r := newClinicRoom(t)
	r.serve("--keep-free", "900000TB")
	status, body := r.announce("a.mp4", 1<<20)
	if status != http.StatusUnprocessableEntity || !strings.Contains(body, "disk is nearly full") || !strings.Contains(body, "purge") {
		t.Errorf("%d %s", status, body)
	}
	db := r.open()
	defer db.Close()
	if u, err := db.RunnerUploads(t.Context(), r.runner.ID); err != nil || len(u) != 0 {
		t.Errorf("%+v is kept, %v", u, err)
	}
}
