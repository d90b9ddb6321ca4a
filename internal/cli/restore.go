package cli

import (
	"bufio"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"plumbstride/internal/backup"
	"plumbstride/internal/form"
	"plumbstride/internal/media"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// restoreVerb brings back what a backup holds.
type restoreVerb struct {
	From      string `arg:"" name:"file" help:"The backup."`
	Check     bool   `help:"Only read the backup to its end and tell whether it is whole; nothing is written."`
	Replace   bool   `help:"Put the backup in the place of the records that are there. They are kept in a folder beside, which you delete."`
	Forgotten string `placeholder:"FILE" help:"A list of what was deleted since the backup was made, as plumbstride trail --deleted prints it, to be deleted again."`
	lockFlags
}

// Help stands below the verb's first line in its help.
func (restoreVerb) Help() string {
	return "Every part of the backup is unpacked beside the data folder and compared with its hash before anything takes its place. Records of an older plumbstride are brought up to date; those of a newer one are refused. All browsers are signed out; clips whose time is over go at once. Where records are replaced, what was deleted, withdrawn or revoked there since the backup was made is done again. Where those records are gone, give the list with --forgotten.\n\n" + passphraseHelp + "\n\n" + folderHelp + "\n\n" + exitCodes
}

// Run checks the backup, or restores it.
func (v *restoreVerb) Run(e *errand) error {
	folder, err := theFolder()
	if err != nil {
		return err
	}
	again, err := v.list()
	if err != nil {
		return err
	}
	f, lock, err := v.open(e)
	if err != nil {
		return err
	}
	defer f.Close()
	if v.Check {
		c, err := backup.Read(e.ctx, f, lock, v.known, nil)
		if err != nil {
			return err
		}
		_, err = fmt.Fprintln(e.Out, e.book.Say("The backup is whole: made on %s by %s; clips, pictures and tracks: %d; %.1f MB.", c.Head.Made.Local().Format(stampLayout), printable(c.Head.Program), len(c.Files)-1, float64(c.Bytes())/1e6))
		return err
	}
	used, err := v.place(folder)
	if err != nil {
		return err
	}
	stage, done, err := staging(e.ctx, folder)
	if err != nil {
		return err
	}
	defer done()
	c, err := unpack(e.ctx, f, lock, v.known, stage)
	if err != nil {
		return err
	}
	return v.settle(e, folder, stage, c, used, again)
}

// stampLayout is how a moment is written for people on the command line.
const stampLayout = "2006-01-02 15:04"

// open opens the backup and gives its lock, nil where it has none.
func (v *restoreVerb) open(e *errand) (f *os.File, lock *backup.Lock, err error) {
	if f, err = os.Open(v.From); err != nil {
		return nil, nil, form.UsageError("the backup %s can't be read: %w", v.From, err)
	}
	begins := make([]byte, 64)
	n, err := io.ReadFull(f, begins)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, nil, errors.Join(form.UsageError("the backup %s can't be read: %w", v.From, err), f.Close())
	}
	if _, err = f.Seek(0, io.SeekStart); err == nil && backup.Locked(begins[:n]) {
		lock, err = v.toOpen(e)
	}
	if err != nil {
		return nil, nil, errors.Join(err, f.Close())
	}
	return f, lock, nil
}

// known refuses a backup whose tables this program doesn't know.
func (*restoreVerb) known(h backup.Head) error {
	newest, err := newestTables()
	if err == nil && h.Schema > newest {
		err = form.MissingError("the backup was made by a newer plumbstride (%s: its tables are at %d, this one knows %d); use that one", h.Program, h.Schema, newest)
	}
	return err
}

// list reads what is to be deleted again.
func (v *restoreVerb) list() ([]store.Entry, error) {
	if v.Forgotten == "" {
		return nil, nil
	}
	f, err := os.Open(v.Forgotten)
	if err != nil {
		return nil, form.UsageError("the list %s can't be read: %w", v.Forgotten, err)
	}
	defer f.Close()
	return readDeletions(f)
}

// place looks at what is in the data folder, and tells whether there are
// records in it.
func (v *restoreVerb) place(folder dataFolder) (used bool, err error) {
	if folder.Used() {
		if !v.Replace {
			return true, form.UsageError("there are records in %s already; --replace puts the backup in their place and keeps them in a folder beside it", folder)
		}
		return true, nil
	}
	entries, err := os.ReadDir(string(folder))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return false, form.UsageError("the data folder %s can't be read: %w", folder, err)
	}
	for _, one := range entries {
		if one.Name() != filepath.Base(folder.Certificate()) {
			return false, form.UsageError("%s is not empty, and what is in it are no records of plumbstride; name an empty folder with %s", folder, folderVariable)
		}
	}
	return false, nil
}

// unpacking is a file that stands in the stage until all of it is ready: as
// long as it is there, nothing in that folder is the only copy of anything.
const unpacking = ".unpacking"

// clearStage takes away a stage that was never finished, and puts aside one
// that may hold the records from before a restore.
func clearStage(stage dataFolder) error {
	if _, err := os.Stat(string(stage)); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if _, err := os.Stat(filepath.Join(string(stage), unpacking)); err == nil {
		return os.RemoveAll(string(stage))
	}
	if os.Remove(string(stage)) == nil {
		return nil // it was empty
	}
	return os.Rename(string(stage), string(stage)+"-"+strings.ToLower(rand.Text()[:8]))
}

// staging makes an empty folder beside the data folder, for this process
// alone; done takes it away with what is in it, unless that has become the
// only copy of something. What a killed process left there goes first.
func staging(ctx context.Context, folder dataFolder) (stage dataFolder, done func(), err error) {
	stage = folder + ".restoring"
	if err := os.MkdirAll(filepath.Dir(string(stage)), 0o700); err != nil {
		return "", nil, form.MissingError("the folder %s can't be made: %w", filepath.Dir(string(stage)), err)
	}
	guard, err := os.OpenFile(string(stage)+".lock", os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return "", nil, form.MissingError("the folder beside the data folder can't be written (is it yours?): %w", err)
	}
	free, err := tryLock(guard)
	if err != nil || !free {
		return "", nil, errors.Join(form.UsageError("another restore works beside %s; wait until it has ended", folder), err, guard.Close())
	}
	done = func() {
		if _, err := os.Stat(filepath.Join(string(stage), unpacking)); err == nil {
			_ = os.RemoveAll(string(stage))
		}
		_ = os.Remove(guard.Name())
		_ = guard.Close()
	}
	err = errors.Join(ctx.Err(), clearStage(stage))
	if err == nil {
		if err = os.Mkdir(string(stage), 0o700); err == nil {
			err = os.WriteFile(filepath.Join(string(stage), unpacking), nil, 0o600)
		}
	}
	if err != nil {
		done()
		return "", nil, form.MissingError("the folder %s can't be made: %w", stage, err)
	}
	return stage, done, nil
}

// unpack puts every part of a backup into a folder, and gives an error unless
// all of it is as it was written.
func unpack(ctx context.Context, f io.Reader, lock *backup.Lock, known func(backup.Head) error, stage dataFolder) (c backup.Contents, err error) {
	shelf, err := media.OpenFolder(stage.Media(), media.DefaultLimits())
	if err != nil {
		return c, err
	}
	defer func() { err = errors.Join(err, shelf.Close()) }()
	root, err := os.OpenRoot(string(stage))
	if err != nil {
		return c, form.MissingError("the folder %s can't be opened: %w", stage, err)
	}
	defer func() { err = errors.Join(err, root.Close()) }()
	c, err = backup.Read(ctx, f, lock, func(h backup.Head) error {
		return errors.Join(known(h), shelf.Room(max(0, h.Bytes)))
	}, func(path string, bytes int64, content io.Reader) error {
		if err := shelf.Room(bytes); err != nil {
			return err
		}
		return unpackOne(root, path, content)
	})
	if err != nil {
		return c, err
	}
	return c, intact(ctx, stage.Database())
}

func unpackOne(root *os.Root, path string, content io.Reader) (err error) {
	out, err := root.OpenFile(filepath.FromSlash(path), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return fmt.Errorf("unpacking %s: %w", path, err)
	}
	defer func() {
		if cerr := out.Close(); err == nil && cerr != nil {
			err = fmt.Errorf("unpacking %s: %w", path, cerr)
		}
	}()
	if _, err := io.Copy(out, content); err != nil {
		return fmt.Errorf("unpacking %s (is the disk full?): %w", path, err)
	}
	if err := out.Sync(); err != nil {
		return fmt.Errorf("unpacking %s (is the disk full?): %w", path, err)
	}
	return nil
}

// settle brings the unpacked records up to date, deletes again what was
// deleted since, puts them in place and tells about it.
func (v *restoreVerb) settle(e *errand, folder, stage dataFolder, c backup.Contents, used bool, again []store.Entry) error {
	since := c.Head.Made
	if used {
		deleted, err := v.deletedSince(e, folder, since)
		if err != nil {
			return err
		}
		again = append(again, deleted...)
	}
	forgotten, err := bringBack(e, stage, again)
	if err != nil {
		return err
	}
	aside, err := swap(stage, folder, used, e.now())
	if err != nil {
		return err
	}
	fmt.Fprintln(e.Out, e.book.Say("Restored into %s, as it was on %s. Everybody signs in anew.", folder, since.Local().Format(stampLayout)))
	if aside != "" {
		fmt.Fprintln(e.Out, e.book.Say("The records that were there lie in %s. Delete that folder when you have seen that all is well.", aside))
	}
	switch {
	case forgotten > 0:
		_, err = fmt.Fprintln(e.Out, e.book.Say("Deletions and withdrawals since then that were done again: %d.", forgotten))
	case !used && v.Forgotten == "":
		_, err = fmt.Fprintln(e.Out, e.book.Say("Whoever was forgotten since then is in these records again. If you know of anybody: plumbstride forget NAME, or the list of plumbstride trail --deleted, given with --forgotten."))
	}
	return err
}

// deletedSince takes the records that are there for this process alone, and
// gives what was deleted in them since. Of records that can't be read it
// can't be known, and that is said.
func (v *restoreVerb) deletedSince(e *errand, folder dataFolder, since time.Time) ([]store.Entry, error) {
	old, err := openFolder(e.ctx, string(folder), e.now)
	if err != nil {
		fmt.Fprintln(e.Err, "plumbstride: "+e.book.Say("the records that are there can't be read, so nobody knows who was forgotten since the backup was made: %s", e.book.Of(err.Error())))
		return nil, nil
	}
	defer old.close()
	entries, err := old.db.Entries(e.ctx, store.TrailFilter{From: since}, maxDeletions)
	if err == nil {
		err = old.file.Alone(e.ctx)
	}
	if err != nil {
		return nil, err
	}
	var out []store.Entry
	for _, one := range entries {
		if deletes(one) {
			out = append(out, one)
		}
	}
	return out, nil
}

// bringBack makes the unpacked records ready for use, and gives how many
// deletions were done again.
func bringBack(e *errand, stage dataFolder, again []store.Entry) (n int, err error) {
	r, err := openFolder(e.ctx, string(stage), e.now)
	if err != nil {
		return 0, err
	}
	defer r.close()
	s := r.db.By(command())
	if err := s.RemoveSessions(e.ctx); err != nil {
		return 0, err
	}
	if err := dropUnfinished(e.ctx, s, e.now()); err != nil {
		return 0, err
	}
	for _, one := range again {
		done, err := deleteAgain(e.ctx, r, one)
		if err != nil {
			return n, err
		}
		if done {
			n++
		}
	}
	err = eachFile(e.ctx, s, func(f store.Footage) error {
		there, err := r.shelf.Open(e.ctx, f.Key)
		if errors.Is(err, media.ErrNoFile) {
			return s.RemoveFootage(e.ctx, f.ID)
		}
		if err != nil {
			return err
		}
		return there.Close()
	})
	if err != nil {
		return n, err
	}
	if _, err := media.Purge(e.ctx, r.db, r.shelf, e.now()); err != nil {
		return n, err
	}
	if err := s.Record(e.ctx, store.Entry{Action: "restore", Kind: roster.RosterList}); err != nil {
		return n, err
	}
	return n, r.file.Alone(e.ctx)
}

// dropUnfinished forgets uploads whose parts are not in a backup.
func dropUnfinished(ctx context.Context, s store.Store, now time.Time) error {
	uploads, err := s.StaleUploads(ctx, now.AddDate(100, 0, 0))
	if err != nil {
		return err
	}
	for _, u := range uploads {
		if u.CheckID == "" {
			if err := s.RemoveUpload(ctx, u.ID); err != nil {
				return err
			}
		}
	}
	return nil
}

// swap puts the stage in the data folder's place. What was there lies in the
// folder aside afterwards, "" where nothing was worth keeping. The
// certificate stays.
func swap(stage, folder dataFolder, used bool, now time.Time) (aside string, err error) {
	complain := func(err error) error {
		return form.MissingError("the restored records can't be put in the place of %s (is it a disk of its own? then name a folder on it with %s): %w", folder, folderVariable, err)
	}
	if err := os.Remove(filepath.Join(string(stage), unpacking)); err != nil {
		return "", complain(err)
	}
	defer func() { syncFolder(filepath.Dir(string(folder))) }()
	if _, err := os.Stat(string(folder)); errors.Is(err, fs.ErrNotExist) {
		if err := os.Rename(string(stage), string(folder)); err != nil {
			return "", complain(err)
		}
		return "", nil
	}
	if err := exchange(string(stage), string(folder)); err != nil {
		return "", complain(err)
	}
	if err := os.Rename(stage.Certificate(), folder.Certificate()); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return "", fmt.Errorf("the certificate stays in %s: %w", stage, err)
	}
	if !used {
		return "", os.RemoveAll(string(stage))
	}
	aside = string(folder) + now.Format(".before-2006-01-02-150405")
	if _, err := os.Lstat(aside); err == nil {
		aside += "-" + strings.ToLower(rand.Text()[:8])
	}
	if err := os.Rename(string(stage), aside); err != nil {
		return "", fmt.Errorf("the records that were there lie in %s: %w", stage, err)
	}
	return aside, nil
}

// syncFolder sees to it that new names are on the disk; not every system can.
func syncFolder(path string) {
	if d, err := os.Open(path); err == nil {
		_ = d.Sync()
		_ = d.Close()
	}
}

// maxDeletions is more lines than a trail has.
const maxDeletions = 10_000_000

// deletes tells whether a line of the trail is about something that a restored
// backup would bring back to life.
func deletes(e store.Entry) bool {
	switch e.Action {
	case "forget", "withdraw", "revoke":
		return true
	case string(roster.Delete):
		switch e.Kind {
		case roster.CheckKind, roster.PlanKind, roster.PracticeKind, roster.NoteKind, roster.ClipKind, roster.PictureKind:
			return true
		}
	}
	return false
}

// deleteAgain does what a line of the trail says; false where there is nothing
// of it.
func deleteAgain(ctx context.Context, r *records, one store.Entry) (done bool, err error) {
	s := r.db.By(command())
	switch {
	case one.Action == "forget":
		err = media.Forget(ctx, r.db, r.shelf, one.Subject, command())
	case one.Action == "withdraw":
		err = s.WithdrawConsent(ctx, one.Subject)
	case one.Action == "revoke":
		err = s.RevokeLink(ctx, one.Subject)
	case one.Kind == roster.CheckKind:
		err = s.RemoveCheck(ctx, one.Subject)
	case one.Kind == roster.PlanKind:
		err = s.RemovePlan(ctx, one.Subject)
	case one.Kind == roster.PracticeKind:
		err = s.RemoveActivity(ctx, one.Subject)
	case one.Kind == roster.NoteKind:
		err = s.RemoveNote(ctx, one.Subject)
	default:
		err = s.RemoveFootage(ctx, one.Subject)
	}
	if errors.Is(err, store.ErrNotFound) {
		return false, nil
	}
	return err == nil, err
}

// readDeletions reads lines as trail --deleted prints them: what was done, to
// what kind of thing, and its number.
func readDeletions(from io.Reader) (out []store.Entry, err error) {
	lines := bufio.NewScanner(io.LimitReader(from, 64<<20))
	for n := 1; lines.Scan(); n++ {
		words := strings.Fields(lines.Text())
		if len(words) == 0 || strings.HasPrefix(words[0], "#") {
			continue
		}
		if len(words) < 3 {
			return nil, form.UsageError("line %d of the list is not like: forget runner NUMBER", n)
		}
		one := store.Entry{Action: words[0], Kind: roster.Kind(words[1]), Subject: words[2]}
		if !deletes(one) {
			return nil, form.UsageError("line %d of the list is not like: forget runner NUMBER", n)
		}
		out = append(out, one)
	}
	if err := lines.Err(); err != nil {
		return nil, form.UsageError("the list can't be read: %w", err)
	}
	return out, nil
}
