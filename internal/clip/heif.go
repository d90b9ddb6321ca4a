package clip

import (
	"context"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"time"

	"plumbstride/internal/form"
)

// heifReaders are the system's programs that turn a HEIF picture (HEIC, AVIF)
// into a PNG, in the order in which they are looked for: those of libheif,
// and the one of macOS.
func heifReaders() []heifReader {
	plain := func(in, out string) []string { return []string{in, out} }
	readers := []heifReader{{"heif-dec", plain}, {"heif-convert", plain}}
	if runtime.GOOS == "darwin" {
		readers = append(readers, heifReader{"sips", func(in, out string) []string {
			return []string{"-s", "format", "png", in, "--out", out}
		}})
	}
	return readers
}

type heifReader struct {
	program string
	args    func(in, out string) []string
}

// heifPatience is how long one picture may take to be turned into a PNG.
const heifPatience = time.Minute

// Packed tells whether Unpack needs a folder to put a file's picture in.
func Packed(path string) bool { return isHEIF(path) }

// Unpack gives the path of a file that can be probed: path itself, or for a
// HEIF picture a PNG made of it in dir by the system's reader, turned as it
// is to be shown. Where the system has none, the error is a form.Error that
// says what to do.
func Unpack(ctx context.Context, path, dir string) (string, error) {
	name := printable(filepath.Base(path), 80)
	if !isHEIF(path) {
		return path, nil
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return "", form.ClipError("%s can't be read: %w", name, err)
	}
	out := filepath.Join(dir, "picture.png")
	for _, r := range heifReaders() {
		program, err := exec.LookPath(r.program)
		if err != nil {
			continue
		}
		_, said, err := output(ctx, program, r.args(abs, out), childLimits{Wait: heifPatience, Memory: memoryLimit(maxStillPixels), MaxOutput: 1 << 20})
		switch made, missing := os.Stat(out); {
		case ctx.Err() != nil:
			return "", context.Cause(ctx)
		case err == nil && missing == nil && made.Size() > 0:
			return out, nil
		case err == nil:
			err = errors.New("no picture came out")
			fallthrough
		default:
			return "", because(err, "%s is a HEIF picture that %s can't read (%s); save it as JPEG", name, r.program, said.words())
		}
	}
	return "", form.MissingError("%s is a HEIF picture (HEIC), and this machine has no program that reads them: install heif-convert (on Debian: apt install libheif-examples), or save the picture as JPEG", name)
}

// isHEIF looks at a file's first bytes; what can't be read is left to Probe.
func isHEIF(path string) bool {
	if st, err := os.Stat(path); err != nil || !st.Mode().IsRegular() {
		return false // opening a pipe would wait for ever
	}
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	head := make([]byte, 64)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
		return false
	}
	kind, _ := sniff(head[:n])
	return kind.name == "heif"
}
