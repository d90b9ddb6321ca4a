package sound

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"plumbstride/internal/form"
)

// Source gives samples in order: Read fills pcm with the next ones and says
// how many; io.EOF once there are none left, with n = 0.
type Source interface {
	Read(pcm []int16) (n int, err error)
}

// Track is sound to be written: one channel, 16 bits.
type Track struct {
	Source Source
	// SampleRate is samples a second, 1 to 655,350 (FLAC's bounds).
	SampleRate int
	// Samples is how many samples Source gives. It gives just these, or the
	// writing fails.
	Samples int64
	// Title and Comment are the file's tags, UTF-8; no other is written,
	// but for the name of the encoder where ffmpeg writes the file.
	Title, Comment string
}

// Format is a kind of file.
type Format string

// The formats.
const (
	WAV  Format = "WAV"
	FLAC Format = "FLAC"
	MP3  Format = "MP3"
	M4A  Format = "M4A"
)

// FormatOf tells a format by a file's name; an unknown one is a form.Error
// of code usage.
func FormatOf(path string) (Format, error) {
	switch f := Format(strings.ToUpper(strings.TrimPrefix(filepath.Ext(path), "."))); f {
	case WAV, FLAC, MP3, M4A:
		return f, nil
	}
	return "", form.UsageError("%s is no name of a sound file; let it end in .wav, .flac, .mp3 or .m4a", path)
}

// NeedsFFmpeg tells whether the format is written by ffmpeg.
func (f Format) NeedsFFmpeg() bool { return f == MP3 || f == M4A }

// Write writes a track to a new, empty file and leaves it open. ffmpeg is
// the program's name or path for the formats that need it. Where ffmpeg is
// lacking, or was built without the format, the error is a form.Error of
// code missing.
func Write(ctx context.Context, f *os.File, format Format, t Track, ffmpeg string) error {
	if t.SampleRate < 1 || t.SampleRate > 655_350 || t.Samples < 0 {
		panic("sound: a track without sample rate or length")
	}
	switch format {
	case WAV:
		return writeWAV(ctx, f, t)
	case FLAC:
		return writeFLAC(ctx, f, t)
	case MP3, M4A:
		return encode(ctx, f, format, t, ffmpeg)
	default:
		panic("sound: no such format: " + string(format))
	}
}

// pieces reads a track in pieces of size samples, the last one shorter, and
// fails unless there are as many samples as it says. Each piece is only good
// until the next.
func pieces(ctx context.Context, t Track, size int, each func(pcm []int16) error) error {
	buf := make([]int16, size)
	for left := t.Samples; left > 0; {
		if err := ctx.Err(); err != nil {
			return err
		}
		piece := buf[:min(int64(size), left)]
		if err := fill(t.Source, piece); err != nil {
			return fmt.Errorf("read the samples, %d before the end: %w", left, err)
		}
		if err := each(piece); err != nil {
			return err
		}
		left -= int64(len(piece))
	}
	if n, err := t.Source.Read(buf[:1]); n != 0 || !errors.Is(err, io.EOF) {
		return fmt.Errorf("read the samples: there are more than %d (%w)", t.Samples, err)
	}
	return nil
}

// fill is io.ReadFull for samples.
func fill(s Source, pcm []int16) error {
	for len(pcm) > 0 {
		n, err := s.Read(pcm)
		pcm = pcm[n:]
		if len(pcm) > 0 && errors.Is(err, io.EOF) {
			return io.ErrUnexpectedEOF
		}
		if err != nil && !errors.Is(err, io.EOF) {
			return err
		}
	}
	return nil
}

// pieceSamples is how many samples are read at once where the format
// doesn't say.
const pieceSamples = 1 << 15

// littleEndian appends samples as bytes.
func littleEndian(b []byte, pcm []int16) []byte {
	for _, v := range pcm {
		b = append(b, byte(v), byte(v>>8))
	}
	return b
}
