package supply

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"time"
)

// source hands out the members of one package.
type source struct {
	pack   Package
	folder string // where the user keeps the files; empty to fetch
	tell   func(step string, done, total int64)
}

// unpackedLimit bounds what a package may hold.
const unpackedLimit = 1 << 30

// each gives every wanted member to put: from the user's folder where one is
// named, else from the package, fetched into a folder below work and removed
// afterwards.
func (s source) each(ctx context.Context, work string, wanted []member, put func(member, io.Reader) error) error {
	if s.folder == "" {
		folder, err := os.MkdirTemp(work, leftover)
		if err != nil {
			return err
		}
		defer os.RemoveAll(folder)
		archive, err := s.pack.Fetch(ctx, folder, s.tell)
		if err != nil {
			return err
		}
		return s.fromArchive(archive, wanted, put)
	}
	archive := filepath.Join(s.folder, s.pack.File)
	if _, err := os.Stat(archive); err == nil {
		if err := verify(archive, s.pack.Size, s.pack.SHA256); err != nil {
			return fmt.Errorf("the package %s: %w", archive, err)
		}
		return s.fromArchive(archive, wanted, put)
	}
	for _, m := range wanted {
		if err := s.fromFolder(m, put); err != nil {
			return err
		}
	}
	return nil
}

// fromArchive unpacks the package, which has been verified.
func (s source) fromArchive(path string, wanted []member, put func(member, io.Reader) error) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	step := "unpack " + s.pack.File
	s.tell(step, 0, s.pack.Size)
	count := &counter{r: f, tell: func(n int64) { s.tell(step, n, s.pack.Size) }}
	if err := unpack(count, wanted, unpackedLimit, put); err != nil {
		return fmt.Errorf("%s: %w", s.pack.File, err)
	}
	return nil
}

// fromFolder finds one member lying open in the user's folder: by itself, in
// an unpacked package, or in a tree of installed packages.
func (s source) fromFolder(m member, put func(member, io.Reader) error) error {
	path := filepath.FromSlash(m.path)
	for _, at := range []string{
		filepath.Base(path), path, filepath.Join("package", path),
		filepath.Join(filepath.FromSlash(s.pack.Name), path),
		filepath.Join("node_modules", filepath.FromSlash(s.pack.Name), path),
	} {
		f, err := os.Open(filepath.Join(s.folder, at))
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return err
		}
		defer f.Close()
		if err := put(m, f); err != nil {
			return fmt.Errorf("%s: %w", f.Name(), err)
		}
		return nil
	}
	return fmt.Errorf("%w: neither %s nor %s is in %s", fs.ErrNotExist, s.pack.File, filepath.Base(path), s.folder)
}

// Fetch lets npm fetch the package into the folder, verifies it, and gives its
// path. npm works in a folder of its own below, with its own cache, so that
// what remains is the verified file or nothing. tell is told
// how many bytes have arrived; it must not be nil.
func (p Package) Fetch(ctx context.Context, folder string, tell func(step string, done, total int64)) (string, error) {
	npm, err := exec.LookPath("npm")
	if err != nil {
		return "", fmt.Errorf("npm, which fetches the packages, is not on this machine: %w", err)
	}
	work, err := os.MkdirTemp(folder, leftover)
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(work)
	stop := p.watch(work, tell)
	err = runChild(ctx, work, nil, npm, "pack", p.Name+"@"+p.Version, "--pack-destination", work,
		"--cache", filepath.Join(work, "cache"), "--ignore-scripts", "--no-audit", "--no-fund",
		"--no-update-notifier", "--loglevel", "error")
	stop()
	if err != nil {
		return "", fmt.Errorf("fetch %s %s: %w", p.Name, p.Version, err)
	}
	arrived, path := filepath.Join(work, p.File), filepath.Join(folder, p.File)
	tell("verify "+p.File, 0, p.Size)
	if err := verify(arrived, p.Size, p.SHA256); err != nil {
		return "", fmt.Errorf("the package %s, as fetched: %w", p.File, err)
	}
	return path, os.Rename(arrived, path)
}

// watch tells how much has arrived in the folder until stop is called.
func (p Package) watch(folder string, tell func(step string, done, total int64)) (stop func()) {
	step := fmt.Sprintf("fetch %s %s", p.Name, p.Version)
	tell(step, 0, p.Size)
	done, ended := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(ended)
		tick := time.NewTicker(250 * time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-done:
				return
			case <-tick.C:
				tell(step, min(sizeOf(folder), p.Size), p.Size)
			}
		}
	}()
	return func() { close(done); <-ended }
}

// sizeOf is the bytes of all files below a folder, as far as they can be seen.
func sizeOf(folder string) int64 {
	var n int64
	filepath.WalkDir(folder, func(_ string, d fs.DirEntry, err error) error {
		if err == nil && d.Type().IsRegular() {
			if info, err := d.Info(); err == nil {
				n += info.Size()
			}
		}
		return nil
	})
	return n
}

// counter tells how much has been read.
type counter struct {
	r    io.Reader
	tell func(int64)
	n    int64
}

// Read reads on.
func (c *counter) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	before := c.n >> 20
	if c.n += int64(n); c.n>>20 != before {
		c.tell(c.n)
	}
	return n, err
}
