package cli

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"plumbstride/internal/export"
	"plumbstride/internal/form"
	"plumbstride/internal/media"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// exportVerb gives everything out in open formats.
type exportVerb struct {
	To     string `arg:"" name:"file" help:"A new folder, or a file that ends in .zip."`
	Runner string `xor:"whom" placeholder:"NAME" help:"Only this runner: the name, or the ID as roster list gives it."`
	Class  string `xor:"whom" placeholder:"DAY" help:"Only the runners of the classes on this day: 2026-03-02."`
	Clips  bool   `default:"true" negatable:"" help:"With clips, pictures and tracks."`
}

// Help stands below the verb's first line in its help.
func (exportVerb) Help() string {
	return "For whoever goes on with another program, hands over a runner's data, or counts for themselves: one JSON object a runner, tables in CSV over all of them (runners, classes, attendance, consents, checks, measures, decisions, plans, notes, files, trail), and the clips, pictures and tracks themselves. docs/keeping.md tells what the columns are. A spreadsheet takes no cell for a formula: an apostrophe stands before what could be one. Answers about health and contacts are in it. To come back to plumbstride, use backup.\n\n" + folderHelp + "\n\n" + exitCodes
}

// Run writes the export.
func (v *exportVerb) Run(e *errand) error {
	if _, err := os.Lstat(v.To); err == nil {
		return form.UsageError("%s is there already; name a new folder, or a new file that ends in .zip", v.To)
	}
	return withRecords(e, func(r *records) error {
		whom, err := v.whom(e, r.db)
		if err != nil {
			return err
		}
		for _, one := range whom {
			entry := store.Entry{Action: string(roster.Export), Kind: roster.RunnerKind, Subject: one.ID, RunnerID: one.ID}
			if err := r.db.By(command()).Record(e.ctx, entry); err != nil {
				return err
			}
		}
		files := 0
		fill := func(s sink) (err error) {
			files, err = v.fill(e.ctx, r, whom, s)
			return err
		}
		if strings.EqualFold(filepath.Ext(v.To), ".zip") {
			err = zipped(v.To, fill)
		} else {
			err = foldered(v.To, fill)
		}
		if err != nil {
			return err
		}
		_, err = fmt.Fprintln(e.Out, e.book.Say("Exported into %s. Runners: %d. Clips, pictures and tracks: %d.", printable(v.To), len(whom), files))
		return err
	})
}

// whom are the runners that were asked for.
func (v *exportVerb) whom(e *errand, s store.Store) ([]roster.Runner, error) {
	if v.Runner != "" {
		one, err := findRunner(e, s, v.Runner)
		return []roster.Runner{one}, err
	}
	all, err := s.Runners(e.ctx)
	if err != nil || v.Class == "" {
		return all, err
	}
	classes, err := s.Classes(e.ctx)
	if err != nil {
		return nil, err
	}
	in, met := map[string]bool{}, false
	for _, c := range classes {
		if c.Date.Time().Format("2006-01-02") != v.Class {
			continue
		}
		met = true
		there, err := s.Attendance(e.ctx, c.ID)
		if err != nil {
			return nil, err
		}
		for _, a := range there {
			in[a.RunnerID] = true
		}
	}
	if !met {
		return nil, form.UsageError("there is no class on %q; write its day as 2026-03-02", v.Class)
	}
	return slices.DeleteFunc(all, func(r roster.Runner) bool { return !in[r.ID] }), nil
}

// sink takes the files of an export, each under a path of its own making.
type sink func(name string, content io.Reader) error

// fill gives the sink everything, and tells how many clips, pictures and
// tracks there were.
func (v *exportVerb) fill(ctx context.Context, r *records, whom []roster.Runner, s sink) (files int, err error) {
	x := export.New()
	for _, one := range whom {
		all, err := store.About(ctx, r.db, one.ID)
		if err != nil {
			return files, err
		}
		there := map[string]string{}
		for _, f := range all.Footage {
			if !v.Clips || !f.Gone.IsZero() {
				continue
			}
			name := path.Join("files", one.ID, path.Base(f.Key)+ending(f))
			switch err := r.give(ctx, f, name, s); {
			case errors.Is(err, media.ErrNoFile):
				continue // its time was over meanwhile
			case err != nil:
				return files, err
			}
			there[f.ID] = name
			files++
		}
		file, err := x.Add(all, func(f store.Footage) string { return there[f.ID] })
		if err != nil {
			return files, err
		}
		if err := s(file.Name, bytes.NewReader(file.Content)); err != nil {
			return files, err
		}
	}
	for _, t := range x.Tables() {
		if err := s(t.Name, bytes.NewReader(t.Content)); err != nil {
			return files, err
		}
	}
	return files, nil
}

// give gives the sink one file of the shelf.
func (r *records) give(ctx context.Context, f store.Footage, name string, s sink) (err error) {
	content, err := r.shelf.Open(ctx, f.Key)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, content.Close()) }()
	return s(name, content)
}

// ending is a file's, so that programs know it: what the sender called it
// counts only where it is one of those that are known.
func ending(f store.Footage) string {
	switch f.Kind {
	case store.Picture:
		return ".jpg"
	case store.Track:
		return ".csv"
	}
	known := []string{".mp4", ".mov", ".m4v", ".avi", ".mkv", ".webm", ".3gp", ".csv", ".jpg", ".jpeg", ".png", ".webp", ".heic"}
	if ext := strings.ToLower(path.Ext(f.Name)); slices.Contains(known, ext) {
		return ext
	}
	return ".clip"
}

// zipped fills a zip file, which is there whole or not at all.
func zipped(to string, fill func(sink) error) error {
	return publishFilled(to, owner, func(f *os.File) error {
		w := zip.NewWriter(f)
		err := fill(func(name string, content io.Reader) error {
			into, err := w.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate})
			if err != nil {
				return err
			}
			_, err = io.Copy(into, content)
			return err
		})
		return errors.Join(err, w.Close())
	})
}

// foldered fills a folder, which takes its name when all of it is there.
func foldered(to string, fill func(sink) error) (err error) {
	part, err := os.MkdirTemp(filepath.Dir(filepath.Clean(to)), "."+filepath.Base(to)+".*.part")
	if err != nil {
		return form.UsageError("%s can't be made: %w", to, err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(part))
		}
	}()
	err = fill(func(name string, content io.Reader) error {
		into := filepath.Join(part, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(into), 0o700); err != nil {
			return err
		}
		f, err := os.OpenFile(into, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
		if err != nil {
			return err
		}
		_, err = io.Copy(f, content)
		return errors.Join(err, f.Sync(), f.Close())
	})
	if err != nil && form.CodeOf(err) == "" && !errors.Is(err, context.Canceled) {
		return fmt.Errorf("can't write %s (is the disk full, or the folder not yours?): %w", to, err)
	}
	if err != nil {
		return err
	}
	if err := os.Rename(part, to); err != nil {
		return fmt.Errorf("the export can't take the name %s (has something taken it meanwhile?): %w", to, err)
	}
	return nil
}
