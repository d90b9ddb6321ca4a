package cli

import (
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"plumbstride/internal/backup"
	"plumbstride/internal/home"
	"plumbstride/internal/media"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/store/sqlite"
)

// filled is a data folder with a runner and clips of a few MB in all.
func filled(t *testing.T, dir string, clips int) (runner roster.Runner, keys []string) {
	t.Helper()
	ctx := t.Context()
	r, err := openFolder(ctx, dir, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	defer r.close()
	if runner, err = r.db.AddRunner(ctx, roster.Runner{Name: "Invented Ida", BirthYear: 1990}); err != nil {
		t.Fatal(err)
	}
	if _, err := r.db.AddConsent(ctx, roster.Consent{RunnerID: runner.ID, Film: true, GivenBy: runner.Name, Words: "I agree."}); err != nil {
		t.Fatal(err)
	}
	rng := rand.NewChaCha8([32]byte{1})
	for range clips {
		content := make([]byte, 1<<20)
		_, _ = rng.Read(content) // never fails
		f, err := r.shelf.Put(ctx, store.Clip, bytes.NewReader(content))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := r.db.AddFootage(ctx, store.Footage{RunnerID: runner.ID, Kind: store.Clip, Key: f.Key, SHA256: f.SHA256, Bytes: f.Bytes}); err != nil {
			t.Fatal(err)
		}
		keys = append(keys, f.Key)
	}
	return runner, keys
}

// in sets the data folder of the programs that a test starts.
func in(t *testing.T, dir string) { t.Setenv(home.Variable, dir) }

// runs runs plumbstride to its end.
func runs(t *testing.T, dir string, status int, args ...string) (said string) {
	t.Helper()
	cmd, err := started(t, dir, args...)
	_ = cmd.Wait()
	if got := cmd.ProcessState.ExitCode(); got != status {
		t.Fatalf("%v: exit status %d, want %d: %s", args, got, status, err)
	}
	return err.String()
}

// wholeRecords fails unless a data folder holds that runner and all clips.
func wholeRecords(t *testing.T, dir, runnerID string, keys []string) {
	t.Helper()
	r, err := openFolder(t.Context(), dir, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	defer r.close()
	if _, err := r.db.Runner(t.Context(), runnerID); err != nil {
		t.Fatalf("the runner: %v", err)
	}
	known, err := r.db.Keys(t.Context())
	if err != nil || len(known) != len(keys) {
		t.Fatalf("%d of %d clips are known, %v", len(known), len(keys), err)
	}
	for _, key := range keys {
		f, err := r.shelf.Open(t.Context(), key)
		if err != nil {
			t.Fatal(err)
		}
		if n, err := io.Copy(io.Discard, f); err != nil || n != 1<<20 {
			t.Errorf("%s: %d bytes, %v", key, n, err)
		}
		f.Close()
	}
}

// TestBackupKilled: whenever a backup is killed, the file is there whole or
// not at all, and what else it left goes with the next purge.
func TestBackupKilled(t *testing.T) {
	dir := t.TempDir()
	shop, to := filepath.Join(dir, "shop"), filepath.Join(dir, "shop.tar.zst")
	filled(t, shop, 8)
	in(t, shop)
	began := time.Now()
	runs(t, dir, exitDone, "backup", to)
	span := time.Since(began)
	rng := rand.New(rand.NewPCG(5, 6))
	for range 12 {
		if err := os.Remove(to); err != nil && !os.IsNotExist(err) {
			t.Fatal(err)
		}
		cmd, _ := started(t, dir, "backup", to)
		time.Sleep(time.Duration(1.1 * rng.Float64() * float64(span)))
		_ = cmd.Process.Kill() // it may be done already
		_ = cmd.Wait()
		f, err := os.Open(to)
		if os.IsNotExist(err) {
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		if _, err := backup.Read(t.Context(), f, nil, nil, nil); err != nil {
			t.Errorf("it took its name before it was whole: %v", err)
		}
		f.Close()
	}
	for _, name := range listing(t, dir) {
		if name != "shop" && name != "shop.tar.zst" && name != "tmp" {
			t.Errorf("left behind: %s", name)
		}
	}
	r, err := openFolder(t.Context(), shop, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	defer r.close()
	if _, err := media.Purge(t.Context(), r.db, r.shelf, time.Now().Add(2*time.Hour)); err != nil {
		t.Fatal(err)
	}
	if left := listing(t, filepath.Join(shop, "media", "incoming")); len(left) > 0 {
		t.Errorf("left in the data folder: %v", left)
	}
}

// TestRestoreKilled: whenever a restore over other records is killed, there
// are records in the data folder: the old ones or the new ones, and all of
// them; and the old ones are never lost.
func TestRestoreKilled(t *testing.T) {
	dir := t.TempDir()
	first, second, file := filepath.Join(dir, "first"), filepath.Join(dir, "second"), filepath.Join(dir, "first.tar.zst")
	one, ones := filled(t, first, 8)
	two, twos := filled(t, second, 3)
	in(t, first)
	runs(t, dir, exitDone, "backup", file)
	in(t, second)
	old := filepath.Join(dir, "old.tar.zst")
	runs(t, dir, exitDone, "backup", old)
	began := time.Now()
	runs(t, dir, exitDone, "restore", "--replace", file)
	span := time.Since(began)
	rng := rand.New(rand.NewPCG(7, 8))
	for i := range 12 {
		for _, name := range listing(t, dir) {
			if strings.HasPrefix(name, "second") {
				if err := os.RemoveAll(filepath.Join(dir, name)); err != nil {
					t.Fatal(err)
				}
			}
		}
		runs(t, dir, exitDone, "restore", old)
		cmd, _ := started(t, dir, "restore", "--replace", file)
		time.Sleep(time.Duration((0.2 + 0.9*rng.Float64()) * float64(span)))
		_ = cmd.Process.Kill() // it may be done already
		_ = cmd.Wait()
		t.Logf("killed %d: %v", i, listing(t, dir))
		if holds(t, second, two.ID) {
			wholeRecords(t, second, two.ID, twos)
			continue
		}
		wholeRecords(t, second, one.ID, ones)
		kept := 0
		for _, name := range listing(t, dir) {
			if strings.HasPrefix(name, "second.") && home.Folder(filepath.Join(dir, name)).Used() && holds(t, filepath.Join(dir, name), two.ID) {
				wholeRecords(t, filepath.Join(dir, name), two.ID, twos)
				kept++
			}
		}
		if kept != 1 {
			t.Errorf("the old records lie in %d folders: %v", kept, listing(t, dir))
		}
		// A restore that comes after loses them neither.
		runs(t, dir, exitDone, "restore", "--replace", file)
	}
}

func holds(t *testing.T, dir, runnerID string) bool {
	t.Helper()
	r, err := openFolder(t.Context(), dir, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	defer r.close()
	_, err = r.db.Runner(t.Context(), runnerID)
	return err == nil
}

// TestBackupWhileServing: a backup that is made while people work is of one
// moment: whoever is in a class in it is on the roster in it, too. Meanwhile
// files go whose time is over, which does no harm.
func TestBackupWhileServing(t *testing.T) {
	room := newClinicRoom(t)
	room.serve()
	room.upload("short.csv", inventedRunFor(t, 4, 60))
	dir := t.TempDir()
	in(t, room.dir)
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	busy := make(chan error, 1)
	go func() {
		db := room.open()
		defer db.Close()
		for i := 0; ctx.Err() == nil; i++ {
			err := db.Within(t.Context(), func(s store.Store) error {
				r, err := s.AddRunner(t.Context(), roster.Runner{Name: fmt.Sprint("Invented ", i)})
				if err != nil {
					return err
				}
				_, err = s.Attend(t.Context(), roster.Attendance{ClassID: room.class.ID, RunnerID: r.ID, Presence: roster.Here})
				return err
			})
			if err != nil {
				busy <- err
				return
			}
		}
		busy <- nil
	}()
	var files []string
	for i := range 3 {
		files = append(files, filepath.Join(dir, fmt.Sprintf("%d.tar.zst", i)))
		runs(t, dir, exitDone, "backup", files[i])
	}
	stop()
	if err := <-busy; err != nil {
		t.Fatal(err)
	}
	for i, file := range files {
		in(t, filepath.Join(dir, fmt.Sprint("shop", i)))
		runs(t, dir, exitDone, "restore", file)
		db, err := sqlite.Open(t.Context(), home.Folder(os.Getenv(home.Variable)).Database(), time.Now)
		if err != nil {
			t.Fatal(err)
		}
		people, err := db.Runners(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		here, err := db.Attendance(t.Context(), room.class.ID)
		if err != nil || len(here) != len(people)-1 { // Ida is on the roster alone
			t.Errorf("%d on the roster, %d in the class, %v", len(people), len(here), err)
		}
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
	}
	in(t, room.dir)
	if said := runs(t, dir, exitUsage, "restore", "--replace", files[0]); !strings.Contains(said, "the records are in use: end plumbstride serve") {
		t.Errorf("while it is served: %q", said)
	}
}

// TestBackupLacksAFile: a file that was lost is said to be, and the restored
// records don't name it any more.
func TestBackupLacksAFile(t *testing.T) {
	dir := t.TempDir()
	shop, file := filepath.Join(dir, "shop"), filepath.Join(dir, "shop.tar.zst")
	runner, keys := filled(t, shop, 2)
	if err := os.Remove(filepath.Join(shop, "media", keys[0])); err != nil {
		t.Fatal(err)
	}
	in(t, shop)
	if said := runs(t, dir, exitDone, "backup", file); !strings.Contains(said, "files that the records name and that are not in the data folder any more: 1;") {
		t.Errorf("%q", said)
	}
	in(t, filepath.Join(dir, "again"))
	runs(t, dir, exitDone, "restore", file)
	wholeRecords(t, filepath.Join(dir, "again"), runner.ID, keys[1:])
}

// TestRestoreOlder: a backup of an older program's records is brought up to
// date; one of a newer program's is refused, and nothing is made of it.
func TestRestoreOlder(t *testing.T) {
	dir := t.TempDir()
	packed, err := os.Open(filepath.Join("..", "store", "sqlite", "testdata", "schema1.db.gz"))
	if err != nil {
		t.Fatal(err)
	}
	defer packed.Close()
	z, err := gzip.NewReader(packed)
	if err != nil {
		t.Fatal(err)
	}
	records, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	write := func(name string, schema int64) string {
		var b bytes.Buffer
		_, err := backup.Write(t.Context(), &b, backup.Head{Program: "plumbstride test", Schema: schema, Made: time.Now()}, []backup.Part{{
			Path: backup.Database, Open: func() (io.ReadCloser, int64, error) {
				return io.NopCloser(bytes.NewReader(records)), int64(len(records)), nil
			},
		}}, nil)
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	shop := filepath.Join(dir, "shop")
	in(t, shop)
	if said := runs(t, dir, exitMissing, "restore", write("newer.tar.zst", 99999)); !strings.Contains(said, "newer plumbstride") {
		t.Errorf("%q", said)
	}
	if _, err := os.Stat(shop); !os.IsNotExist(err) {
		t.Errorf("something was made of it: %v", err)
	}
	runs(t, dir, exitDone, "restore", write("older.tar.zst", 1))
	r, err := openFolder(t.Context(), shop, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	defer r.close()
	all, err := r.db.Runners(t.Context())
	if err != nil || len(all) != 3 || all[0].Name != "Ida Invented" {
		t.Errorf("%+v, %v", all, err)
	}
	at, err := r.file.Schema(t.Context())
	if newest, _ := sqlite.Newest(); err != nil || at != newest {
		t.Errorf("the tables are at %d, %v", at, err)
	}
	records = []byte("no database")
	in(t, filepath.Join(dir, "other"))
	if said := runs(t, dir, exitUsage, "restore", write("none.tar.zst", 1)); !strings.Contains(said, "damaged") && !strings.Contains(said, "no database") {
		t.Errorf("%q", said)
	}
}
