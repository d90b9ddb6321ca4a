package web

import (
	"bytes"
	"encoding/json"
	"math/rand/v2"
	"mime/multipart"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"plumbstride/internal/evening"
	"plumbstride/internal/practice"
	"plumbstride/internal/practice/practicetest"
	"plumbstride/internal/roster"
	"plumbstride/internal/standin"
	"plumbstride/internal/store"
)

// watchFile is a file as a browser sends it.
type watchFile struct {
	name string
	data []byte
}

// sendRuns sends a form with files.
func (b *browser) sendRuns(path string, fields map[string]string, files ...watchFile) answer {
	b.t.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for _, name := range []string{"counts", "tempo"} {
		if err := w.WriteField(name, fields[name]); err != nil {
			b.t.Fatal(err)
		}
	}
	for _, f := range files {
		part, err := w.CreateFormFile("file", f.name)
		if err == nil {
			_, err = part.Write(f.data)
		}
		if err != nil {
			b.t.Fatal(err)
		}
	}
	if fields["agreed"] != "" {
		if err := w.WriteField("agreed", "on"); err != nil {
			b.t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		b.t.Fatal(err)
	}
	return b.do(b.request("POST", path, w.FormDataContentType(), &body))
}

// watchRuns are an invented runner's files of the last weeks, whose cadence
// rises at equal speed.
func watchRuns(t testing.TB, runs int, rise float64) (files []watchFile) {
	t.Helper()
	c := standin.NewCourse(time.Now().UTC().Truncate(time.Hour).Add(-time.Duration(float64(runs)*3.5*24) * time.Hour))
	c.Runs, c.EveryDays, c.Minutes, c.Rise, c.DaySD = runs, 3.5, 16, rise, 0.6
	for _, a := range c.Activities(rand.New(rand.NewPCG(4, 4))) {
		data, err := practicetest.FIT(a)
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, watchFile{a.Start.Format("2006-01-02") + ".fit", data})
	}
	return files
}

// TestPractice: a runner's own link takes their files, by form; a file again,
// a broken one and one of another sport are told with their reason; what is
// shown has intervals and cautions; the runner may take a run out again;
// without a yes nothing is kept; a helper neither sees nor adds.
func TestPractice(t *testing.T) {
	r := newRoom(t, nil)
	coach, helper, phone := r.signedIn(t, "nora", roster.Coach), r.signedIn(t, "hugo", roster.Helper), r.browser(t)
	ada := r.things(t, "Ada")
	if err := r.db.RemoveActivity(t.Context(), ada.activity.ID); err != nil {
		t.Fatal(err)
	}
	own, page := "/my/"+ada.own, "/runner/"+ada.runner.ID
	phone.get(own).want(t, 200, "No run of a watch is here yet", "Add runs from a watch", "Where the run went is not kept")
	files := watchRuns(t, 10, 8)
	phone.sendRuns(own+"/practice", nil, files[0]).want(t, 422, "tick the box")
	phone.sendRuns(own+"/practice", map[string]string{"agreed": "on"}).want(t, 422, "No file was chosen")
	phone.sendRuns(own+"/practice", map[string]string{"agreed": "on", "tempo": "many"}, files[0]).want(t, 422, "0 to 720")
	if got := r.kept(t, ada.runner.ID); len(got) != 0 {
		t.Fatalf("%d runs are kept without a yes", len(got))
	}
	got := phone.sendRuns(own+"/practice", map[string]string{"agreed": "on", "tempo": "10"}, files...)
	got.want(t, 200, "kept, ", "cadence rose over these runs", "Cadence at equal speed, by week", "<svg", "Pain means stop", "FIT protocol")
	if n := len(r.kept(t, ada.runner.ID)); n != 10 {
		t.Fatalf("%d runs are kept, want 10", n)
	}
	broken := watchFile{"<b>x\u202e.fit", files[0].data[:400]}
	phone.sendRuns(own+"/practice", map[string]string{"agreed": "on"}, files[0], broken, watchFile{"a.fit", []byte("hello")}).
		want(t, 200, "is there already", "cut short or damaged", "neither a FIT nor a GPX", "&lt;b&gt;x.fit")
	coach.get(page).want(t, 200, "cadence rose over these runs", "Delete this run")
	if got := helper.get(page); strings.Contains(got.body, "Practice") || strings.Contains(got.body, "cadence rose") {
		t.Error("a helper sees the practice")
	}
	helper.sendRuns(page+"/practice", map[string]string{"agreed": "on"}, files[0]).want(t, http.StatusForbidden)
	first := r.kept(t, ada.runner.ID)[0]
	if first.Run.TempoMin != 10 {
		t.Errorf("%g minutes with tempo, want 10", first.Run.TempoMin)
	}
	phone.post(own+"/practice/"+first.ID+"/delete").want(t, http.StatusSeeOther)
	if n := len(r.kept(t, ada.runner.ID)); n != 9 {
		t.Errorf("%d runs are left, want 9", n)
	}
	// All that is kept is exported, none of it is a place, and it goes with the runner.
	all := coach.get(page + "/everything.json")
	all.want(t, 200, `"cadence_spm"`)
	if regexp.MustCompile(`"lat|"lon|latitude|heart`).MatchString(all.body) {
		t.Error("places or the heart rate are kept")
	}
	coach.post(page+"/forget", "name", "Ada").want(t, http.StatusSeeOther)
	if n := len(r.kept(t, ada.runner.ID)); n != 0 {
		t.Errorf("%d runs outlive their runner", n)
	}
}

func (r *room) kept(t testing.TB, runnerID string) []evening.Practised {
	t.Helper()
	got, err := evening.PracticeOf(t.Context(), r.db, runnerID)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// TestPracticeAgainstPlan: the target follows the steps of the runner's plan,
// and the minutes asked for stand beside those that were run.
func TestPracticeAgainstPlan(t *testing.T) {
	r := newRoom(t, nil)
	coach := r.signedIn(t, "nora", roster.Coach)
	ada := r.things(t, "Ada") // its plans begin today
	soon := practice.Run{Kind: practice.Running, Digest: "soon", Start: time.Now().Add(8 * 24 * time.Hour), LengthS: 1200, RunningS: 1200, RunningCadence: 165, Spread: []practice.Share{{CadenceSPM: 165, Seconds: 1200}}}
	object, err := json.Marshal(soon)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.db.AddActivity(t.Context(), store.Activity{RunnerID: ada.runner.ID, Digest: soon.Digest, Start: soon.Start, Run: object}); err != nil {
		t.Fatal(err)
	}
	coach.get("/runner/"+ada.runner.ID).want(t, 200, "Target of the plan:", "Minutes in the band, by week", "20 min", "Planned")
}

// TestPracticeInABrowser: files that are dropped on the form are in it, and
// the section holds at a phone's width by day and a laptop's at night.
func TestPracticeInABrowser(t *testing.T) {
	for _, screen := range []struct {
		name          string
		width, height int64
		dark          bool
	}{{"practice-phone", 390, 844, false}, {"practice-laptop", 1280, 800, true}} {
		t.Run(screen.name, func(t *testing.T) {
			r := newRoom(t, nil)
			ada := r.things(t, "Ada")
			own := "/my/" + ada.own
			if err := r.db.RemoveActivity(t.Context(), ada.activity.ID); err != nil {
				t.Fatal(err)
			}
			r.browser(t).sendRuns(own+"/practice", map[string]string{"agreed": "on", "tempo": "12"}, watchRuns(t, 12, 8)...).want(t, 200)
			w := r.open(t, screen.name, screen.width, screen.height, screen.dark)
			w.call(t)
			w.visit(t, own)
			w.look(t, "closed")
			dropped, err := chromedp.Run(w.ctx, chromedp.Evaluate[string](`(() => {
				document.querySelectorAll('section[aria-labelledby=practice] details').forEach((d) => { d.open = true; });
				const form = document.querySelector('form[data-drop]'), data = new DataTransfer();
				data.items.add(new File(['x'], 'dropped.fit'));
				form.dispatchEvent(new DragEvent('drop', { dataTransfer: data, bubbles: true, cancelable: true }));
				return form.querySelector('input[type=file]').files[0]?.name + ', then ' + document.activeElement.name;
			})()`))
			if err != nil || dropped != "dropped.fit, then agreed" {
				t.Errorf("dropped: %q, %v", dropped, err)
			}
			w.look(t, "open")
		})
	}
}
