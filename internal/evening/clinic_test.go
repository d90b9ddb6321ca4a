package evening

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"plumbstride/internal/card"
	"plumbstride/internal/card/cardtest"
	"plumbstride/internal/clinic"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/store/sqlite"
)

// courses fills a store with invented runners who all work on landing, of whom
// every second comes back after nine weeks with a foot that lands nearer by
// 3 cm.
func courses(t *testing.T, runners int) (*sqlite.Database, time.Time) {
	t.Helper()
	now := time.Date(2026, time.January, 5, 19, 0, 0, 0, time.UTC)
	db, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "a.db"), func() time.Time { return now })
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	rng := rand.New(rand.NewPCG(6, 6))
	cards := map[string]card.Card{}
	var people []roster.Runner
	put := func(r roster.Runner, c card.Card) store.Check {
		c.Made, c.Pictures = now, nil
		text, err := json.Marshal(c)
		if err != nil {
			t.Fatal(err)
		}
		one, err := db.AddCheck(t.Context(), store.Check{RunnerID: r.ID, Kind: store.Running})
		if err != nil {
			t.Fatal(err)
		}
		one, err = db.Measured(t.Context(), one.ID, store.Result{State: store.Ready, Card: text, Measures: c.Measures})
		if err != nil {
			t.Fatal(err)
		}
		return one
	}
	for i := range runners {
		r, err := db.AddRunner(t.Context(), roster.Runner{Name: fmt.Sprintf("Invented %d", i)})
		if err != nil {
			t.Fatal(err)
		}
		people = append(people, r)
		c := cardtest.Invented()
		c.Runner.Name = r.Name
		shift(&c, rng.NormFloat64())
		cards[r.ID] = c
		one := put(r, c)
		if _, err := db.By(store.Who{Kind: "command"}).Decide(t.Context(), one.ID, one.Version, "landing", "it is what all work on"); err != nil {
			t.Fatal(err)
		}
	}
	now = now.Add(9 * 7 * 24 * time.Hour)
	for i, r := range people {
		if i%2 == 0 {
			c := cards[r.ID]
			c.Measures = append([]card.Measure(nil), c.Measures...)
			shift(&c, -3+0.5*rng.NormFloat64())
			put(r, c)
		}
	}
	return db, now
}

// shift moves where the foot lands, cm, and cadence by next to nothing: no two
// clips have the very same.
func shift(c *card.Card, by float64) {
	for i := range c.Measures {
		m := &c.Measures[i]
		if m.Name == "landing_distance" && m.Unit == "cm" {
			m.Value, m.Low, m.High = m.Value+by, m.Low+by, m.High+by
		}
		if m.Name == "cadence" {
			m.Value += 1e-3 * by
		}
	}
}

func TestClinicOfTheRecords(t *testing.T) {
	const runners = 40
	db, now := courses(t, runners)
	r, err := Clinic(t.Context(), db, "test", now)
	if err != nil {
		t.Fatal(err)
	}
	if r.Checked != runners || len(r.Areas) != 1 {
		t.Fatalf("%d checked, areas %+v", r.Checked, r.Areas)
	}
	a := r.Areas[0]
	if a.Started != runners || a.Due == nil || *a.Due != runners || *a.Back != runners/2 {
		t.Errorf("%+v", a)
	}
	if len(a.Changes) != 1 || a.Changes[0].Measure.Name != "landing_distance" || a.Changes[0].More {
		t.Fatalf("changes: %+v", a.Changes)
	}
	if seen := a.Changes[0].Seen; seen.Low > 3 || seen.High < 3 || seen.N < runners/2-2 {
		t.Errorf("3 cm less were put in, seen: %+v", seen)
	}
	// Before the eight weeks are over nobody is due: who came back early doesn't
	// make it look as if nobody stayed away.
	early, err := Clinic(t.Context(), db, "test", now.Add(-3*7*24*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	if one := early.Areas[0]; one.Due != nil || one.Back != nil || one.Returned != nil || one.IfUnchanged != nil {
		t.Errorf("three weeks earlier: %+v", one)
	}
}

// A second look on the same evening is no re-check.
func TestSameEveningIsNoRecheck(t *testing.T) {
	db, now := courses(t, clinic.Smallest)
	people, err := db.Runners(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var looks []look
	for _, r := range people {
		if looks, err = looksOf(t.Context(), db, r.ID); err != nil {
			t.Fatal(err)
		}
		if len(looks) == 2 {
			break
		}
	}
	looks[1].Made = looks[0].Made.Add(time.Hour)
	got, err := coursesOf(t.Context(), db, looks[0].RunnerID, looks, now)
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != 1 || got[0].Back {
		t.Errorf("courses: %+v", got)
	}
}
