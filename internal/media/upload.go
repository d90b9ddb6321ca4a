package media

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"plumbstride/internal/form"
	"plumbstride/internal/interrupt"
	"plumbstride/internal/store"
)

// OffsetError tells a sender from where to go on: a piece came that does not
// join what is there.
type OffsetError struct{ Have int64 }

// Error says from where to go on.
func (e *OffsetError) Error() string {
	return fmt.Sprintf("%d bytes are here; go on from there", e.Have)
}

// Begin makes room for an upload that the store has taken on. Again does no
// harm.
func (f *Folder) Begin(u store.Upload) error {
	if err := errors.Join(checkKey(u.Key()), f.fits(u.Bytes)); err != nil {
		return err
	}
	file, err := f.root.OpenFile(u.Key(), os.O_CREATE|os.O_WRONLY, 0o600)
	if err != nil {
		return explain(err)
	}
	return explain(file.Close())
}

// Received is how many bytes of an upload are here.
func (f *Folder) Received(u store.Upload) (int64, error) {
	if err := checkKey(u.Key()); err != nil {
		return 0, err
	}
	info, err := f.root.Stat(u.Key())
	if err != nil {
		if whole, err := f.root.Stat(u.ClipKey()); err == nil {
			return whole.Size(), nil
		}
		return 0, explain(err)
	}
	return info.Size(), nil
}

// pieceBytes is how much is written at a time.
const pieceBytes = 256 << 10

// Append takes a piece that begins at that offset, and gives how many bytes
// are here then, also with an error: what came before the connection broke
// is kept. Bytes that are here already are passed over, so that a piece may
// be sent again, and two senders of the same clip do each other no harm. A
// piece that leaves a gap is an OffsetError; one that goes beyond the
// announced size a form.Error.
func (f *Folder) Append(ctx context.Context, u store.Upload, offset int64, piece io.Reader) (have int64, err error) {
	have, err = f.Received(u)
	if err != nil {
		return have, err
	}
	if offset < 0 || offset > have {
		return have, &OffsetError{have}
	}
	if err := f.Room(u.Bytes - have); err != nil {
		return have, err
	}
	buffer := make([]byte, pieceBytes)
	for {
		n, readErr := io.ReadFull(interrupt.Reader(ctx, piece), buffer)
		if n > 0 {
			if have, err = f.write(u, offset, buffer[:n]); err != nil {
				return have, err
			}
			offset += int64(n)
		}
		switch {
		case errors.Is(readErr, io.EOF), errors.Is(readErr, io.ErrUnexpectedEOF) && n < len(buffer) && ended(piece):
			return have, nil
		case readErr != nil:
			return have, fmt.Errorf("the connection broke after %d bytes: %w", have, readErr)
		}
	}
}

// ended tells whether a reader that came to an unexpected end had simply no
// more to give: it says so again.
func ended(r io.Reader) bool {
	n, err := r.Read(make([]byte, 1))
	return n == 0 && errors.Is(err, io.EOF)
}

// write adds what is new of a piece to the file.
func (f *Folder) write(u store.Upload, offset int64, piece []byte) (have int64, err error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	// Not made here: what was removed meanwhile does not come back.
	file, err := f.root.OpenFile(u.Key(), os.O_WRONLY, 0)
	if err != nil {
		return 0, explain(err)
	}
	defer func() { err = errors.Join(err, explain(file.Close())) }()
	info, err := file.Stat()
	if err != nil {
		return 0, explain(err)
	}
	have = info.Size()
	end := offset + int64(len(piece))
	switch {
	case end > u.Bytes:
		return have, form.ClipError("more came than the %d bytes that were announced; send the clip again", u.Bytes)
	case offset > have:
		return have, &OffsetError{have}
	case end <= have:
		return have, nil
	}
	if _, err := file.WriteAt(piece[have-offset:], have); err != nil {
		if info, statErr := file.Stat(); statErr == nil {
			have = info.Size()
		}
		return have, explain(err)
	}
	return end, nil
}

// empty leaves nothing of a file but its name.
func (f *Folder) empty(key string) error {
	file, err := f.root.OpenFile(key, os.O_WRONLY|os.O_TRUNC, 0)
	if err != nil {
		return explain(err)
	}
	return explain(file.Close())
}

// finish puts a whole upload among the clips, if its size and hash are as
// announced. Where the hash is another, all of it must be sent again.
func (f *Folder) finish(ctx context.Context, u store.Upload) (Stored, error) {
	from := u.Key()
	if err := checkKey(from); err != nil {
		return Stored{}, err
	}
	file, err := f.root.Open(from)
	if err != nil {
		from = u.ClipKey() // moved before the process ended
		if file, err = f.root.Open(from); err != nil {
			return Stored{}, explain(err)
		}
	}
	defer file.Close()
	sum := sha256.New()
	n, err := io.Copy(sum, interrupt.Reader(ctx, file))
	switch {
	case err != nil:
		return Stored{}, explain(err)
	case n < u.Bytes:
		return Stored{}, &OffsetError{n}
	}
	done := Stored{Key: u.ClipKey(), SHA256: hexOf(sum), Bytes: n}
	if u.SHA256 != "" && !strings.EqualFold(u.SHA256, done.SHA256) {
		if err := f.empty(from); err != nil {
			return Stored{}, err
		}
		return Stored{}, form.ClipError("the clip was damaged on its way; send it again")
	}
	if err := file.Sync(); err != nil {
		return Stored{}, explain(err)
	}
	if from == done.Key {
		return done, nil
	}
	err = f.rename(from, done.Key)
	if _, there := f.root.Stat(done.Key); errors.Is(err, ErrNoFile) && there == nil {
		return done, nil // another request was faster
	}
	return done, err
}

// Complete turns an upload of which every byte is here into a clip, a check
// that waits and its job, all in one transaction. Asked again, it gives the
// same check. An OffsetError tells that bytes are missing; a form.Error that
// the clip was damaged or consent was withdrawn meanwhile: then nothing of
// it is kept.
func Complete(ctx context.Context, s store.Store, f *Folder, uploadID string, job store.Job) (check store.Check, err error) {
	u, err := s.Upload(ctx, uploadID)
	if err != nil {
		return check, err
	}
	if u.CheckID != "" {
		return s.Check(ctx, u.CheckID)
	}
	file, err := f.finish(ctx, u)
	if errors.Is(err, ErrNoFile) { // another request was faster
		if u, err2 := s.Upload(ctx, uploadID); err2 == nil && u.CheckID != "" {
			return s.Check(ctx, u.CheckID)
		}
	}
	if err != nil {
		return check, err
	}
	err = s.Within(ctx, func(s store.Store) error {
		check, err = become(ctx, s, uploadID, file, job)
		return err
	})
	switch {
	case errors.Is(err, store.ErrNotFound):
		err = errors.Join(err, f.Remove(ctx, file.Key))
	case form.CodeOf(err) == form.CodeUsage: // no consent any more
		err = errors.Join(err, s.RemoveUpload(ctx, uploadID), f.Remove(ctx, file.Key))
	}
	return check, err
}

// become writes the records of a clip that has come.
func become(ctx context.Context, s store.Store, uploadID string, file Stored, job store.Job) (check store.Check, err error) {
	u, err := s.Upload(ctx, uploadID)
	if err != nil {
		return check, err
	}
	if u.CheckID != "" {
		return s.Check(ctx, u.CheckID)
	}
	clip, err := s.AddFootage(ctx, store.Footage{
		RunnerID: u.RunnerID, ClassID: u.ClassID, Kind: store.Clip, Name: u.Name,
		Key: file.Key, SHA256: file.SHA256, Bytes: file.Bytes, Filmed: u.Filmed,
	})
	if err != nil {
		return check, err
	}
	check, err = s.AddCheck(ctx, store.Check{RunnerID: u.RunnerID, ClassID: u.ClassID, ClipID: clip.ID, Kind: u.Kind, Ask: u.Ask})
	if err != nil {
		return check, err
	}
	job.CheckID = check.ID
	if _, err := s.AddJob(ctx, job); err != nil {
		return check, err
	}
	return check, s.UploadDone(ctx, uploadID, check.ID)
}
