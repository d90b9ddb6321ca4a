package sqlite

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/store/aside"
)

// upToDate is the stored database, brought up to date and closed in order.
func upToDate(t *testing.T) (path string) {
	t.Helper()
	path = oldDatabase(t, "schema1.db.gz")
	db, err := Open(t.Context(), path, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestOpenToRead: everything can be read, no change is made, and no byte of
// the folder is another afterwards; also where the folder can't be written.
func TestOpenToRead(t *testing.T) {
	path := upToDate(t)
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, mode := range []os.FileMode{0o700, 0o500} {
		if err := os.Chmod(filepath.Dir(path), mode); err != nil {
			t.Fatal(err)
		}
		var seen []store.Entry
		db, err := OpenToRead(t.Context(), path, time.Now)
		if err != nil {
			t.Fatal(err)
		}
		s := aside.New(db, time.Now, func(e store.Entry) { seen = append(seen, e) })
		runners, err := s.Runners(t.Context())
		if err != nil || len(runners) != 3 {
			t.Fatalf("%v, %v", runners, err)
		}
		if _, err := store.About(t.Context(), s, runners[0].ID); err != nil {
			t.Error(err)
		}
		changes(t, s, runners[0])
		sessions(t, s)
		if err := s.By(store.Who{Kind: "account", ID: "kim"}).Record(t.Context(), store.Entry{Action: "see"}); err != nil || len(seen) != 1 || seen[0].Who.ID != "kim" {
			t.Errorf("%+v, %v", seen, err)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
		if err := os.Chmod(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		after, err := os.ReadFile(path)
		if err != nil || !bytes.Equal(before, after) {
			t.Errorf("the file is another, %v", err)
		}
	}
}

// changes tries some of each kind of change.
func changes(t *testing.T, s store.Store, r roster.Runner) {
	t.Helper()
	ctx := t.Context()
	for name, try := range map[string]func() error{
		"add":    func() error { _, err := s.AddRunner(ctx, roster.Runner{Name: "Ada"}); return err },
		"change": func() error { _, err := s.ChangeRunner(ctx, r); return err },
		"forget": func() error { return s.By(store.Who{Kind: "command"}).ForgetRunner(ctx, r.ID) },
		"within": func() error {
			return s.Within(ctx, func(s store.Store) error { _, err := s.AddNote(ctx, store.Note{RunnerID: r.ID, Text: "x"}); return err })
		},
		"claim":   func() error { _, err := s.ClaimJob(ctx, []string{"measure"}, time.Minute); return err },
		"setting": func() error { return s.SetSetting(ctx, "a", "b") },
	} {
		if err := try(); !errors.Is(err, store.ErrReadOnly) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// sessions signs in, and out.
func sessions(t *testing.T, s store.Store) {
	t.Helper()
	ctx := t.Context()
	a, err := s.AccountByName(ctx, "nora")
	if err != nil {
		t.Fatal(err)
	}
	hash := strings.Repeat("a", 64)
	err = errors.Join(s.AddSession(ctx, store.Session{Hash: hash, AccountID: a.ID, Expires: time.Now().Add(time.Hour)}),
		s.ExtendSession(ctx, hash, time.Now().Add(2*time.Hour)), s.RemoveExpired(ctx))
	if err != nil {
		t.Error(err)
	}
	if got, err := s.Session(ctx, hash); err != nil || got.AccountID != a.ID {
		t.Errorf("%+v, %v", got, err)
	}
	if err := s.RemoveSession(ctx, hash); err != nil {
		t.Error(err)
	}
	if _, err := s.Session(ctx, hash); !errors.Is(err, store.ErrNotFound) {
		t.Error(err)
	}
}

// TestReadBeside: whoever only reads sees what another process writes.
func TestReadBeside(t *testing.T) {
	path := upToDate(t)
	writer := openAt(t, path, time.Now)
	reader, err := OpenToRead(t.Context(), path, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	defer reader.Close()
	r, err := writer.AddRunner(t.Context(), roster.Runner{Name: "Ada"})
	if err != nil {
		t.Fatal(err)
	}
	if got, err := reader.Runner(t.Context(), r.ID); err != nil || got.Name != "Ada" {
		t.Errorf("%+v, %v", got, err)
	}
}

func TestOpenToReadRefuses(t *testing.T) {
	older := oldDatabase(t, "schema1.db.gz")
	newer := upToDate(t)
	makeNewer(t, newer)
	for path, says := range map[string]string{
		older: "must be brought up to date first", newer: "newer plumbstride", filepath.Join(t.TempDir(), "none.db"): "can't be read",
	} {
		if _, err := OpenToRead(context.Background(), path, time.Now); form.CodeOf(err) != form.CodeMissing || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v; want %q", path, err, says)
		}
	}
}

// TestSnapshot: a copy holds one moment, whole; what was deleted is not in it.
func TestSnapshot(t *testing.T) {
	dir := t.TempDir()
	db := openAt(t, filepath.Join(dir, "a.db"), time.Now)
	secret := "Quillon-Vestergaard"
	r, err := db.AddRunner(t.Context(), roster.Runner{Name: secret})
	if err != nil {
		t.Fatal(err)
	}
	if err := db.ForgetRunner(t.Context(), r.ID); err != nil {
		t.Fatal(err)
	}
	if _, err := db.AddRunner(t.Context(), roster.Runner{Name: "Ada"}); err != nil {
		t.Fatal(err)
	}
	into := filepath.Join(t.TempDir(), "b.db")
	if err := db.Snapshot(t.Context(), into); err != nil {
		t.Fatal(err)
	}
	copied, err := OpenToRead(t.Context(), into, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	defer copied.Close()
	all, err := copied.Runners(t.Context())
	if err != nil || len(all) != 1 || all[0].Name != "Ada" || inFiles(t, filepath.Dir(into), secret) {
		t.Errorf("%+v, %v", all, err)
	}
	if err := db.Snapshot(t.Context(), into); err == nil {
		t.Error("a copy was written over another")
	}
}

// TestAlone: the records can be taken for oneself when nobody else has them.
func TestAlone(t *testing.T) {
	path := upToDate(t)
	one := openAt(t, path, time.Now)
	other, err := Open(t.Context(), path, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := other.Runners(t.Context()); err != nil {
		t.Fatal(err)
	}
	if err := one.Alone(t.Context()); form.CodeOf(err) != form.CodeUsage {
		t.Errorf("while another has them open: %v", err)
	}
	if err := other.Close(); err != nil {
		t.Fatal(err)
	}
	if err := one.Alone(t.Context()); err != nil {
		t.Error(err)
	}
	if _, err := os.Stat(path + "-wal"); !os.IsNotExist(err) {
		t.Errorf("the log is still there: %v", err)
	}
}

// TestSoundFindsDamage: a page that was overwritten is found.
func TestSoundFindsDamage(t *testing.T) {
	path := upToDate(t)
	if _, err := Sound(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.WriteAt(bytes.Repeat([]byte{0x55}, 3*4096), 8*4096); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := Sound(t.Context(), path); form.CodeOf(err) != form.CodeUsage {
		t.Errorf("%v", err)
	}
}
