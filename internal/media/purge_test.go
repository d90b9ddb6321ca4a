package media

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// filmed uploads a clip with a picture and a note, everything with the
// runner's name in it.
func (r *room) filmed(t *testing.T, clip []byte) store.Check {
	t.Helper()
	ctx := t.Context()
	u := r.upload(t, clip, secretName+".mp4")
	if _, err := r.shelf.Append(ctx, u, 0, bytes.NewReader(clip)); err != nil {
		t.Fatal(err)
	}
	check, err := r.complete(t, u)
	if err != nil {
		t.Fatal(err)
	}
	picture, err := r.shelf.Put(ctx, store.Picture, bytes.NewReader(clip[:5000]))
	if err != nil {
		t.Fatal(err)
	}
	_, err = r.db.AddFootage(ctx, store.Footage{RunnerID: r.runner.ID, ClassID: r.class.ID, CheckID: check.ID, Kind: store.Picture, Name: secretName, Key: picture.Key})
	if err != nil {
		t.Fatal(err)
	}
	_, err = r.db.Measured(ctx, check.ID, store.Result{State: store.Ready, Card: json.RawMessage(`{"runner":{"name":"` + secretName + `"}}`)})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.db.AddNote(ctx, store.Note{RunnerID: r.runner.ID, Text: secretName + " is better"}); err != nil {
		t.Fatal(err)
	}
	return check
}

// TestForget: of a forgotten runner no file of the data folder holds the
// name or a piece of the clip, while the database is open and after; and
// both could be found before, in files and in the log.
func TestForget(t *testing.T) {
	r := newRoom(t)
	clip, half := content(200_000), content(50_000)
	r.filmed(t, clip)
	started := r.upload(t, half, "half of "+secretName)
	if _, err := r.shelf.Append(t.Context(), started, 0, bytes.NewReader(half[:40_000])); err != nil {
		t.Fatal(err)
	}
	secrets := map[string][]byte{
		"the name": []byte(secretName), "the clip's beginning": clip[:64], "its end": clip[len(clip)-64:], "its hash": []byte(sumOf(clip)),
		"the half that came": half[:64],
	}
	for what, secret := range secrets {
		if r.holds(t, secret) == "" {
			t.Fatalf("%s isn't there to begin with: the search proves nothing", what)
		}
	}
	other, err := r.db.AddRunner(t.Context(), roster.Runner{Name: "Bea"})
	if err != nil {
		t.Fatal(err)
	}
	kim := store.Who{Kind: "account", ID: "kim"}
	if err := Forget(t.Context(), r.db, r.shelf, r.runner.ID, kim); err != nil {
		t.Fatal(err)
	}
	for what, secret := range secrets {
		if where := r.holds(t, secret); where != "" {
			t.Errorf("%s is still in %s", what, where)
		}
	}
	if err := r.db.Close(); err != nil {
		t.Fatal(err)
	}
	for what, secret := range secrets {
		if where := r.holds(t, secret); where != "" {
			t.Errorf("closed, %s is still in %s", what, where)
		}
	}
	r.open(t)
	if _, err := r.db.Runner(t.Context(), other.ID); err != nil {
		t.Errorf("another was forgotten too: %v", err)
	}
	trail, err := r.db.Entries(t.Context(), store.TrailFilter{RunnerID: r.runner.ID}, 1)
	if err != nil || len(trail) != 1 || trail[0].Action != "forget" || trail[0].Who != kim {
		t.Errorf("%+v, %v", trail, err)
	}
	if err := Forget(t.Context(), r.db, r.shelf, r.runner.ID, kim); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("twice: %v", err)
	}
}

// stuck is a shelf that can't remove.
type stuck struct{ *Folder }

func (stuck) Remove(context.Context, string) error { return errors.New("stuck") }

// TestForgetInterrupted: what is left to do is remembered.
func TestForgetInterrupted(t *testing.T) {
	r := newRoom(t)
	clip := content(20_000)
	r.filmed(t, clip)
	if err := Forget(t.Context(), r.db, stuck{r.shelf}, r.runner.ID, store.Who{}); err == nil {
		t.Fatal("files can't be removed, and nobody says so")
	}
	r.open(t)
	if r.holds(t, clip[:64]) == "" {
		t.Fatal("the file is gone all the same: this proves nothing")
	}
	if _, err := Purge(t.Context(), r.db, r.shelf, r.clock.Now()); err != nil {
		t.Fatal(err)
	}
	for what, secret := range map[string][]byte{"the name": []byte(secretName), "the clip": clip[:64]} {
		if where := r.holds(t, secret); where != "" {
			t.Errorf("%s is still in %s", what, where)
		}
	}
}

// TestPurge: clips and pictures go after the class's days; measures, the
// card and the fact that there was a clip stay; it stands in the trail.
func TestPurge(t *testing.T) {
	r := newRoom(t)
	clip := content(20_000)
	check := r.filmed(t, clip)
	orphan := filepath.Join(r.dir, "media", "pictures", strings.Repeat("b", 26))
	byHand := filepath.Join(r.dir, "media", "clips", "README.txt")
	for _, path := range []string{orphan, byHand} {
		if err := os.WriteFile(path, []byte("x"), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(path, time.Time{}, time.Now().Add(-61*time.Minute)); err != nil {
			t.Fatal(err)
		}
	}
	r.upload(t, content(10), "given up")
	purge := func(after time.Duration, want Purged) {
		t.Helper()
		r.clock.Move(after)
		got, err := Purge(t.Context(), r.db, r.shelf, r.clock.Now())
		if err != nil || got != want {
			t.Errorf("%+v, %v; want %+v", got, err, want)
		}
	}
	purge(time.Minute, Purged{Files: 1}) // the orphan
	purge(24*time.Hour, Purged{Uploads: 1, Files: 2})
	purge(28*24*time.Hour, Purged{})
	purge(24*time.Hour, Purged{Footage: 2, Files: 2})
	purge(24*time.Hour, Purged{})
	if where := r.holds(t, clip[:64]); where != "" {
		t.Errorf("the clip is still in %s", where)
	}
	if where := r.holds(t, []byte(secretName+".mp4")); where != "" {
		t.Errorf("the clip's name is still in %s", where)
	}
	after, err := r.db.Check(t.Context(), check.ID)
	if err != nil || after.State != store.Ready || len(after.Card) == 0 {
		t.Errorf("the card: %+v, %v", after, err)
	}
	gone, err := r.db.Footage(t.Context(), check.ClipID)
	if err != nil || gone.Gone.IsZero() || gone.SHA256 != sumOf(clip) {
		t.Errorf("%+v, %v", gone, err)
	}
	if _, err := os.Stat(byHand); err != nil {
		t.Errorf("a file put there by hand: %v", err)
	}
	trail, err := r.db.Entries(t.Context(), store.TrailFilter{RunnerID: r.runner.ID}, 2)
	if err != nil || trail[0].Action != "delete" || trail[0].Who.ID != "purge" || trail[1].Who.ID != "purge" {
		t.Errorf("%+v, %v", trail, err)
	}
}

// TestWithdraw: the files go at once; the card and its numbers stay.
func TestWithdraw(t *testing.T) {
	r := newRoom(t)
	clip := content(20_000)
	check := r.filmed(t, clip)
	consents, err := r.db.Consents(t.Context(), r.runner.ID)
	if err != nil {
		t.Fatal(err)
	}
	if err := Withdraw(t.Context(), r.db, r.shelf, consents[0].ID, r.clock.Now(), store.Who{Kind: "link", ID: "own"}); err != nil {
		t.Fatal(err)
	}
	if where := r.holds(t, clip[:64]); where != "" {
		t.Errorf("the clip is still in %s", where)
	}
	if files := r.files(t); len(files) != 0 {
		t.Errorf("%v", files)
	}
	if after, err := r.db.Check(t.Context(), check.ID); err != nil || after.State != store.Ready {
		t.Errorf("%+v, %v", after, err)
	}
	trail, err := r.db.Entries(t.Context(), store.TrailFilter{RunnerID: r.runner.ID}, 10)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range trail {
		if e.Action == "withdraw" && e.Who.Kind == "link" {
			return
		}
	}
	t.Errorf("%+v", trail)
}
