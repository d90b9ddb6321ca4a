package sqlite

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/store/storetest"
)

func open(t *testing.T, now func() time.Time) store.Database {
	t.Helper()
	return openAt(t, filepath.Join(t.TempDir(), "a # strange?name%41", "plumbstride.db"), now)
}

func openAt(t testing.TB, path string, now func() time.Time) *Database {
	t.Helper()
	db, err := Open(context.Background(), path, now)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	return db
}

// makeNewer makes a database, or the one that is there, look as if a later
// program had brought its tables further than this one knows.
func makeNewer(t *testing.T, path string) {
	t.Helper()
	db, err := Open(t.Context(), path, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	_, err = db.db.Exec("INSERT INTO goose_db_version (version_id, is_applied) VALUES (99999, 1)")
	if err := errors.Join(err, db.Close()); err != nil {
		t.Fatal(err)
	}
}

func TestContract(t *testing.T) { storetest.Run(t, open) }

func TestQueue(t *testing.T) { storetest.Queue(t, open) }

func TestOpenedAgain(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plumbstride.db")
	first, err := Open(t.Context(), path, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	r, err := first.AddRunner(t.Context(), roster.Runner{Name: "Ada"})
	if err != nil {
		t.Fatal(err)
	}
	second := openAt(t, path, time.Now) // two processes at once
	if _, err := second.Runner(t.Context(), r.ID); err != nil {
		t.Error(err)
	}
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	r.Name = "Bea"
	if _, err := second.ChangeRunner(t.Context(), r); err != nil {
		t.Error(err)
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm()&0o077 != 0 {
		t.Errorf("others may read it: %v, %v", info.Mode(), err)
	}
}

// TestOpenedAtOnce: several processes that start on a new folder together all
// come to an open database.
func TestOpenedAtOnce(t *testing.T) {
	for range 2 {
		path := filepath.Join(t.TempDir(), "plumbstride.db")
		var all sync.WaitGroup
		for range 4 {
			all.Go(func() {
				db, err := Open(context.Background(), path, time.Now)
				if err != nil {
					t.Error(err)
					return
				}
				_, err = db.AddRunner(context.Background(), roster.Runner{Name: "Ada"})
				if err := errors.Join(err, db.Close()); err != nil {
					t.Error(err)
				}
			})
		}
		all.Wait()
	}
}

func TestOpenRefuses(t *testing.T) {
	dir := t.TempDir()
	notOurs := filepath.Join(dir, "text.db")
	if err := os.WriteFile(notOurs, bytes.Repeat([]byte("no database\n"), 1000), 0o600); err != nil {
		t.Fatal(err)
	}
	newer := filepath.Join(dir, "newer.db")
	makeNewer(t, newer)
	for path, says := range map[string]string{
		notOurs: "no database of ours", newer: "newer plumbstride", filepath.Join(notOurs, "x.db"): "can't be made", dir: "can't be opened",
	} {
		if _, err := Open(t.Context(), path, time.Now); form.CodeOf(err) != form.CodeMissing || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v", path, err)
		}
	}
}

// TestMigrationsGoDown: the steps go down and up again.
func TestMigrationsGoDown(t *testing.T) {
	db := openAt(t, filepath.Join(t.TempDir(), "a.db"), time.Now)
	steps, err := provider(db.db)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := steps.DownTo(t.Context(), 0); err != nil {
		t.Fatal(err)
	}
	var left int
	if err := db.db.QueryRow("SELECT COUNT(*) FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'goose%' AND name NOT LIKE 'sqlite%'").Scan(&left); err != nil || left != 0 {
		t.Errorf("%d tables left, %v", left, err)
	}
	if _, err := steps.Up(t.Context()); err != nil {
		t.Error(err)
	}
}

// TestScrubbed: of what was deleted no byte is left in any file, while the
// database is open, and it could be seen before.
func TestScrubbed(t *testing.T) {
	dir := t.TempDir()
	db := openAt(t, filepath.Join(dir, "plumbstride.db"), time.Now)
	secret := "Quillon-Vestergaard"
	for i := range 50 {
		r, err := db.AddRunner(t.Context(), roster.Runner{Name: fmt.Sprintf("%s %d", secret, i), Goals: strings.Repeat(secret+" ", 15)})
		if err != nil {
			t.Fatal(err)
		}
		if i == 20 && !inFiles(t, dir, secret) {
			t.Fatal("the name isn't there to begin with: the search proves nothing")
		}
		r.Name, r.Goals = "Bea", ""
		if r, err = db.ChangeRunner(t.Context(), r); err != nil {
			t.Fatal(err)
		}
		if i%2 == 0 {
			if err := db.ForgetRunner(t.Context(), r.ID); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := db.Scrub(t.Context()); err != nil {
		t.Fatal(err)
	}
	if inFiles(t, dir, secret) {
		t.Error("the name is still in a file")
	}
	if _, err := db.Runners(t.Context()); err != nil {
		t.Error(err)
	}
}

func inFiles(t *testing.T, dir, secret string) bool {
	t.Helper()
	files, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		data, err := os.ReadFile(filepath.Join(dir, f.Name()))
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(data, []byte(secret)) {
			return true
		}
	}
	return false
}

func BenchmarkAddRunner(b *testing.B) {
	db := openAt(b, filepath.Join(b.TempDir(), "a.db"), time.Now)
	for b.Loop() {
		if _, err := db.AddRunner(b.Context(), roster.Runner{Name: "Ada"}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkClaim(b *testing.B) {
	db := openAt(b, filepath.Join(b.TempDir(), "a.db"), time.Now)
	for b.Loop() {
		if _, err := db.AddJob(b.Context(), store.Job{Kind: "measure", MaxTries: 1}); err != nil {
			b.Fatal(err)
		}
		j, err := db.ClaimJob(b.Context(), []string{"measure"}, time.Minute)
		if err != nil {
			b.Fatal(err)
		}
		if err := db.CompleteJob(b.Context(), j); err != nil {
			b.Fatal(err)
		}
	}
}
