package tables

import (
	"context"
	"errors"
	"strings"
	"time"
	"unicode"

	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

const footageColumns = "id, runner_id, class_id, check_id, kind, name, media_key, sha256, bytes, made_us, filmed_us, keep_until_us, gone_us"

func readFootage(scan scanner) (f store.Footage, err error) {
	return f, scan(&f.ID, &f.RunnerID, text{&f.ClassID}, text{&f.CheckID}, &f.Kind, &f.Name, &f.Key, &f.SHA256, &f.Bytes,
		when{&f.Made}, when{&f.Filmed}, when{&f.KeepUntil}, when{&f.Gone})
}

// displayName is a sender's name for a file, as far as it can be shown.
func displayName(name string) string {
	name = strings.Map(func(r rune) rune {
		if unicode.Is(unicode.C, r) || r == unicode.ReplacementChar {
			return -1
		}
		return r
	}, strings.ToValidUTF8(name, ""))
	if runes := []rune(name); len(runes) > 120 {
		name = string(runes[:120])
	}
	return strings.TrimSpace(name)
}

// AddFootage records a file, if the runner agreed to it.
func (t *Tables) AddFootage(ctx context.Context, f store.Footage) (store.Footage, error) {
	if f.Kind != store.Clip && f.Kind != store.Picture && f.Kind != store.Track {
		return f, errors.New("tables: footage of no kind")
	}
	f.ID, f.Made, f.Name, f.KeepUntil, f.Gone = newID(), t.now(), displayName(f.Name), time.Time{}, time.Time{}
	err := t.change(ctx, func(t *Tables) (e store.Entry, err error) {
		kind := roster.ClipKind
		if f.Kind != store.Track {
			if f.KeepUntil, err = t.keepUntil(ctx, f); err != nil {
				return e, err
			}
		}
		if f.Kind == store.Picture {
			kind = roster.PictureKind
		}
		_, err = t.exec(ctx, "INSERT INTO footage ("+footageColumns+") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
			f.ID, f.RunnerID, maybe(f.ClassID), maybe(f.CheckID), string(f.Kind), f.Name, f.Key, f.SHA256, f.Bytes,
			micro(f.Made), micro(f.Filmed), micro(f.KeepUntil), 0)
		return entry(roster.Add, kind, f.ID, f.RunnerID), err
	})
	return f, err
}

// keepUntil is when a clip or picture must be gone under the standing
// consent. A picture goes with the clip of its check.
func (t *Tables) keepUntil(ctx context.Context, f store.Footage) (until time.Time, err error) {
	c, err := t.mayFilm(ctx, f.RunnerID)
	if err != nil {
		return until, err
	}
	if f.Kind == store.Picture && !c.Pictures {
		return until, form.UsageError("the runner agreed to be measured but not to pictures; none are kept")
	}
	var class roster.Class
	if f.ClassID != "" {
		if class, err = t.Class(ctx, f.ClassID); err != nil {
			return until, err
		}
	}
	until = roster.KeepUntil(f.Made, class, c)
	if f.Kind != store.Picture || f.CheckID == "" {
		return until, nil
	}
	clips, err := list(ctx, t, readInt64, "SELECT keep_until_us FROM footage WHERE id = (SELECT clip_id FROM checks WHERE id = ?)", f.CheckID)
	if err == nil && len(clips) > 0 && clips[0] < micro(until) {
		until = fromMicro(clips[0])
	}
	return until, err
}

// Footage gives what is known of a file.
func (t *Tables) Footage(ctx context.Context, id string) (store.Footage, error) {
	return only(ctx, t, readFootage, "SELECT "+footageColumns+" FROM footage WHERE id = ?", id)
}

// RunnerFootage lists a runner's files, the earliest first.
func (t *Tables) RunnerFootage(ctx context.Context, runnerID string) ([]store.Footage, error) {
	return list(ctx, t, readFootage, "SELECT "+footageColumns+" FROM footage WHERE runner_id = ? ORDER BY made_us, id", runnerID)
}

// CheckFootage lists the clip, pictures and track of a check.
func (t *Tables) CheckFootage(ctx context.Context, checkID string) ([]store.Footage, error) {
	return list(ctx, t, readFootage, "SELECT "+footageColumns+` FROM footage
		WHERE check_id = ? OR id = (SELECT clip_id FROM checks WHERE id = ?) ORDER BY made_us, id`, checkID, checkID)
}

// DueFootage lists files whose time is over.
func (t *Tables) DueFootage(ctx context.Context, most int) ([]store.Footage, error) {
	return list(ctx, t, readFootage, "SELECT "+footageColumns+` FROM footage
		WHERE gone_us = 0 AND keep_until_us > 0 AND keep_until_us <= ? ORDER BY keep_until_us, id LIMIT ?`, micro(t.now()), most)
}

// RemoveFootage marks a file as gone.
func (t *Tables) RemoveFootage(ctx context.Context, id string) error {
	return t.change(ctx, func(t *Tables) (e store.Entry, err error) {
		f, err := t.Footage(ctx, id)
		if err != nil || !f.Gone.IsZero() {
			return e, err
		}
		if err := t.addRemoval(ctx, f.Key); err != nil {
			return e, err
		}
		kind := roster.ClipKind
		if f.Kind == store.Picture {
			kind = roster.PictureKind
		}
		_, err = t.exec(ctx, "UPDATE footage SET gone_us = ?, name = '' WHERE id = ?", micro(t.now()), id)
		return entry(roster.Delete, kind, id, f.RunnerID), err
	})
}

func (t *Tables) addRemoval(ctx context.Context, key string) error {
	_, err := t.exec(ctx, "INSERT INTO removals (media_key) VALUES (?) ON CONFLICT DO NOTHING", key)
	return err
}

func readText(scan scanner) (s string, err error) { return s, scan(&s) }

// Removals lists the keys of files to remove.
func (t *Tables) Removals(ctx context.Context) ([]string, error) {
	return list(ctx, t, readText, "SELECT media_key FROM removals ORDER BY media_key")
}

// RemovalDone takes a key off the list.
func (t *Tables) RemovalDone(ctx context.Context, key string) error {
	return t.within(ctx, func(t *Tables) error {
		_, err := t.exec(ctx, "DELETE FROM removals WHERE media_key = ?", key)
		return err
	})
}

// Keys lists the keys of all files that should be there.
func (t *Tables) Keys(ctx context.Context) (map[string]bool, error) {
	keys := map[string]bool{}
	err := t.within(ctx, func(t *Tables) error {
		files, err := list(ctx, t, readText, "SELECT media_key FROM footage WHERE gone_us = 0")
		if err != nil {
			return err
		}
		for _, key := range files {
			keys[key] = true
		}
		coming, err := list(ctx, t, readUpload, "SELECT "+uploadColumns+" FROM uploads WHERE check_id IS NULL")
		for _, u := range coming {
			keys[u.Key()], keys[u.ClipKey()] = true, true
		}
		return err
	})
	return keys, err
}

const uploadColumns = "id, runner_id, class_id, kind, name, bytes, sha256, ask, filmed_us, made_us, check_id"

func readUpload(scan scanner) (u store.Upload, err error) {
	return u, scan(&u.ID, &u.RunnerID, text{&u.ClassID}, &u.Kind, &u.Name, &u.Bytes, &u.SHA256, document{&u.Ask},
		when{&u.Filmed}, when{&u.Made}, text{&u.CheckID})
}

// AddUpload begins an upload, if the runner agreed to be filmed.
func (t *Tables) AddUpload(ctx context.Context, u store.Upload) (store.Upload, error) {
	ask, err := asDocument("check's question", u.Ask)
	if err := errors.Join(err, knownKind(u.Kind)); err != nil {
		return u, err
	}
	if u.Bytes <= 0 {
		return u, form.UsageError("the clip is empty; film it again")
	}
	u.ID, u.Made, u.Name, u.CheckID = newID(), t.now(), displayName(u.Name), ""
	return u, t.change(ctx, func(t *Tables) (e store.Entry, err error) {
		if _, err := t.mayFilm(ctx, u.RunnerID); err != nil {
			return e, err
		}
		_, err = t.exec(ctx, "INSERT INTO uploads ("+uploadColumns+") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, NULL)",
			u.ID, u.RunnerID, maybe(u.ClassID), string(u.Kind), u.Name, u.Bytes, u.SHA256, ask, micro(u.Filmed), micro(u.Made))
		return e, err // the trail gets its line when the clip is whole
	})
}

// Upload gives an upload.
func (t *Tables) Upload(ctx context.Context, id string) (store.Upload, error) {
	return only(ctx, t, readUpload, "SELECT "+uploadColumns+" FROM uploads WHERE id = ?", id)
}

// ClassUploads lists a class's unfinished uploads, the earliest first.
func (t *Tables) ClassUploads(ctx context.Context, classID string) ([]store.Upload, error) {
	return list(ctx, t, readUpload, "SELECT "+uploadColumns+" FROM uploads WHERE class_id = ? AND check_id IS NULL ORDER BY made_us, id", classID)
}

// RunnerUploads lists a runner's uploads, the earliest first.
func (t *Tables) RunnerUploads(ctx context.Context, runnerID string) ([]store.Upload, error) {
	return list(ctx, t, readUpload, "SELECT "+uploadColumns+" FROM uploads WHERE runner_id = ? ORDER BY made_us, id", runnerID)
}

// UploadDone records which check an upload became.
func (t *Tables) UploadDone(ctx context.Context, id, checkID string) error {
	return t.within(ctx, func(t *Tables) error {
		err := t.execOne(ctx, "UPDATE uploads SET check_id = ? WHERE id = ? AND check_id IS NULL", checkID, id)
		if !errors.Is(err, store.ErrNotFound) {
			return err
		}
		if u, err := t.Upload(ctx, id); err != nil || u.CheckID == checkID {
			return err
		}
		return store.ErrConflict
	})
}

// RemoveUpload forgets an upload and what has come of it.
func (t *Tables) RemoveUpload(ctx context.Context, id string) error {
	return t.within(ctx, func(t *Tables) error {
		if _, err := t.Upload(ctx, id); err != nil {
			return err
		}
		return t.dropUploads(ctx, "id = ?", id)
	})
}

// dropUploads deletes uploads and puts what has come on the list of removals.
func (t *Tables) dropUploads(ctx context.Context, where string, args ...any) error {
	all, err := list(ctx, t, readUpload, "SELECT "+uploadColumns+" FROM uploads WHERE "+where, args...)
	if err != nil {
		return err
	}
	for _, u := range all {
		if u.CheckID != "" {
			continue // its file is footage by now
		}
		if err := errors.Join(t.addRemoval(ctx, u.Key()), t.addRemoval(ctx, u.ClipKey())); err != nil {
			return err
		}
	}
	_, err = t.exec(ctx, "DELETE FROM uploads WHERE "+where, args...)
	return err
}

// StaleUploads lists uploads that began before then.
func (t *Tables) StaleUploads(ctx context.Context, before time.Time) ([]store.Upload, error) {
	return list(ctx, t, readUpload, "SELECT "+uploadColumns+" FROM uploads WHERE made_us < ? ORDER BY made_us, id", micro(before))
}
