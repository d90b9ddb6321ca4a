package media

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"time"

	"plumbstride/internal/form"
	"plumbstride/internal/interrupt"
	"plumbstride/internal/store"
)

// Limits say how much a folder takes.
type Limits struct {
	// File is the largest file, in bytes.
	File int64
	// Spare is how much of the disk stays free, in bytes.
	Spare int64
}

// DefaultLimits takes files up to 4 GB and leaves 1 GB of the disk free: a
// minute of 4K video at 120 pictures a second is about 1 GB (common practice,
// no source).
func DefaultLimits() Limits { return Limits{File: 4 << 30, Spare: 1 << 30} }

// Folder is a shelf in a folder of this machine.
type Folder struct {
	root   *os.Root
	limits Limits
	// free tells the bytes left on the disk with the folder.
	free func(path string) (int64, error)

	mu sync.Mutex // held while a piece is written
}

var _ Shelf = (*Folder)(nil)

// OpenFolder opens the folder and makes it where it isn't there.
func OpenFolder(dir string, limits Limits) (*Folder, error) {
	for _, d := range drawers() {
		if err := os.MkdirAll(filepath.Join(dir, d), 0o700); err != nil {
			return nil, form.MissingError("the folder for clips, %s, can't be made (is it yours to write in?): %w", dir, err)
		}
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, form.MissingError("the folder for clips, %s, can't be opened: %w", dir, err)
	}
	return &Folder{root: root, limits: limits, free: freeBytes}, nil
}

// Close lets go of the folder.
func (f *Folder) Close() error { return f.root.Close() }

// KeepFree sets how many bytes of the disk stay free; call it before the
// folder is used.
func (f *Folder) KeepFree(bytes int64) { f.limits.Spare = bytes }

// Room is a form.Error where the disk has no room for that many bytes more.
func (f *Folder) Room(bytes int64) error {
	free, err := f.free(f.root.Name())
	if err != nil {
		return fmt.Errorf("the free space of %s can't be told: %w", f.root.Name(), err)
	}
	if free-bytes < f.limits.Spare {
		return form.MissingError("the disk is nearly full: %d MB are left, and %d MB must stay free; delete something, or let plumbstride purge take away what is over its time",
			free>>20, f.limits.Spare>>20)
	}
	return nil
}

// fits refuses a file that is too large, or for which there is no room.
func (f *Folder) fits(bytes int64) error {
	if bytes > f.limits.File {
		return form.ClipError("the clip has %d MB; %d MB are the most. Film for ten seconds, or choose a smaller picture", bytes>>20, f.limits.File>>20)
	}
	return f.Room(bytes)
}

// explain turns a full disk into a sentence.
func explain(err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%w (%w)", ErrNoFile, err)
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return form.MissingError("the disk is full; what came so far is kept. Make room, and go on: %w", err)
	default:
		return fmt.Errorf("the folder for clips: %w", err)
	}
}

// Put stores a whole file.
func (f *Folder) Put(ctx context.Context, kind store.FootageKind, from io.Reader) (_ Stored, err error) {
	if err := f.Room(0); err != nil {
		return Stored{}, err
	}
	part := newKey(incoming)
	file, err := f.root.OpenFile(part, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return Stored{}, explain(err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, file.Close(), f.Remove(ctx, part))
		}
	}()
	sum := sha256.New()
	n, err := io.Copy(io.MultiWriter(file, sum), io.LimitReader(interrupt.Reader(ctx, from), f.limits.File+1))
	switch {
	case err != nil:
		return Stored{}, explain(err)
	case n > f.limits.File:
		return Stored{}, f.fits(n)
	}
	if err := errors.Join(file.Sync(), file.Close()); err != nil {
		return Stored{}, explain(err)
	}
	done := Stored{Key: newKey(drawer(kind)), SHA256: hexOf(sum), Bytes: n}
	return done, f.rename(part, done.Key)
}

func hexOf(h hash.Hash) string { return hex.EncodeToString(h.Sum(nil)) }

// rename gives a whole file its name, and sees to it that the name is on the
// disk.
func (f *Folder) rename(from, to string) error {
	if err := f.root.Rename(from, to); err != nil {
		return explain(err)
	}
	for _, drawer := range []string{path.Dir(to), path.Dir(from)} {
		d, err := f.root.Open(drawer)
		if err != nil {
			return explain(err)
		}
		_ = d.Sync() // not every system can; the file itself is on the disk
		if err := d.Close(); err != nil {
			return explain(err)
		}
	}
	return nil
}

// Scratch gives the path of a new, empty file for a while; done takes it away.
// What a killed process leaves of it goes with a later Sweep.
func (f *Folder) Scratch() (path string, done func(), err error) {
	if err := f.Room(0); err != nil {
		return "", nil, err
	}
	key := newKey(incoming)
	file, err := f.root.OpenFile(key, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return "", nil, explain(err)
	}
	done = func() { _, _ = f.root.Remove(key), f.root.Remove(key+"-journal") }
	if err := file.Close(); err != nil {
		done()
		return "", nil, explain(err)
	}
	return filepath.Join(f.root.Name(), filepath.FromSlash(key)), done, nil
}

// Open reads a file.
func (f *Folder) Open(_ context.Context, key string) (io.ReadSeekCloser, error) {
	if err := checkKey(key); err != nil {
		return nil, err
	}
	file, err := f.root.Open(key)
	if err != nil {
		return nil, explain(err)
	}
	return file, nil
}

// Local gives the path of a file.
func (f *Folder) Local(_ context.Context, key string) (string, func(), error) {
	if err := checkKey(key); err != nil {
		return "", nil, err
	}
	if _, err := f.root.Stat(key); err != nil {
		return "", nil, explain(err)
	}
	return filepath.Join(f.root.Name(), filepath.FromSlash(key)), func() {}, nil
}

// Remove takes a file away.
func (f *Folder) Remove(_ context.Context, key string) error {
	if err := checkKey(key); err != nil {
		return err
	}
	return f.remove(key)
}

func (f *Folder) remove(key string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if err := f.root.Remove(key); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("the file %s can't be removed: %w", key, err)
	}
	return nil
}

// Sweep removes what nobody knows. Whatever else lies in the drawers, put
// there by hand, is left alone.
func (f *Folder) Sweep(_ context.Context, known map[string]bool, before time.Time) (removed int, err error) {
	for _, drawer := range drawers() {
		entries, err := fs.ReadDir(f.root.FS(), drawer)
		if err != nil {
			return removed, explain(err)
		}
		for _, e := range entries {
			key := drawer + "/" + e.Name()
			info, err := e.Info()
			// A database that was copied here had its journal beside it.
			base := strings.TrimSuffix(key, "-journal")
			if err != nil || checkKey(base) != nil || known[base] || !info.Mode().IsRegular() || !info.ModTime().Before(before) {
				continue
			}
			if err := f.remove(key); err != nil {
				return removed, err
			}
			removed++
		}
	}
	return removed, nil
}
