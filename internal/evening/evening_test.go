package evening

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"plumbstride/internal/body"
	"plumbstride/internal/card"
	"plumbstride/internal/check"
	"plumbstride/internal/form"
	"plumbstride/internal/media"
	"plumbstride/internal/plan"
	"plumbstride/internal/roster"
	"plumbstride/internal/standin"
	"plumbstride/internal/store"
	"plumbstride/internal/store/sqlite"
	"plumbstride/internal/track"
	"plumbstride/internal/work"
)

// room is a data folder with a runner who agreed and a clip on its way.
type room struct {
	db     *sqlite.Database
	shelf  *media.Folder
	runner roster.Runner
}

func newRoom(t *testing.T) *room {
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
	t.Cleanup(func() { _, _ = db.Close(), shelf.Close() })
	r, err := db.AddRunner(t.Context(), roster.Runner{
		Name: "Ada", BirthYear: 1990, HeightM: standin.DefaultRunner().HeightM, Sex: roster.Female,
		Health: plan.Health{Asked: true, Yes: []plan.Reason{plan.PainNow}},
	})
	if err != nil {
		t.Fatal(err)
	}
	return &room{db, shelf, r}
}

func (r *room) agree(t *testing.T, c roster.Consent) {
	t.Helper()
	c.RunnerID, c.Film, c.GivenBy, c.Words = r.runner.ID, true, "Ada", "I agree."
	if _, err := r.db.AddConsent(t.Context(), c); err != nil {
		t.Fatal(err)
	}
}

// clip uploads the track of an invented runner in place of a video, and
// gives the check that waits.
func (r *room) clip(t *testing.T) store.Check {
	t.Helper()
	points, _, err := standin.Track(standin.DefaultRunner(), standin.DefaultCamera(), 8, rand.New(rand.NewPCG(1, 2)))
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := track.Write(&b, points); err != nil {
		t.Fatal(err)
	}
	u, err := r.db.AddUpload(t.Context(), store.Upload{
		RunnerID: r.runner.ID, Kind: store.Running, Name: "secret name.mov", Bytes: int64(b.Len()), Ask: AskFor(r.runner, 3).JSON(),
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := r.shelf.Begin(u); err != nil {
		t.Fatal(err)
	}
	if _, err := r.shelf.Append(t.Context(), u, 0, &b); err != nil {
		t.Fatal(err)
	}
	c, err := media.Complete(t.Context(), r.db, r.shelf, u.ID, Job())
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// line measures the track that lies in the clip's place with the line's own
// stages, and adds two pictures, of which one has lines that are no numbers.
func line(asked *check.Ask) Measure {
	return func(ctx context.Context, kind store.CheckKind, path string, ask check.Ask, tell func(check.Progress)) (*check.Outcome, error) {
		if kind != store.Running {
			return nil, errors.New("another kind of check")
		}
		*asked = ask
		tell(check.Progress{Stage: "reading", Done: 1, Total: 2})
		data, err := os.ReadFile(path)
		if err != nil {
			return nil, err
		}
		out, err := check.Track(ctx, check.Deps{Program: "test", Now: time.Now}, bytes.NewReader(data), ask)
		if err != nil {
			return nil, err
		}
		img := image.NewRGBA(image.Rect(0, 0, 40, 60))
		for i := range img.Pix {
			img.Pix[i] = 200
		}
		img.Set(3, 4, color.Black)
		out.Card.Clip.File = path
		out.Card.Pictures = []card.Picture{
			{Title: "left foot, initial contact", Moment: "initial contact", TimeS: 1.5, Side: form.Left, Image: img, CentreOfMass: [2]float64{20, 30}, Tilt: 0.1,
				Body: []card.Line{{X1: 1, Y1: 2, X2: 3, Y2: 4}}, GroundY: 55},
			{Title: "left foot, mid-stance", Image: img, CentreOfMass: [2]float64{math.NaN(), 1}, GroundY: math.Inf(1), Body: []card.Line{{X1: math.NaN()}}},
		}
		return out, nil
	}
}

// run runs the queue until nothing waits.
func (r *room) run(t *testing.T, m Measure) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	q := work.New(quick{r.db}, work.Options{Poll: 5 * time.Millisecond, Kinds: map[string]work.Kind{JobKind: Kind(r.db, r.shelf, m)}, Trouble: func(err error) { t.Error(err) }})
	var ended sync.WaitGroup
	ended.Go(func() { q.Run(ctx) })
	for deadline := time.Now().Add(time.Minute); ; time.Sleep(5 * time.Millisecond) {
		jobs, err := r.db.Queue(t.Context())
		if err != nil || time.Now().After(deadline) {
			t.Fatal("the queue never came to an end", err)
		}
		if len(jobs) == 0 {
			break
		}
	}
	cancel()
	ended.Wait()
}

// quick is a store whose jobs needn't wait before they are tried again.
type quick struct{ store.Store }

func (q quick) RetryJob(ctx context.Context, j store.Job, reason string, _ time.Duration) error {
	return q.Store.RetryJob(ctx, j, reason, 0)
}

func (r *room) check(t *testing.T, id string) store.Check {
	t.Helper()
	c, err := r.db.Check(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// TestMeasured: a clip becomes a card with its pictures, measures and track,
// and measured again, the old pictures go.
func TestMeasured(t *testing.T) {
	r := newRoom(t)
	r.agree(t, roster.Consent{Pictures: true, Faces: true})
	id := r.clip(t).ID
	var asked check.Ask
	r.run(t, line(&asked))
	if asked.Name != "Ada" || asked.HeightM != r.runner.HeightM || asked.SpeedMS != 3 || asked.Sex != body.Female || !asked.ShowFace || !asked.Pain {
		t.Errorf("asked %+v", asked)
	}
	c := r.check(t, id)
	if c.State != store.Ready || strings.Contains(string(c.Card), "secret") || strings.Contains(string(c.Card), "clips/") {
		t.Fatalf("%+v", c)
	}
	past, err := r.db.History(t.Context(), r.runner.ID)
	if err != nil || len(past) < 10 {
		t.Errorf("%d measures, %v", len(past), err)
	}
	cd, err := Card(t.Context(), r.db, r.shelf, c)
	if err != nil || len(cd.Pictures) != 2 || cd.Runner.Name != "Ada" || len(cd.Measures) != len(past) {
		t.Fatalf("%d pictures, %v", len(cd.Pictures), err)
	}
	one, two := cd.Pictures[0], cd.Pictures[1]
	if one.Image.Bounds() != image.Rect(0, 0, 40, 60) || one.TimeS != 1.5 || one.Side != form.Left || one.Tilt != 0.1 || len(one.Body) != 1 || one.GroundY != 55 {
		t.Errorf("%+v", one)
	}
	if two.CentreOfMass != [2]float64{} || two.GroundY != 0 || len(two.Body) != 0 {
		t.Errorf("%+v", two)
	}
	job := Job()
	job.CheckID = id
	if _, err := r.db.AddJob(t.Context(), job); err != nil {
		t.Fatal(err)
	}
	r.run(t, line(&asked))
	kept := map[store.FootageKind]int{}
	files, err := r.db.CheckFootage(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if f.Gone.IsZero() {
			kept[f.Kind]++
		}
	}
	if kept[store.Picture] != 2 || kept[store.Track] != 1 || kept[store.Clip] != 1 {
		t.Errorf("measured twice, there are %v", kept)
	}
	// When the pictures' time is over the card stays.
	if err := r.db.RemoveFootage(t.Context(), files[len(files)-1].ID); err != nil {
		t.Fatal(err)
	}
	if cd, err := Card(t.Context(), r.db, r.shelf, r.check(t, id)); err != nil || len(cd.Pictures) > 2 || len(cd.Measures) == 0 {
		t.Errorf("%+v, %v", cd.Pictures, err)
	}
}

func TestNoPictures(t *testing.T) {
	r := newRoom(t)
	r.agree(t, roster.Consent{})
	id := r.clip(t).ID
	var asked check.Ask
	r.run(t, line(&asked))
	if asked.ShowFace {
		t.Error("the face is shown unasked")
	}
	cd, err := Card(t.Context(), r.db, r.shelf, r.check(t, id))
	if err != nil || len(cd.Pictures) != 0 || len(cd.Measures) == 0 {
		t.Errorf("%d pictures, %v", len(cd.Pictures), err)
	}
	if n, err := r.shelf.Sweep(t.Context(), nil, time.Now().Add(time.Hour)); err != nil || n != 2 {
		t.Errorf("%d files, not the clip and the track alone (%v)", n, err)
	}
}

// TestConsentChangesMeanwhile: a face that may no longer be seen is not kept.
func TestConsentChangesMeanwhile(t *testing.T) {
	r := newRoom(t)
	r.agree(t, roster.Consent{Pictures: true, Faces: true})
	id := r.clip(t).ID
	var faces []bool
	r.run(t, func(ctx context.Context, kind store.CheckKind, path string, ask check.Ask, tell func(check.Progress)) (*check.Outcome, error) {
		if faces = append(faces, ask.ShowFace); len(faces) == 1 {
			r.agree(t, roster.Consent{Pictures: true})
		}
		var asked check.Ask
		return line(&asked)(ctx, kind, path, ask, tell)
	})
	if len(faces) != 2 || !faces[0] || faces[1] {
		t.Errorf("faces shown: %v", faces)
	}
	if c := r.check(t, id); c.State != store.Ready {
		t.Errorf("%+v", c)
	}
}

func TestRefusedAndFailed(t *testing.T) {
	r := newRoom(t)
	r.agree(t, roster.Consent{})
	fail := func(err error) Measure {
		return func(context.Context, store.CheckKind, string, check.Ask, func(check.Progress)) (*check.Outcome, error) {
			return nil, err
		}
	}
	dark := r.clip(t).ID
	r.run(t, fail(form.ClipError("it is too dark; film with more light")))
	if c := r.check(t, dark); c.State != store.Refused || !strings.Contains(c.Refusal, "too dark") {
		t.Errorf("%+v", c)
	}
	if _, err := Card(t.Context(), r.db, r.shelf, r.check(t, dark)); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a card of a refused clip: %v", err)
	}
	broken := r.clip(t).ID
	r.run(t, fail(errors.New("the decoder is ill")))
	jobs, err := r.db.CheckJobs(t.Context(), broken)
	if c := r.check(t, broken); err != nil || c.State != store.Failed || !strings.Contains(c.Refusal, "decoder is ill") || jobs[0].Tries != tries {
		t.Errorf("%+v, %+v, %v", c, jobs, err)
	}
	gone := r.clip(t)
	if err := r.db.RemoveFootage(t.Context(), gone.ClipID); err != nil {
		t.Fatal(err)
	}
	r.run(t, fail(errors.New("never asked")))
	if c := r.check(t, gone.ID); c.State != store.Refused || !strings.Contains(c.Refusal, "no longer kept") {
		t.Errorf("%+v", c)
	}
}

// TestForgottenMeanwhile: of a runner who is forgotten while the clip is
// measured no file is left.
func TestForgottenMeanwhile(t *testing.T) {
	r := newRoom(t)
	r.agree(t, roster.Consent{Pictures: true})
	r.clip(t)
	r.run(t, func(ctx context.Context, kind store.CheckKind, path string, ask check.Ask, tell func(check.Progress)) (*check.Outcome, error) {
		var asked check.Ask
		out, err := line(&asked)(ctx, kind, path, ask, tell)
		if err := media.Forget(context.Background(), r.db, r.shelf, r.runner.ID, store.Who{Kind: "command"}); err != nil {
			t.Error(err)
		}
		return out, err
	})
	if n, err := r.shelf.Sweep(t.Context(), nil, time.Now().Add(time.Hour)); err != nil || n != 0 {
		t.Errorf("%d files are left, %v", n, err)
	}
}
