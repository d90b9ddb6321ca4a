package media

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/iotest"
	"time"

	"pgregory.net/rapid"

	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/store/sqlite"
	"plumbstride/internal/store/storetest"
)

// room is a data folder with a database, a shelf and a runner who agreed.
type room struct {
	dir    string
	clock  *storetest.Clock
	db     *sqlite.Database
	shelf  *Folder
	runner roster.Runner
	class  roster.Class
}

const secretName = "Quillon Vestergaard"

func newRoom(t *testing.T) *room {
	t.Helper()
	r := &room{dir: t.TempDir(), clock: storetest.NewClock(time.Now())}
	r.open(t)
	var err error
	r.runner, err = r.db.AddRunner(t.Context(), roster.Runner{Name: secretName, BirthYear: 1990})
	if err != nil {
		t.Fatal(err)
	}
	r.class, err = r.db.AddClass(t.Context(), roster.Class{Date: storetest.Day(t, "2026-03-03"), KeepDays: 30})
	if err != nil {
		t.Fatal(err)
	}
	r.agree(t, true)
	return r
}

// open opens the folder, as a process that starts does.
func (r *room) open(t *testing.T) {
	t.Helper()
	var err error
	if r.db, err = sqlite.Open(t.Context(), filepath.Join(r.dir, "plumbstride.db"), r.clock.Now); err != nil {
		t.Fatal(err)
	}
	if r.shelf, err = OpenFolder(filepath.Join(r.dir, "media"), Limits{File: 1 << 20, Spare: 1 << 20}); err != nil {
		t.Fatal(err)
	}
	db, shelf := r.db, r.shelf
	t.Cleanup(func() { _, _ = db.Close(), shelf.Close() })
}

func (r *room) agree(t *testing.T, film bool) roster.Consent {
	t.Helper()
	c, err := r.db.AddConsent(t.Context(), roster.Consent{RunnerID: r.runner.ID, Film: film, Pictures: film, GivenBy: secretName, Words: "I agree."})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// content is that many bytes, unlike any others.
func content(n int) []byte {
	random := rand.New(rand.NewPCG(uint64(n), 7))
	b := make([]byte, n)
	for i := range b {
		b[i] = byte(random.Uint32())
	}
	return b
}

func sumOf(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

func (r *room) upload(t *testing.T, clip []byte, name string) store.Upload {
	t.Helper()
	u, err := r.db.AddUpload(t.Context(), store.Upload{
		RunnerID: r.runner.ID, ClassID: r.class.ID, Kind: store.Running, Name: name, Bytes: int64(len(clip)), SHA256: sumOf(clip),
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := r.shelf.Begin(u); err != nil {
		t.Fatal(err)
	}
	return u
}

var measureJob = store.Job{Kind: "measure", MaxTries: 3}

func (r *room) complete(t *testing.T, u store.Upload) (store.Check, error) {
	t.Helper()
	return Complete(t.Context(), r.db, r.shelf, u.ID, measureJob)
}

func (r *room) read(t *testing.T, key string) []byte {
	t.Helper()
	f, err := r.shelf.Open(t.Context(), key)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	b, err := io.ReadAll(f)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// holds tells whether any file of the data folder holds the bytes, or has
// them in its name.
func (r *room) holds(t *testing.T, what []byte) (where string) {
	t.Helper()
	err := filepath.WalkDir(r.dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		if bytes.Contains(data, what) || strings.Contains(path, string(what)) {
			where = path
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return where
}

func (r *room) files(t *testing.T) (names []string) {
	t.Helper()
	for _, d := range drawers() {
		entries, err := os.ReadDir(filepath.Join(r.dir, "media", d))
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			names = append(names, d+"/"+e.Name())
		}
	}
	return names
}

// TestUpload: a clip comes in pieces over a bad line and a restart, and
// becomes a clip, a check and a job, once.
func TestUpload(t *testing.T) {
	r := newRoom(t)
	clip := content(600_000)
	u := r.upload(t, clip, "../../etc/passwd\x00.mov")
	broken := io.MultiReader(bytes.NewReader(clip[:300_000]), iotest.ErrReader(io.ErrUnexpectedEOF))
	have, err := r.shelf.Append(t.Context(), u, 0, broken)
	if err == nil || have != 300_000 {
		t.Fatalf("%d bytes are kept, %v", have, err)
	}
	if _, err := r.complete(t, u); !isOffset(err, 300_000) {
		t.Fatalf("half a clip: %v", err)
	}
	if _, err := r.shelf.Append(t.Context(), u, 300_001, bytes.NewReader(clip)); !isOffset(err, 300_000) {
		t.Fatalf("a gap: %v", err)
	}
	r.open(t) // another process
	if have, err := r.shelf.Received(u); err != nil || have != 300_000 {
		t.Fatalf("%d, %v", have, err)
	}
	if have, err = r.shelf.Append(t.Context(), u, 200_000, bytes.NewReader(clip[200_000:])); err != nil || have != 600_000 {
		t.Fatalf("%d, %v", have, err)
	}
	check, err := r.complete(t, u)
	if err != nil {
		t.Fatal(err)
	}
	again, err := r.complete(t, u)
	if err != nil || again.ID != check.ID {
		t.Errorf("asked again: %+v, %v", again, err)
	}
	jobs, err := r.db.CheckJobs(t.Context(), check.ID)
	if err != nil || len(jobs) != 1 {
		t.Errorf("%d jobs, %v", len(jobs), err)
	}
	f, err := r.db.Footage(t.Context(), check.ClipID)
	if err != nil || f.SHA256 != sumOf(clip) || f.Bytes != 600_000 || !bytes.Equal(r.read(t, f.Key), clip) {
		t.Errorf("%+v, %v", f, err)
	}
	if path, done, err := r.shelf.Local(t.Context(), f.Key); err != nil {
		t.Error(err)
	} else {
		defer done()
		if b, err := os.ReadFile(path); err != nil || !bytes.Equal(b, clip) {
			t.Errorf("a decoder can't read it: %v", err)
		}
	}
	if files := r.files(t); len(files) != 1 || strings.Contains(files[0], "passwd") {
		t.Errorf("%v", files)
	}
}

func isOffset(err error, have int64) bool {
	e, ok := errors.AsType[*OffsetError](err)
	return ok && e.Have == have
}

// TestUploadKilledWhileFinishing: the file is moved, the records are not
// written; the next process goes on from there.
func TestUploadKilledWhileFinishing(t *testing.T) {
	r := newRoom(t)
	clip := content(1000)
	u := r.upload(t, clip, "a.mp4")
	if _, err := r.shelf.Append(t.Context(), u, 0, bytes.NewReader(clip)); err != nil {
		t.Fatal(err)
	}
	if _, err := r.shelf.finish(t.Context(), u); err != nil {
		t.Fatal(err)
	}
	r.open(t)
	if have, err := r.shelf.Received(u); err != nil || have != 1000 {
		t.Errorf("%d, %v", have, err)
	}
	if _, err := Purge(t.Context(), r.db, r.shelf, r.clock.Now().Add(23*time.Hour)); err != nil {
		t.Fatal(err)
	}
	if check, err := r.complete(t, u); err != nil || check.State != store.Waiting {
		t.Errorf("%+v, %v", check, err)
	}
}

func TestUploadRefuses(t *testing.T) {
	r := newRoom(t)
	clip := content(1000)
	u := r.upload(t, clip, "a.mp4")
	if have, err := r.shelf.Append(t.Context(), u, 0, bytes.NewReader(content(1001))); form.CodeOf(err) != form.CodeClip || have != 0 {
		t.Errorf("more than announced: %d, %v", have, err)
	}
	damaged := bytes.Clone(clip)
	damaged[500] ^= 1
	if _, err := r.shelf.Append(t.Context(), u, 0, bytes.NewReader(damaged)); err != nil {
		t.Fatal(err)
	}
	if _, err := r.complete(t, u); form.CodeOf(err) != form.CodeClip || !strings.Contains(err.Error(), "damaged") {
		t.Errorf("damaged: %v", err)
	}
	if have, err := r.shelf.Received(u); have != 0 || err != nil {
		t.Errorf("of a damaged clip %d bytes are kept, %v", have, err)
	}
	if _, err := r.shelf.Append(t.Context(), u, 0, bytes.NewReader(clip)); err != nil {
		t.Fatal(err)
	}
	if _, err := r.complete(t, u); err != nil {
		t.Errorf("sent again: %v", err)
	}
	big := store.Upload{ID: u.ID, Bytes: 2 << 20}
	if err := r.shelf.Begin(big); form.CodeOf(err) != form.CodeClip {
		t.Errorf("too large: %v", err)
	}
	if _, err := r.shelf.Put(t.Context(), store.Picture, bytes.NewReader(content(1<<20+1))); form.CodeOf(err) != form.CodeClip {
		t.Errorf("a picture too large: %v", err)
	}
	if files := r.files(t); len(files) != 1 {
		t.Errorf("left behind: %v", files)
	}
}

// TestConsentWithdrawnOnTheWay: what comes too late is not kept.
func TestConsentWithdrawnOnTheWay(t *testing.T) {
	r := newRoom(t)
	clip := content(1000)
	u := r.upload(t, clip, "a.mp4")
	if _, err := r.shelf.Append(t.Context(), u, 0, bytes.NewReader(clip)); err != nil {
		t.Fatal(err)
	}
	r.agree(t, false)
	if _, err := r.complete(t, u); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("%v", err)
	}
	if _, err := Purge(t.Context(), r.db, r.shelf, r.clock.Now()); err != nil {
		t.Fatal(err)
	}
	if files := r.files(t); len(files) != 0 {
		t.Errorf("kept: %v", files)
	}
	if _, err := r.shelf.Append(t.Context(), u, 0, bytes.NewReader(clip)); !errors.Is(err, ErrNoFile) {
		t.Errorf("a removed upload grows again: %v", err)
	}
}

func TestFullDisk(t *testing.T) {
	r := newRoom(t)
	clip := content(1000)
	u := r.upload(t, clip, "a.mp4")
	r.shelf.free = func(string) (int64, error) { return 1<<20 + 999, nil }
	if have, err := r.shelf.Append(t.Context(), u, 0, bytes.NewReader(clip)); form.CodeOf(err) != form.CodeMissing || have != 0 || !strings.Contains(err.Error(), "nearly full") {
		t.Errorf("%d, %v", have, err)
	}
	if err := r.shelf.Begin(u); form.CodeOf(err) != form.CodeMissing {
		t.Errorf("%v", err)
	}
	r.shelf.free = func(string) (int64, error) { return 0, nil }
	if _, err := r.shelf.Put(t.Context(), store.Picture, bytes.NewReader(clip)); form.CodeOf(err) != form.CodeMissing {
		t.Errorf("%v", err)
	}
	r.shelf.free = func(string) (int64, error) { return 1<<20 + 1000, nil }
	if _, err := r.shelf.Append(t.Context(), u, 0, bytes.NewReader(clip)); err != nil {
		t.Errorf("just enough: %v", err)
	}
	if err := explain(fmt.Errorf("write x: %w", syscall.ENOSPC)); form.CodeOf(err) != form.CodeMissing {
		t.Errorf("the system's own word: %v", err)
	}
	if n, err := freeBytes(r.dir); err != nil || n <= 0 {
		t.Errorf("this disk: %d, %v", n, err)
	}
}

// TestHostileKeys: nothing but a key of ours comes near a path, and not even
// a link in the folder leads out of it.
func TestHostileKeys(t *testing.T) {
	r := newRoom(t)
	outside := filepath.Join(r.dir, "outside")
	if err := os.WriteFile(outside, []byte("keep"), 0o600); err != nil {
		t.Fatal(err)
	}
	link := "clips/" + strings.Repeat("a", 26)
	if err := os.Symlink(outside, filepath.Join(r.dir, "media", filepath.FromSlash(link))); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"", "clips/../../outside", "../outside", outside, "clips/" + strings.Repeat("A", 26), "clips/" + strings.Repeat("a", 26) + "/x",
		"clips\\" + strings.Repeat("a", 26), "clips/" + strings.Repeat("a", 26) + "\n", "clips/" + strings.Repeat("a", 25) + "\x00", "etc/" + strings.Repeat("a", 26), link} {
		if f, err := r.shelf.Open(t.Context(), key); err == nil {
			t.Errorf("%q opens (%v)", key, f.Close())
		}
		if key != link {
			if err := r.shelf.Remove(t.Context(), key); !errors.Is(err, ErrNoFile) {
				t.Errorf("%q: %v", key, err)
			}
			if _, _, err := r.shelf.Local(t.Context(), key); !errors.Is(err, ErrNoFile) {
				t.Errorf("%q: %v", key, err)
			}
		}
	}
	if _, err := os.Stat(outside); err != nil {
		t.Error(err)
	}
}

func TestPut(t *testing.T) {
	r := newRoom(t)
	picture := content(5000)
	got, err := r.shelf.Put(t.Context(), store.Picture, bytes.NewReader(picture))
	if err != nil || got.Bytes != 5000 || got.SHA256 != sumOf(picture) || !bytes.Equal(r.read(t, got.Key), picture) {
		t.Errorf("%+v, %v", got, err)
	}
	if _, err := r.shelf.Put(t.Context(), store.Picture, io.MultiReader(bytes.NewReader(picture), iotest.ErrReader(io.ErrUnexpectedEOF))); err == nil {
		t.Error("half a picture is kept")
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := r.shelf.Put(ctx, store.Track, bytes.NewReader(picture)); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
	if files := r.files(t); len(files) != 1 {
		t.Errorf("%v", files)
	}
	if err := errors.Join(r.shelf.Remove(t.Context(), got.Key), r.shelf.Remove(t.Context(), got.Key)); err != nil {
		t.Error(err)
	}
	if _, err := r.shelf.Open(t.Context(), got.Key); !errors.Is(err, ErrNoFile) {
		t.Errorf("%v", err)
	}
}

// TestManyPhones: twenty clips come at once in small pieces, some pieces
// twice, from two senders; none is lost or mixed up.
func TestManyPhones(t *testing.T) {
	r := newRoom(t)
	var all sync.WaitGroup
	for i := range 20 {
		clip := content(30_000 + i)
		u := r.upload(t, clip, "same name.mp4")
		for range 2 {
			all.Go(func() {
				for at := int64(0); at < u.Bytes; {
					end := min(u.Bytes, at+7_000)
					have, err := r.shelf.Append(t.Context(), u, at, bytes.NewReader(clip[at:end]))
					if err != nil && !errors.Is(err, ErrNoFile) {
						t.Error(err)
						return
					}
					if err != nil {
						return // the other sender was done
					}
					at = have
				}
				check, err := Complete(t.Context(), r.db, r.shelf, u.ID, measureJob)
				if err != nil {
					t.Error(err)
					return
				}
				f, err := r.db.Footage(t.Context(), check.ClipID)
				if err != nil || f.SHA256 != sumOf(clip) {
					t.Errorf("%+v, %v", f, err)
				}
			})
		}
	}
	all.Wait()
	checks, err := r.db.RunnerChecks(t.Context(), r.runner.ID)
	if err != nil || len(checks) != 20 {
		t.Errorf("%d checks, %v", len(checks), err)
	}
	queue, err := r.db.Queue(t.Context())
	if err != nil || len(queue) != 20 {
		t.Errorf("%d jobs, %v", len(queue), err)
	}
}

// TestAppendInAnyOrder: however a clip is cut, sent again and overlapped, it
// arrives as it was.
func TestAppendInAnyOrder(t *testing.T) {
	r := newRoom(t)
	rapid.Check(t, func(rt *rapid.T) {
		clip := content(rapid.IntRange(1, 3000).Draw(rt, "bytes"))
		u := r.upload(t, clip, "a.mp4")
		for have := int64(0); have < u.Bytes; {
			at := rapid.Int64Range(0, have+10).Draw(rt, "from")
			at = min(at, u.Bytes)
			end := rapid.Int64Range(at, u.Bytes).Draw(rt, "to")
			got, err := r.shelf.Append(t.Context(), u, at, bytes.NewReader(clip[at:end]))
			switch {
			case at > have && !isOffset(err, have):
				rt.Fatalf("a gap from %d to %d: %v", have, at, err)
			case at <= have && (err != nil || got != max(have, end)):
				rt.Fatalf("%d bytes, %v; want %d", got, err, max(have, end))
			}
			have = max(have, got)
		}
		check, err := Complete(t.Context(), r.db, r.shelf, u.ID, measureJob)
		if err != nil {
			rt.Fatal(err)
		}
		f, err := r.db.Footage(t.Context(), check.ClipID)
		if err != nil || !bytes.Equal(r.read(t, f.Key), clip) {
			rt.Fatalf("another clip arrived (%v)", err)
		}
	})
}
