package cli

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"image"
	"io"
	mathrand "math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"time"

	"plumbstride/internal/account"
	"plumbstride/internal/card"
	"plumbstride/internal/check"
	"plumbstride/internal/evening"
	"plumbstride/internal/form"
	"plumbstride/internal/media"
	"plumbstride/internal/plan"
	"plumbstride/internal/practice"
	"plumbstride/internal/roster"
	"plumbstride/internal/standin"
	"plumbstride/internal/store"
	"plumbstride/internal/track"
	"plumbstride/internal/work"
)

// The demo's shop: a data folder of four evenings and people who do not exist.
// Their checks go the same way as anybody's, from invented tracks.
const (
	demoSetting = "demo" // in the records: "filled"
	demoShop    = "The Invented Shop"
	demoSays    = "Invented for the demo; nobody is meant."
	signInName  = "sign-in.txt"
	demoAccount = "demo"
	weeksApart  = 8
	trackSecs   = 8
)

// shopFiller fills a data folder.
type shopFiller struct {
	e      *errand
	folder string
	tell   func(what string, done, all int)
	// filmed is the check of the demo's own clip, which lies at clip; nil
	// without one.
	filmed *check.Outcome
	clip   string

	coach     store.Who
	done, all int
	classes   []roster.Class
	runners   map[string]roster.Runner
	checks    int
	catalogue plan.Catalogue
}

// shopState tells what a folder is: not there or empty, the demo's own, or
// somebody's real records, which are an error.
func shopState(ctx context.Context, dir string, now func() time.Time) (filled bool, err error) {
	entries, err := os.ReadDir(dir)
	switch {
	case errors.Is(err, os.ErrNotExist) || err == nil && len(entries) == 0:
		return false, nil
	case err != nil:
		return false, form.UsageError("the folder %s for the invented shop can't be read: %w", dir, err)
	}
	refused := form.UsageError("%s holds records or files that are not the demo's; nothing was changed. Name another folder with --shop", dir)
	if !holdsRecords(dir) {
		return false, refused
	}
	r, err := openFolder(ctx, dir, now)
	if err != nil {
		return false, err
	}
	defer r.close()
	if mark, err := r.db.Setting(ctx, demoSetting); err != nil || mark != "filled" {
		return false, errors.Join(err, refused)
	}
	return true, nil
}

// fillShop fills a folder that is new. It appears whole or not at all: what a
// demo that was killed left is begun anew.
func fillShop(f *shopFiller, dir string) error {
	part := strings.TrimRight(dir, string(filepath.Separator)) + ".part"
	if err := os.RemoveAll(part); err != nil {
		return form.UsageError("what an earlier demo left in %s can't be removed: %w", part, err)
	}
	if err := os.MkdirAll(part, 0o700); err != nil {
		return form.UsageError("the folder %s can't be made: %w", part, err)
	}
	f.folder = part
	if err := f.fill(); err != nil {
		return errors.Join(err, os.RemoveAll(part))
	}
	if err := os.Remove(dir); err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("the folder of the invented shop: %w", err)
	}
	if err := os.Rename(part, dir); err != nil {
		return fmt.Errorf("the folder of the invented shop: %w", err)
	}
	return nil
}

// fill makes all evenings.
func (f *shopFiller) fill() (err error) {
	if f.catalogue, err = catalogueWith(""); err != nil {
		return err
	}
	var first, again, before, tonight []arrival
	for i, g := range invented {
		switch {
		case i >= len(standin.Clinic()):
			first = append(first, arrival{i, true})
			if g.Back {
				again = append(again, arrival{i, false})
			}
		default:
			tonight = append(tonight, arrival{i, false})
			if g.Before != nil {
				before = append(before, arrival{i, true})
			}
		}
	}
	f.runners = map[string]roster.Runner{}
	f.all = len(first) + len(again) + len(before) + len(tonight)
	if f.filmed != nil {
		f.all++
	}
	today := f.e.now()
	if err := f.season(today, first, again); err != nil {
		return err
	}
	past := today.AddDate(0, 0, -7*weeksApart)
	err = f.evening(past, roster.Class{Title: "Invented clinic, first evening", Place: demoShop, Coach: "Nobody (invented)", Capacity: 12, Note: demoSays}, before, true)
	if err != nil {
		return err
	}
	// The evening began an hour ago.
	return f.evening(today.Add(-time.Hour), roster.Class{Title: "Invented clinic, tonight", Place: demoShop, Coach: "Nobody (invented)", Capacity: 16, Note: demoSays}, tonight, false)
}

// season makes both evenings of the season before.
func (f *shopFiller) season(today time.Time, first, again []arrival) error {
	for _, one := range []struct {
		weeks int
		title string
		who   []arrival
	}{{30, "Invented clinic, the season before", first}, {21, "Invented clinic, the season before: filmed again", again}} {
		class := roster.Class{Title: one.title, Place: demoShop, Coach: "Nobody (invented)", Capacity: len(first), Note: demoSays, KeepDays: roster.MaxKeepDays}
		if err := f.evening(today.AddDate(0, 0, -7*one.weeks), class, one.who, true); err != nil {
			return err
		}
	}
	return nil
}

// evening opens the records at a time and takes the guests through it.
func (f *shopFiller) evening(at time.Time, class roster.Class, guests []arrival, past bool) error {
	ctx, began := f.e.ctx, f.e.now()
	now := func() time.Time { return at.Add(f.e.now().Sub(began)) }
	r, err := openFolder(ctx, f.folder, now)
	if err != nil {
		return err
	}
	defer r.close()
	db, shelf := r.db, r.shelf
	if f.coach.ID == "" {
		if err := f.signIn(db, now); err != nil {
			return err
		}
	}
	s := db.By(f.coach)
	if class.Date, err = plan.ParseDate(at.Format(time.DateOnly)); err != nil {
		return err
	}
	if class, err = s.AddClass(ctx, class); err != nil {
		return err
	}
	f.classes = append(f.classes, class)
	for _, a := range guests {
		if err := f.arrive(s, shelf, class, a); err != nil {
			return fmt.Errorf("%s: %w", a.guest().Name, err)
		}
	}
	if !past {
		if err := f.atTheDoor(s, shelf, class); err != nil {
			return err
		}
	}
	if err := f.measure(s, shelf, now); err != nil {
		return err
	}
	if err := f.words(s, class, past); err != nil {
		return err
	}
	if past {
		return nil
	}
	if err := f.practice(s); err != nil {
		return err
	}
	return s.SetSetting(ctx, demoSetting, "filled")
}

// signIn makes the demo's account, with a password of its own, which stands
// in a file beside the records.
func (f *shopFiller) signIn(db store.Database, now func() time.Time) error {
	desk, err := account.New(db, now, account.DefaultCost())
	if err != nil {
		return err
	}
	password := strings.ToLower(rand.Text()[:12])
	a, err := desk.Add(f.e.ctx, db.By(command()), demoAccount, password, roster.Coach)
	if err != nil {
		return err
	}
	f.coach = store.Who{Kind: "account", ID: a.ID}
	text := fmt.Sprintf("The invented shop's account, for the demo on this machine alone.\nname      %s\npassword  %s\n", demoAccount, password)
	if err := os.WriteFile(filepath.Join(f.folder, signInName), []byte(text), 0o600); err != nil {
		return fmt.Errorf("the demo's account: %w", err)
	}
	return nil
}

// arrive brings a guest to an evening, with consent and a clip. The rng of
// a run is drawn from its name, so that every demo is the same.
func (f *shopFiller) arrive(s store.Store, shelf *media.Folder, class roster.Class, a arrival) error {
	ctx, g, run := f.e.ctx, a.guest(), a.run()
	r, there := f.runners[g.Name]
	if !there {
		var err error
		r, err = s.AddRunner(ctx, roster.Runner{
			Name: g.Name, Contact: a.contact(), BirthYear: 1962 + 3*a.number%45, HeightM: g.Now.HeightM, MassKg: g.Now.MassKg,
			Paces: []roster.Pace{{Name: "easy", SpeedMS: run.SpeedMS}}, Goals: demoSays, Health: plan.Health{Asked: true, Yes: []plan.Reason{}},
		})
		if err != nil {
			return err
		}
		f.runners[g.Name] = r
		// One agreed to numbers alone, one may be seen with the face.
		c := roster.Consent{
			RunnerID: r.ID, Film: true, Pictures: a.number != 11 && !a.season(), Faces: a.number == 7, Shown: roster.Audience{Helpers: true, Runner: true},
			GivenBy: g.Name, Words: "The invented consent of somebody invented, for the demo.",
		}
		if _, err := s.AddConsent(ctx, c); err != nil {
			return err
		}
	}
	if _, err := s.Attend(ctx, roster.Attendance{ClassID: class.ID, RunnerID: r.ID, Presence: roster.Here}); err != nil {
		return err
	}
	points, err := inventedTrack(run)
	if err != nil {
		return err
	}
	head := fmt.Sprintf("# invented: %d %t\n", a.number, a.before)
	return f.send(s, shelf, class, r, "invented-track.csv", run.SpeedMS, io.MultiReader(strings.NewReader(head), points), int64(len(head)+points.Len()))
}

// send brings a clip in as a phone does.
func (f *shopFiller) send(s store.Store, shelf *media.Folder, class roster.Class, r roster.Runner, name string, speed float64, from io.Reader, bytes int64) error {
	ctx := f.e.ctx
	u, err := s.AddUpload(ctx, store.Upload{
		RunnerID: r.ID, ClassID: class.ID, Kind: store.Running, Name: name, Bytes: bytes, Ask: evening.AskFor(r, speed).JSON(),
	})
	if err != nil {
		return err
	}
	if err := shelf.Begin(u); err != nil {
		return err
	}
	if _, err := shelf.Append(ctx, u, 0, from); err != nil {
		return err
	}
	f.checks++
	_, err = media.Complete(ctx, s, shelf, u.ID, evening.Job())
	return err
}

// atTheDoor adds those of tonight who have not been filmed: two who wait, and
// the runner of the demo's own clip.
func (f *shopFiller) atTheDoor(s store.Store, shelf *media.Folder, class roster.Class) error {
	ctx := f.e.ctx
	for i, name := range []string{"Noor Invented", "Otto Invented"} {
		r, err := s.AddRunner(ctx, roster.Runner{Name: name, BirthYear: 1990 + 5*i, HeightM: 1.7, Goals: demoSays})
		if err != nil {
			return err
		}
		presence := roster.Here
		if i == 1 {
			presence = roster.Expected
		}
		if _, err := s.Attend(ctx, roster.Attendance{ClassID: class.ID, RunnerID: r.ID, Presence: presence}); err != nil {
			return err
		}
		f.runners[name] = r
	}
	if f.filmed == nil {
		return nil
	}
	runner, _, _, _ := standin.Demo()
	r, err := s.AddRunner(ctx, roster.Runner{Name: runner.Name, BirthYear: 1994, HeightM: runner.HeightM, MassKg: runner.MassKg, Goals: demoSays})
	if err != nil {
		return err
	}
	f.runners[runner.Name] = r
	if _, err := s.AddConsent(ctx, roster.Consent{RunnerID: r.ID, Film: true, Pictures: true, GivenBy: r.Name, Shown: roster.Audience{Helpers: true, Runner: true}, Words: "The invented consent of somebody invented, for the demo."}); err != nil {
		return err
	}
	if _, err := s.Attend(ctx, roster.Attendance{ClassID: class.ID, RunnerID: r.ID, Presence: roster.Here}); err != nil {
		return err
	}
	clip, err := os.Open(f.clip)
	if err != nil {
		return fmt.Errorf("the demo's clip: %w", err)
	}
	defer clip.Close()
	st, err := clip.Stat()
	if err != nil {
		return fmt.Errorf("the demo's clip: %w", err)
	}
	return f.send(s, shelf, class, r, clipName, 0, clip, st.Size())
}

// measure runs the queue until nothing waits.
func (f *shopFiller) measure(s store.Store, shelf *media.Folder, now func() time.Time) error {
	ctx, stop := context.WithCancel(f.e.ctx)
	defer stop()
	var mu sync.Mutex
	var trouble error
	line := func(ctx context.Context, _ store.CheckKind, path string, ask check.Ask, _ func(check.Progress)) (*check.Outcome, error) {
		out, err := f.run(ctx, path, ask, now)
		mu.Lock()
		defer mu.Unlock()
		f.done++
		f.tell("Fill the invented shop", f.done, f.all)
		return out, err
	}
	q := work.New(s, work.Options{
		Kinds:   map[string]work.Kind{evening.JobKind: evening.Kind(s, shelf, line)},
		Workers: max(1, runtime.NumCPU()), Poll: 100 * time.Millisecond,
		Trouble: func(err error) { mu.Lock(); trouble = errors.Join(trouble, err); mu.Unlock() },
	})
	changes, end := q.Watch()
	defer end()
	ended := make(chan struct{})
	go func() { defer close(ended); q.Run(ctx) }()
	err := f.untilEmpty(ctx, s, changes)
	stop()
	<-ended
	return errors.Join(err, trouble)
}

func (f *shopFiller) untilEmpty(ctx context.Context, s store.Store, changes <-chan struct{}) error {
	tick := time.NewTicker(200 * time.Millisecond)
	defer tick.Stop()
	for {
		jobs, err := s.Queue(ctx)
		if err != nil || len(jobs) == 0 {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-changes:
		case <-tick.C:
		}
	}
}

// run measures what lies in a clip's place: the track of a guest, or the
// demo's own clip, which has been measured already.
func (f *shopFiller) run(ctx context.Context, path string, ask check.Ask, now func() time.Time) (*check.Outcome, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("the invented clip: %w", err)
	}
	var a arrival
	if n, _ := fmt.Sscanf(string(data[:min(len(data), 40)]), "# invented: %d %t", &a.number, &a.before); n != 2 {
		out := *f.filmed
		out.Card.Runner.Name = ask.Name
		return &out, nil
	}
	r := a.run()
	deps := check.Deps{Program: "plumbstride " + Version, Now: now}
	if a.season() { // numbers alone, which is quick
		return check.Track(ctx, deps, bytes.NewReader(data), ask)
	}
	cam := inventedCamera()
	scene := standin.DefaultScene()
	scene.Look = a.guest().Look
	deps.Frames = func(ctx context.Context, times []float64) ([]*image.RGBA, error) {
		m, err := standin.NewMotion(r, trackSecs, inventedRand(r))
		if err != nil {
			return nil, err
		}
		return m.Pictures(ctx, cam, scene, times)
	}
	return check.Track(ctx, deps, bytes.NewReader(data), ask)
}

// invented are all guests: those of the clinic, then those of the season before.
var invented = append(standin.Clinic(), standin.Season()...)

// arrival is a guest who comes to an evening: their number among the invented,
// and whether they run as they did at first.
type arrival struct {
	number int
	before bool
}

func (a arrival) guest() standin.Guest { return invented[a.number] }

func (a arrival) season() bool { return a.number >= len(standin.Clinic()) }

// contact is an address that can't be anybody's (RFC 2606); every third gave none.
func (a arrival) contact() string {
	if a.number%3 == 2 {
		return ""
	}
	return fmt.Sprintf("runner-%d@invented.example", a.number)
}

func (a arrival) run() standin.Runner {
	if g := a.guest(); a.before {
		return *g.Before
	}
	return a.guest().Now
}

func inventedCamera() standin.Camera {
	cam := standin.DefaultCamera()
	cam.NoisePx, cam.Width, cam.Height = 0.8, 960, 540
	return cam
}

// inventedRand is the same for a runner every time.
func inventedRand(r standin.Runner) *mathrand.Rand {
	return mathrand.New(mathrand.NewPCG(uint64(1000*r.CadenceSPM), uint64(1000*r.HeightM)))
}

// inventedTrack is the track of an invented run.
func inventedTrack(r standin.Runner) (*bytes.Buffer, error) {
	rng := inventedRand(r)
	m, err := standin.NewMotion(r, trackSecs, rng)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	return &b, track.Write(&b, m.Track(inventedCamera(), rng))
}

// words has the coach's word on all checks of the past and some of tonight,
// one of them otherwise than the card, and plans made eight weeks ago.
func (f *shopFiller) words(s store.Store, class roster.Class, past bool) error {
	ctx := f.e.ctx
	checks, err := s.ClassChecks(ctx, class.ID)
	if err != nil {
		return err
	}
	decided := 0
	for _, c := range checks {
		if c.State != store.Ready || !past && decided >= 5 {
			continue
		}
		cd, err := cardOf(c)
		if err != nil {
			return err
		}
		area, reason := "", ""
		if cd.Priority.Area != nil {
			area = *cd.Priority.Area
		}
		if !past && area == "lean" {
			area, reason = "alignment", "Invented: the bend comes from the neck; I begin there."
		}
		if _, err := s.Decide(ctx, c.ID, c.Version, area, reason); err != nil {
			return err
		}
		decided++
		if past && area != "" {
			if err := f.plan(s, c, cd, class.Date.Plus(1)); err != nil {
				return err
			}
		}
	}
	return nil
}

// practised is how many of the invented runners bring what their watch wrote.
const practised = 3

// practice keeps the invented runs of some of those who were there eight weeks
// ago: at their own speed, from the cadence they had then to the one they
// have now.
func (f *shopFiller) practice(s store.Store) error {
	first := f.e.now().AddDate(0, 0, -7*weeksApart+2)
	brought := 0
	for i, g := range standin.Clinic() {
		if g.Before == nil || brought == practised {
			continue
		}
		brought++
		c := standin.NewCourse(first.Add(time.Duration(i) * 31 * time.Minute))
		c.Runs, c.EveryDays, c.Minutes = 2*(weeksApart-1)+1, 3.6, 24
		c.SpeedMPS = [2]float64{g.Before.SpeedMS, g.Now.SpeedMS}
		c.Cadence = g.Before.CadenceSPM + c.PerMPS*(3-g.Before.SpeedMS)
		c.Rise = g.Now.CadenceSPM - g.Before.CadenceSPM - c.PerMPS*(g.Now.SpeedMS-g.Before.SpeedMS)
		var read []evening.Kept
		for k, a := range c.Activities(inventedRand(g.Now)) {
			r, err := practice.Take(a, practice.Options{TempoMin: float64(max(0, 12-k))})
			if err != nil {
				return fmt.Errorf("an invented run of %s: %w", g.Name, err)
			}
			read = append(read, evening.Kept{Run: r, State: evening.KeptNew})
		}
		if _, err := evening.KeepRuns(f.e.ctx, s, f.runners[g.Name].ID, read); err != nil {
			return err
		}
	}
	return nil
}

func (f *shopFiller) plan(s store.Store, c store.Check, cd card.Card, start plan.Date) error {
	ask, err := plan.FromCard(cd, "")
	if err != nil {
		return err
	}
	ask.UsualWeekMin, ask.RunsPerWeek, ask.Weeks, ask.Start = 120, 3, weeksApart, start
	ask.Health = plan.Health{Asked: true, Yes: []plan.Reason{}}
	p, err := plan.Make(ask, f.catalogue)
	if err != nil {
		return err
	}
	text, err := indented(p)
	if err != nil {
		return err
	}
	if _, err = s.AddPlan(f.e.ctx, store.Plan{RunnerID: c.RunnerID, CheckID: c.ID, Plan: text}); err != nil {
		return err
	}
	_, err = s.AddNote(f.e.ctx, store.Note{RunnerID: c.RunnerID, CheckID: c.ID, Text: "Invented note: film again in eight weeks, same speed."})
	return err
}
