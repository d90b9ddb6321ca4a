package practice

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"time"

	"plumbstride/internal/form"
)

// MaxBytes is more than an activity file has: a day and a night at one point a
// second are about 5 MB as FIT and 40 MB as GPX.
const MaxBytes = 64 << 20

// Read reads the activities of one file, FIT or GPX, perhaps compressed with
// gzip; which of them is told by the content. now is the present: a recording
// from the future is refused. Errors are form.Errors.
func Read(r io.Reader, now time.Time) ([]Activity, error) {
	plain, err := unpacked(bufio.NewReader(r))
	if err != nil {
		return nil, err
	}
	limited := &meter{r: plain, left: MaxBytes}
	b := bufio.NewReader(limited)
	head, _ := b.Peek(512)
	var activities []Activity
	switch {
	case len(head) == 0:
		return nil, form.ClipError("the file is empty; copy it from the watch again")
	case len(head) >= 12 && string(head[8:12]) == ".FIT":
		activities, err = readFIT(b)
	case bytes.HasPrefix(head, []byte("PK\x03\x04")):
		return nil, form.ClipError("this is a packed folder (zip); unpack it, and take the .fit or .gpx files in it")
	case bytes.Contains(head, []byte("<gpx")) || bytes.HasPrefix(bytes.TrimLeft(head, "\xef\xbb\xbf \t\r\n"), []byte("<?xml")):
		activities, err = readGPX(b)
	default:
		return nil, form.ClipError("this is neither a FIT nor a GPX file; export the run from the watch as one of these")
	}
	if limited.over {
		return nil, form.ClipError("the file holds more than %d MB; an activity file is far smaller", MaxBytes>>20)
	}
	if err != nil {
		return nil, err
	}
	for _, a := range activities {
		if err := plausible(a, now); err != nil {
			return nil, err
		}
	}
	return activities, nil
}

// plausible refuses a clock that was never set, and one that is ahead.
func plausible(a Activity, now time.Time) error {
	switch {
	case a.Start.Year() < 2000:
		return form.ClipError("the recording says it is from %d: the watch's clock was not set, and a week can't be told", a.Start.Year())
	case a.Start.After(now.Add(24 * time.Hour)):
		return form.ClipError("the recording is from the future (%s): set the watch's clock", a.Start.Format("2 January 2006"))
	case len(a.Points) > 0 && a.Backwards > len(a.Points)/4:
		return form.ClipError("the times in the file run backwards (%d of %d points): export it from the watch again", a.Backwards, a.Backwards+len(a.Points))
	}
	return nil
}

// unpacked opens gzip where the first bytes say so.
func unpacked(r *bufio.Reader) (io.Reader, error) {
	magic, _ := r.Peek(2)
	if !bytes.Equal(magic, []byte{0x1f, 0x8b}) {
		return r, nil
	}
	z, err := gzip.NewReader(r)
	if err != nil {
		return nil, damaged(err)
	}
	return z, nil
}

// damaged is what is said of a file that can't be read to its end.
func damaged(err error) error {
	return &form.Error{Code: form.CodeClip, Sentence: "the file is cut short or damaged; nothing of it was taken: copy it from the watch again", Cause: err}
}

// errTooMuch ends a reading that goes on and on.
var errTooMuch = errors.New("too much")

// meter reads so many bytes and no more, and tells when there were more.
type meter struct {
	r    io.Reader
	left int64
	over bool
}

// Read reads on.
func (m *meter) Read(p []byte) (int, error) {
	if m.left <= 0 {
		m.over = true
		return 0, errTooMuch
	}
	n, err := m.r.Read(p[:min(int64(len(p)), m.left)])
	m.left -= int64(n)
	if err != nil && !errors.Is(err, io.EOF) {
		err = fmt.Errorf("reading: %w", err)
	}
	return n, err
}
