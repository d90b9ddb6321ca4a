package backup

import (
	"archive/tar"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"time"

	"filippo.io/age"
	"github.com/klauspost/compress/zstd"

	"plumbstride/internal/interrupt"
)

// Part is a file to be put into a backup.
type Part struct {
	// Path is the part's name in the archive.
	Path string
	// Open gives the content and its size in bytes. An error that is
	// fs.ErrNotExist counts the part as missing.
	Open func() (content io.ReadCloser, bytes int64, err error)
}

// Write writes a backup of those parts, in their order. lock may be nil. A
// part that isn't there when its turn comes is listed as missing; one that
// changes its size while it is read is an error.
func Write(ctx context.Context, out io.Writer, head Head, parts []Part, lock *Lock) (c Contents, err error) {
	head.What, head.Format, head.Made = what, Format, head.Made.UTC().Truncate(time.Second)
	locked := io.WriteCloser(open{out})
	if lock != nil {
		if locked, err = lock.close(out); err != nil {
			return c, err
		}
	}
	packed, err := zstd.NewWriter(locked, zstd.WithEncoderLevel(zstd.SpeedFastest), zstd.WithEncoderConcurrency(2))
	if err != nil {
		return c, fmt.Errorf("packing the backup: %w", err)
	}
	w := &writer{ctx: ctx, tar: tar.NewWriter(packed), contents: Contents{Head: head, Files: []File{}, Missing: []string{}}}
	if err := w.all(parts); err != nil {
		return c, errors.Join(err, packed.Close())
	}
	return w.contents, errors.Join(w.tar.Close(), packed.Close(), locked.Close())
}

// open is a writer that needs no closing.
type open struct{ io.Writer }

func (open) Close() error { return nil }

// close gives a writer whose content only the passphrase opens.
func (l *Lock) close(out io.Writer) (io.WriteCloser, error) {
	r, err := age.NewScryptRecipient(l.Passphrase)
	if err != nil {
		return nil, fmt.Errorf("the passphrase: %w", err)
	}
	if l.WorkFactor > 0 {
		r.SetWorkFactor(l.WorkFactor)
	}
	w, err := age.Encrypt(out, r)
	if err != nil {
		return nil, fmt.Errorf("encrypting the backup: %w", err)
	}
	return w, nil
}

type writer struct {
	ctx      context.Context
	tar      *tar.Writer
	contents Contents
}

func (w *writer) all(parts []Part) error {
	if err := w.object(headName, w.contents.Head); err != nil {
		return err
	}
	for _, p := range parts {
		if !partName.MatchString(p.Path) {
			panic("backup: a part of a name that can't be read back: " + p.Path)
		}
		if err := w.part(p); err != nil {
			return err
		}
	}
	return w.object(contentsName, w.contents)
}

// object writes a part of the archive's own.
func (w *writer) object(name string, value any) error {
	text, err := json.MarshalIndent(value, "", " ")
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	text = append(text, '\n')
	if err := w.header(name, int64(len(text))); err != nil {
		return err
	}
	if _, err := io.Copy(w.tar, bytes.NewReader(text)); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

func (w *writer) header(name string, size int64) error {
	h := &tar.Header{Typeflag: tar.TypeReg, Name: name, Size: size, Mode: 0o600, ModTime: w.contents.Head.Made}
	if err := w.tar.WriteHeader(h); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

func (w *writer) part(p Part) (err error) {
	if err := w.ctx.Err(); err != nil {
		return err
	}
	content, size, err := p.Open()
	if errors.Is(err, fs.ErrNotExist) {
		w.contents.Missing = append(w.contents.Missing, p.Path)
		return nil
	}
	if err != nil {
		return fmt.Errorf("%s: %w", p.Path, err)
	}
	defer func() { err = errors.Join(err, content.Close()) }()
	if err := w.header(p.Path, size); err != nil {
		return err
	}
	sum := sha256.New()
	n, err := io.Copy(io.MultiWriter(w.tar, sum), io.LimitReader(interrupt.Reader(w.ctx, content), size))
	if err != nil {
		return fmt.Errorf("%s: %w", p.Path, err)
	}
	if n != size {
		return fmt.Errorf("%s has %d bytes, and %d were announced; try again", p.Path, n, size)
	}
	w.contents.Files = append(w.contents.Files, File{Path: p.Path, Bytes: size, SHA256: hex.EncodeToString(sum.Sum(nil))})
	return nil
}
