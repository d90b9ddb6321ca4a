package backup

import (
	"archive/tar"
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"filippo.io/age"
	"github.com/klauspost/compress/zstd"

	"plumbstride/internal/form"
	"plumbstride/internal/interrupt"
)

// The limits of what is read. An archive beyond them was not written here.
const (
	maxObject     = 64 << 20 // bytes of contents.json: some 400 000 files
	maxWindow     = 32 << 20 // bytes of Zstandard's window
	maxWorkFactor = 20       // scrypt with 1 GiB of memory
)

// ageBegins is how a file in the age format begins.
const ageBegins = "age-encryption.org/v1\n"

// Locked tells by the first bytes of a backup whether it needs a passphrase.
func Locked(head []byte) bool { return strings.HasPrefix(string(head), ageBegins) }

// Read reads a backup to its end. head is called first, with what the backup
// says it is; it may refuse it. take is called for each part, in the order of
// the archive, and must read the content to its end; nil only checks.
// Whatever is wrong with the file is a form.Error, and then nothing that take
// got may be used: only a Read without an error has seen every hash.
func Read(ctx context.Context, in io.Reader, lock *Lock, head func(Head) error, take func(path string, bytes int64, content io.Reader) error) (Contents, error) {
	plain, err := unlocked(bufio.NewReaderSize(interrupt.Reader(ctx, in), 1<<20), lock)
	if err != nil {
		return Contents{}, err
	}
	unpacked, err := zstd.NewReader(plain, zstd.WithDecoderMaxWindow(maxWindow), zstd.WithDecoderConcurrency(1))
	if err != nil {
		return Contents{}, damaged(err)
	}
	defer unpacked.Close()
	r := &reader{ctx: ctx, tar: tar.NewReader(unpacked), take: take, seen: map[string]bool{}}
	c, err := r.all(head)
	if err != nil {
		return Contents{}, err
	}
	// To the very end: the packing and the lock have sums of their own.
	if n, err := io.Copy(io.Discard, unpacked); err != nil || n > 1<<20 {
		return Contents{}, damaged(err)
	}
	return c, nil
}

// unlocked gives the archive behind the passphrase.
func unlocked(in *bufio.Reader, lock *Lock) (io.Reader, error) {
	begins, err := in.Peek(len(ageBegins))
	if err != nil && len(begins) == 0 {
		if errors.Is(err, io.EOF) {
			return nil, form.UsageError("the file is empty; it is no backup")
		}
		return nil, fmt.Errorf("the backup can't be read: %w", err)
	}
	if !Locked(begins) {
		return in, nil
	}
	if lock == nil {
		return nil, form.UsageError("the backup is locked with a passphrase, and none was given")
	}
	identity, err := age.NewScryptIdentity(lock.Passphrase)
	if err != nil {
		return nil, form.UsageError("the backup is locked with a passphrase, and none was given")
	}
	identity.SetMaxWorkFactor(maxWorkFactor)
	plain, err := age.Decrypt(in, identity)
	if _, no := errors.AsType[*age.NoIdentityMatchError](err); no {
		return nil, form.UsageError("the passphrase is not the one that the backup was locked with")
	}
	if err != nil {
		return nil, damaged(err)
	}
	return plain, nil
}

// damaged is the sentence about a file that isn't as it was written. An
// interrupt stays one, and so does what somebody said already.
func damaged(err error) error {
	switch {
	case err == nil:
		return form.UsageError("the backup is damaged, or it is none: something stands behind its end")
	case errors.Is(err, context.Canceled), form.CodeOf(err) != "":
		return err
	case errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, io.EOF):
		return form.UsageError("the backup was cut off: its end is missing; copy it again, or take another (%w)", err)
	default:
		return form.UsageError("the backup is damaged, or it is none; copy it again, or take another (%w)", err)
	}
}

type reader struct {
	ctx   context.Context
	tar   *tar.Reader
	take  func(string, int64, io.Reader) error
	files []File
	seen  map[string]bool
}

// all reads the parts from the head to the contents, and compares.
func (r *reader) all(check func(Head) error) (c Contents, err error) {
	h, err := r.head()
	if err != nil {
		return c, err
	}
	if check != nil {
		if err := check(h); err != nil {
			return c, err
		}
	}
	for {
		entry, err := r.tar.Next()
		if err != nil {
			return c, damaged(err)
		}
		if entry.Name == contentsName {
			return r.contents(entry, h)
		}
		if err := r.part(entry); err != nil {
			return c, err
		}
	}
}

// head reads what the archive says it is.
func (r *reader) head() (h Head, err error) {
	entry, err := r.tar.Next()
	if err != nil {
		return h, damaged(err)
	}
	if entry.Name != headName {
		return h, form.UsageError("this is an archive, but not a backup of Plumbstride")
	}
	if err := r.object(entry, 64<<10, &h); err != nil {
		return h, err
	}
	switch {
	case h.What != what || h.Format < 1:
		return h, form.UsageError("this is an archive, but not a backup of Plumbstride")
	case h.Format > Format:
		return h, form.MissingError("the backup was made by a newer plumbstride (%.40q); use that one", h.Program)
	}
	return h, nil
}

// object reads a part of the archive's own.
func (r *reader) object(entry *tar.Header, most int64, into any) error {
	if entry.Typeflag != tar.TypeReg || entry.Size > most {
		return damaged(fmt.Errorf("%s of %d bytes", entry.Name, entry.Size))
	}
	text, err := io.ReadAll(r.tar)
	if err != nil {
		return damaged(err)
	}
	if err := json.Unmarshal(text, into); err != nil {
		return damaged(err)
	}
	return nil
}

// part hands one part on and sums it up.
func (r *reader) part(entry *tar.Header) error {
	path := entry.Name
	if !partName.MatchString(path) || entry.Typeflag != tar.TypeReg || sparse(entry) || r.seen[path] {
		return form.UsageError("the backup holds %.80q, which no backup does; it is not safe to use", path)
	}
	r.seen[path] = true
	if err := r.ctx.Err(); err != nil {
		return err
	}
	sum := sha256.New()
	content := &noted{from: io.TeeReader(r.tar, sum)}
	if r.take != nil {
		if err := r.take(path, entry.Size, content); err != nil {
			if content.err != nil {
				return damaged(content.err)
			}
			return err
		}
	}
	if _, err := io.Copy(io.Discard, content); err != nil {
		return damaged(err)
	}
	r.files = append(r.files, File{Path: path, Bytes: content.n, SHA256: hex.EncodeToString(sum.Sum(nil))})
	return nil
}

// sparse tells a part with holes, which can claim any size.
func sparse(entry *tar.Header) bool {
	for key := range entry.PAXRecords {
		if strings.HasPrefix(key, "GNU.sparse.") {
			return true
		}
	}
	return false
}

// noted remembers how much was read, and why it could not be.
type noted struct {
	from io.Reader
	n    int64
	err  error
}

func (r *noted) Read(p []byte) (int, error) {
	n, err := r.from.Read(p)
	r.n += int64(n)
	if err != nil && !errors.Is(err, io.EOF) {
		r.err = err
	}
	return n, err
}

// contents reads the list at the end and holds what was read to it.
func (r *reader) contents(entry *tar.Header, h Head) (c Contents, err error) {
	if err := r.object(entry, maxObject, &c); err != nil {
		return Contents{}, err
	}
	if c.Head != h || len(c.Files) != len(r.files) {
		return Contents{}, damaged(errors.New("its list is another backup's"))
	}
	for i, f := range r.files {
		if c.Files[i] != f {
			return Contents{}, damaged(fmt.Errorf("%s is not as it was written", f.Path))
		}
	}
	if !r.seen[Database] {
		return Contents{}, damaged(errors.New("the records are missing"))
	}
	if _, err := r.tar.Next(); !errors.Is(err, io.EOF) {
		return Contents{}, damaged(err)
	}
	return c, nil
}
