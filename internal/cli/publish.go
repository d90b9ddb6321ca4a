package cli

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"plumbstride/internal/form"
)

// publish writes a file whole or not at all: readers see the old file or the
// new one, and a killed run leaves nothing half-written. The new content
// takes its name only when it is complete and on the disk.
func publish(path string, content []byte) error {
	return publishFilled(path, everyone, holding(content))
}

// publishAll publishes files, one after the other.
func publishAll(files []file) error {
	for _, f := range files {
		if err := publish(f.path, f.content); err != nil {
			return err
		}
	}
	return nil
}

// Who may read what is published: whoever the system's own rules let, or its
// owner alone.
const (
	everyone os.FileMode = 0o666
	owner    os.FileMode = 0o600
)

// publishFilled is publish for what is too large to hold: fill writes the
// content to a new, empty file, and writes it again to another where the
// first can't be given its name. fill may read back what it wrote. What it
// says to the coach (a form.Error), and an interrupt, come back as they are.
func publishFilled(path string, readers os.FileMode, fill func(*os.File) error) error {
	dir, name := filepath.Split(path)
	if dir == "" {
		dir = "."
	}
	err := putWhole(dir, name, readers, fill)
	switch {
	case err == nil, form.CodeOf(err) != "", errors.Is(err, context.Canceled):
		return err
	default:
		return fmt.Errorf("can't write %s (is the disk full, or the folder not yours?): %w", path, err)
	}
}

// holding fills a file with what is there already.
func holding(content []byte) func(*os.File) error {
	return func(f *os.File) error {
		_, err := f.Write(content)
		return err
	}
}

// putByRename is the way that works everywhere: a hidden file beside the
// final one, renamed over it. The hidden file goes away on every error.
func putByRename(dir, name string, readers os.FileMode, fill func(*os.File) error) (err error) {
	f, err := os.CreateTemp(dir, "."+name+".*.part")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, ignoreGone(os.Remove(f.Name())))
		}
	}()
	if err := fillAndSync(f, fill); err != nil {
		return errors.Join(err, f.Close())
	}
	if err := f.Chmod(readers &^ 0o022); err != nil && !errors.Is(err, errors.ErrUnsupported) {
		return errors.Join(err, f.Close())
	}
	if err := f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), filepath.Join(dir, name))
}

func fillAndSync(f *os.File, fill func(*os.File) error) error {
	if err := fill(f); err != nil {
		return err
	}
	return f.Sync()
}

func ignoreGone(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}

// folder makes the folder that results go to, before any long work begins,
// and gives a function that takes it away again if it was made here and is
// still empty.
func folder(path string) (undo func(), err error) {
	info, err := os.Stat(path)
	switch {
	case err == nil && !info.IsDir():
		return nil, form.UsageError("--out %s is a file; name a folder", path)
	case err == nil:
		return func() {}, nil
	case !errors.Is(err, fs.ErrNotExist):
		return nil, form.UsageError("--out %s can't be used: %w", path, err)
	}
	if err := os.MkdirAll(path, 0o755); err != nil {
		return nil, form.UsageError("--out %s can't be made: %w", path, err)
	}
	return func() { _ = os.Remove(path) }, nil // fails, as it should, when results lie in it
}

// exchangeByRename gives each of two folders the other's name, in three steps:
// whichever is the last, both folders are there under some name.
func exchangeByRename(a, b string) error {
	between := b + ".aside"
	if err := os.Rename(b, between); err != nil {
		return err
	}
	if err := os.Rename(a, b); err != nil {
		return errors.Join(err, os.Rename(between, b))
	}
	return os.Rename(between, a)
}
