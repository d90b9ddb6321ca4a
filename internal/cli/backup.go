package cli

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"

	"plumbstride/internal/backup"
	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// backupVerb puts everything that is kept into one file.
type backupVerb struct {
	To        string `arg:"" optional:"" name:"file" help:"The file to write, or a folder that it goes to under a name made of the day and hour; this folder where nothing is named."`
	Lock      bool   `help:"Lock it with a passphrase, and ask for it where none is stated."`
	Overwrite bool   `help:"Replace the file where it is there already."`
	lockFlags
}

// Help stands below the verb's first line in its help.
func (backupVerb) Help() string {
	return "One file with all records, clips, pictures and tracks, as they are at one moment; the evening may go on meanwhile. It is read back and compared before it takes its name, so it is there whole or not at all. Anybody who has the file can read everything in it unless it is locked; whoever loses the passphrase can't.\n\n" + passphraseHelp + "\n\nThe certificate, sign-ins and unfinished uploads are not in it. docs/keeping.md tells how to keep backups and how to move to another machine.\n\n" + folderHelp + "\n\n" + exitCodes
}

// Run writes the backup.
func (v *backupVerb) Run(e *errand) error {
	path, err := v.path(e.now())
	if err != nil {
		return err
	}
	lock, err := v.toClose(e, v.Lock)
	if err != nil {
		return err
	}
	return withRecords(e, func(r *records) error {
		c, err := r.backUp(e.ctx, path, e.now(), lock)
		if err != nil {
			return err
		}
		if err := r.db.By(command()).Record(e.ctx, store.Entry{Action: "backup", Kind: roster.RosterList}); err != nil {
			return err
		}
		return v.report(e, r, path, c, lock != nil)
	})
}

// path is the file to write, which must not be there yet.
func (v *backupVerb) path(now time.Time) (string, error) {
	path := v.To
	if path == "" {
		path = "."
	}
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		name := now.Local().Format("plumbstride-2006-01-02-1504.tar.zst")
		if said, err := v.stated(); v.Lock || err == nil && said != "" {
			name += ".age"
		}
		path = filepath.Join(path, name)
	}
	if _, err := os.Lstat(path); err == nil && !v.Overwrite {
		return "", form.UsageError("%s is there already; choose another name, or replace it with --overwrite", path)
	}
	return path, nil
}

// report tells what is in the backup, and what isn't.
func (v *backupVerb) report(e *errand, r *records, path string, c backup.Contents, locked bool) error {
	keys, err := r.db.Keys(e.ctx)
	if err != nil {
		return err
	}
	lost := 0
	for _, path := range c.Missing {
		if keys[path[len(backup.Media):]] {
			lost++
		}
	}
	if lost > 0 {
		fmt.Fprintln(e.Err, "plumbstride: "+e.book.Say("files that the records name and that are not in the data folder any more: %d; they are not in the backup either", lost))
	}
	if !locked {
		fmt.Fprintln(e.Err, "plumbstride: "+e.book.Say("the backup is not locked: whoever has the file can read all of it"))
	}
	_, err = fmt.Fprintln(e.Out, e.book.Say("Backed up: the records; clips, pictures and tracks: %d; %.1f MB in all, read back and found whole, in %s", len(c.Files)-1, float64(c.Bytes())/1e6, printable(path)))
	return err
}

// backUp writes everything that is kept to a file, and reads it back.
func (r *records) backUp(ctx context.Context, path string, now time.Time, lock *backup.Lock) (c backup.Contents, err error) {
	snapshot, done, err := r.shelf.Scratch()
	if err != nil {
		return c, err
	}
	defer done()
	if err := r.file.Snapshot(ctx, snapshot); err != nil {
		return c, err
	}
	head := backup.Head{Program: "plumbstride " + Version, Made: now}
	if head.Schema, err = r.file.Schema(ctx); err != nil {
		return c, err
	}
	parts, bytes, err := r.parts(ctx, snapshot)
	if err != nil {
		return c, err
	}
	head.Bytes = bytes
	err = publishFilled(path, owner, func(f *os.File) error {
		out := bufio.NewWriterSize(f, 1<<20)
		if c, err = backup.Write(ctx, out, head, parts, lock); err != nil {
			return err
		}
		if err := out.Flush(); err != nil {
			return err
		}
		return compared(ctx, f, lock, c)
	})
	return c, err
}

// compared reads a backup back and compares it with what was written.
func compared(ctx context.Context, f *os.File, lock *backup.Lock, want backup.Contents) error {
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return err
	}
	got, err := backup.Read(ctx, f, lock, nil, nil)
	if err != nil {
		return fmt.Errorf("read back: %w", err)
	}
	if !slices.Equal(got.Files, want.Files) {
		return errors.New("read back, it is not what was written: the disk may be failing; back up to another one")
	}
	return nil
}

// parts are the snapshot and the files that it names, with the sum of their
// sizes in bytes.
func (r *records) parts(ctx context.Context, snapshot string) (parts []backup.Part, bytes int64, err error) {
	taken, err := copied(ctx, snapshot)
	if err != nil {
		return nil, 0, err
	}
	defer func() { err = errors.Join(err, taken.Close()) }()
	parts = []backup.Part{{Path: backup.Database, Open: func() (io.ReadCloser, int64, error) {
		f, err := os.Open(snapshot)
		if err != nil {
			return nil, 0, err
		}
		return sized(f)
	}}}
	info, err := os.Stat(snapshot)
	if err != nil {
		return nil, 0, fmt.Errorf("the copy of the records: %w", err)
	}
	bytes = info.Size()
	err = eachFile(ctx, taken, func(f store.Footage) error {
		bytes += f.Bytes
		parts = append(parts, backup.Part{Path: backup.Media + f.Key, Open: func() (io.ReadCloser, int64, error) {
			content, err := r.shelf.Open(ctx, f.Key)
			if err != nil {
				return nil, 0, err
			}
			return sized(content)
		}})
		return nil
	})
	return parts, bytes, err
}

// eachFile gives do every file that should be there.
func eachFile(ctx context.Context, s store.Store, do func(store.Footage) error) error {
	runners, err := s.Runners(ctx)
	if err != nil {
		return err
	}
	for _, one := range runners {
		files, err := s.RunnerFootage(ctx, one.ID)
		if err != nil {
			return err
		}
		for _, f := range files {
			if !f.Gone.IsZero() {
				continue
			}
			if err := do(f); err != nil {
				return err
			}
		}
	}
	return nil
}

// sized gives a file with its size in bytes.
func sized(f io.ReadSeekCloser) (io.ReadCloser, int64, error) {
	n, err := f.Seek(0, io.SeekEnd)
	if err == nil {
		_, err = f.Seek(0, io.SeekStart)
	}
	if err != nil {
		return nil, 0, errors.Join(err, f.Close())
	}
	return f, n, nil
}
