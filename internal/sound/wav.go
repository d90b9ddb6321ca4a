package sound

import (
	"context"
	"encoding/binary"
	"fmt"
	"io"

	"plumbstride/internal/form"
)

// writeWAV writes a RIFF WAVE file of PCM samples (Multimedia Programming
// Interface and Data Specifications 1.0, 1991): the format, the tags (a LIST
// of INFO: INAM is the title, ICMT the comment), then the samples. The tags
// stand in front, so that a reader of the stream has them at once.
func writeWAV(ctx context.Context, w io.Writer, t Track) error {
	size := 2 * t.Samples
	info := chunk("LIST", append([]byte("INFO"), append(text("INAM", t.Title), text("ICMT", t.Comment)...)...))
	format := binary.LittleEndian.AppendUint16(nil, 1) // PCM
	format = binary.LittleEndian.AppendUint16(format, 1)
	format = binary.LittleEndian.AppendUint32(format, uint32(t.SampleRate))
	format = binary.LittleEndian.AppendUint32(format, uint32(2*t.SampleRate))
	format = binary.LittleEndian.AppendUint16(format, 2)
	format = binary.LittleEndian.AppendUint16(format, 16)
	head := append([]byte("WAVE"), chunk("fmt ", format)...)
	head = append(head, info...)
	total := int64(len(head)) + 8 + size
	if total > 1<<32-2 {
		return form.UsageError("a WAV file holds less than 4 GiB, and this track is longer; use FLAC")
	}
	riff := binary.LittleEndian.AppendUint32([]byte("RIFF"), uint32(total))
	head = append(append(riff, head...), "data"...)
	head = binary.LittleEndian.AppendUint32(head, uint32(size))
	if _, err := w.Write(head); err != nil {
		return fmt.Errorf("write the WAV file: %w", err)
	}
	var b []byte
	return pieces(ctx, t, pieceSamples, func(pcm []int16) error {
		b = littleEndian(b[:0], pcm)
		if _, err := w.Write(b); err != nil {
			return fmt.Errorf("write the WAV file: %w", err)
		}
		return nil
	})
}

// chunk is a RIFF chunk, padded to an even length.
func chunk(name string, content []byte) []byte {
	b := binary.LittleEndian.AppendUint32([]byte(name), uint32(len(content)))
	b = append(b, content...)
	if len(content)%2 == 1 {
		b = append(b, 0)
	}
	return b
}

// text is a chunk of text, ended by a zero as INFO wants it; none for "".
func text(name, content string) []byte {
	if content == "" {
		return nil
	}
	return chunk(name, append([]byte(content), 0))
}
