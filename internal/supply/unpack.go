package supply

import (
	"archive/tar"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
)

// unpack reads a .tgz and hands each wanted member to put, whose reader ends
// after the member's known size. Nothing but the wanted names is read, names
// in the archive are never used as paths, and archives of more than limit
// bytes unpacked are refused.
func unpack(archive io.Reader, wanted []member, limit int64, put func(member, io.Reader) error) error {
	z, err := gzip.NewReader(archive)
	if err != nil {
		return fmt.Errorf("open the package: %w", err)
	}
	defer z.Close()
	left := map[string]member{}
	for _, m := range wanted {
		left["package/"+m.path] = m
	}
	bounded := &io.LimitedReader{R: z, N: limit}
	for t := tar.NewReader(bounded); len(left) > 0; {
		head, err := t.Next()
		if errors.Is(err, io.EOF) || bounded.N <= 0 {
			break
		}
		if err != nil {
			return fmt.Errorf("read the package: %w", err)
		}
		m, ok := left[head.Name]
		if !ok {
			continue
		}
		if head.Typeflag != tar.TypeReg || head.Size != m.size {
			return fmt.Errorf("%s in the package: %w", m.path, errDamaged)
		}
		if err := put(m, t); err != nil {
			return fmt.Errorf("%s: %w", m.path, err)
		}
		delete(left, head.Name)
	}
	for _, m := range left {
		return fmt.Errorf("the package holds no %s", m.path)
	}
	return nil
}

// readWhole reads a member into memory and verifies it.
func readWhole(m member, r io.Reader) ([]byte, error) {
	data, err := io.ReadAll(io.LimitReader(r, m.size+1))
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(data)
	if int64(len(data)) != m.size || hex.EncodeToString(sum[:]) != m.sha256 {
		return nil, errDamaged
	}
	return data, nil
}

// place writes a file under another name beside its place, verifies it, and
// renames it: the place holds nothing, or what it held, or the whole file.
func place(path string, size int64, sha string, from io.Reader) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), leftover+"*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	h := sha256.New()
	n, err := io.Copy(io.MultiWriter(f, h), io.LimitReader(from, size+1))
	if err != nil {
		return err
	}
	if n != size || hex.EncodeToString(h.Sum(nil)) != sha {
		return errDamaged
	}
	if err := f.Chmod(0o644); err != nil {
		return err
	}
	if err := f.Sync(); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

// leftover begins the names of unfinished files and folders.
const leftover = ".setup-part-"

// sweep removes what a killed set-up left in the folder; the caller holds its
// lock.
func sweep(folder string) error {
	list, err := os.ReadDir(folder)
	if err != nil {
		return err
	}
	for _, e := range list {
		if !strings.HasPrefix(e.Name(), leftover) {
			continue
		}
		if err := os.RemoveAll(filepath.Join(folder, e.Name())); err != nil {
			return fmt.Errorf("clear an unfinished set-up: %w", err)
		}
	}
	return nil
}
