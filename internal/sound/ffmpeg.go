package sound

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"time"

	"plumbstride/internal/form"
)

// encode has ffmpeg write the file: samples go to its standard input, and it
// writes to the open file itself, so that nothing is left behind when either
// process is killed. It is started without a shell.
func encode(ctx context.Context, f *os.File, format Format, t Track, ffmpeg string) error {
	name, extra := inherited(f)
	cmd := exec.CommandContext(ctx, ffmpeg, ffmpegArgs(format, t, name)...)
	cmd.ExtraFiles = extra
	cmd.Env = environment(os.Environ())
	cmd.SysProcAttr = processAttributes()
	cmd.Cancel = func() error { return killGroup(cmd.Process) }
	cmd.WaitDelay = 5 * time.Second
	said := &tail{}
	cmd.Stderr = said
	in, err := cmd.StdinPipe()
	if err != nil {
		return fmt.Errorf("sound: can't make a pipe: %w", err)
	}
	started, ended := make(chan error, 1), make(chan error, 1)
	go func() {
		// The child is told to die with the thread that started it, so the
		// thread must stay.
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		err := cmd.Start()
		started <- err
		if err == nil {
			ended <- cmd.Wait()
		}
	}()
	if err := <-started; err != nil {
		in.Close()
		return lacking(ffmpeg, format, err)
	}
	fed := feed(ctx, in, t)
	err = <-ended
	switch {
	case ctx.Err() != nil:
		return context.Cause(ctx)
	case err != nil:
		return said.explain(format, err)
	case fed != nil:
		return fed
	}
	return nil
}

// feed writes a track's samples to ffmpeg and closes its input.
func feed(ctx context.Context, in io.WriteCloser, t Track) error {
	var b []byte
	err := pieces(ctx, t, pieceSamples, func(pcm []int16) error {
		b = littleEndian(b[:0], pcm)
		_, err := in.Write(b)
		return err
	})
	if cerr := in.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return fmt.Errorf("hand the samples to ffmpeg: %w", err)
	}
	return nil
}

// ffmpegArgs are the words of the command. MP3 takes a variable bit rate
// with the header that tells its length; M4A has its index in front. Both
// note the encoder's delay, so that players begin at the first sample.
func ffmpegArgs(format Format, t Track, name string) []string {
	args := []string{
		"-hide_banner", "-nostdin", "-loglevel", "error", "-y",
		"-protocol_whitelist", "pipe", "-f", "s16le", "-ar", fmt.Sprint(t.SampleRate), "-ac", "1", "-i", "pipe:0",
		"-map_metadata", "-1", "-metadata", "title=" + t.Title, "-metadata", "comment=" + t.Comment,
	}
	if format == MP3 {
		args = append(args, "-c:a", "libmp3lame", "-q:a", "4", "-id3v2_version", "3", "-write_xing", "1", "-f", "mp3")
	} else {
		args = append(args, "-c:a", "aac", "-b:a", "96k", "-movflags", "+faststart", "-f", "ipod")
	}
	return append(args, "file:"+name)
}

// environment drops what would have ffmpeg write files or colours.
func environment(from []string) []string {
	var kept []string
	for _, e := range from {
		switch name, _, _ := strings.Cut(e, "="); strings.ToUpper(name) {
		case "FFREPORT", "AV_LOG_FORCE_COLOR", "AV_LOG_FORCE_256COLOR", "LC_ALL", "FFMPEG_DATADIR":
			continue
		}
		kept = append(kept, e)
	}
	return append(kept, "AV_LOG_FORCE_NOCOLOR=1", "LC_ALL=C")
}

func lacking(ffmpeg string, format Format, err error) error {
	e := form.MissingError("%s, which writes %s files, can't be run on this machine. Install ffmpeg ("+
		"Debian or Ubuntu: sudo apt-get install ffmpeg; macOS: brew install ffmpeg; "+
		"Windows: winget install ffmpeg), or write a .wav or .flac, which need nothing", ffmpeg, format)
	e.Cause = err
	return e
}

// tail keeps the first few kilobytes of what a child says.
type tail struct{ b bytes.Buffer }

// Write keeps what there is room for and takes the rest.
func (t *tail) Write(p []byte) (int, error) {
	t.b.Write(p[:min(len(p), max(0, 4096-t.b.Len()))])
	return len(p), nil
}

// explain says why ffmpeg ended with an error.
func (t *tail) explain(format Format, err error) error {
	text := strings.TrimSpace(t.b.String())
	if strings.Contains(text, "Unknown encoder") || strings.Contains(text, "Requested output format") {
		e := form.MissingError("the ffmpeg on this machine was built without %s; install a fuller one, or write a .wav or .flac, which need nothing", format)
		e.Cause = err
		return e
	}
	first, _, _ := strings.Cut(text, "\n")
	if first == "" {
		return fmt.Errorf("ffmpeg could not write the %s file: %w", format, err)
	}
	return fmt.Errorf("ffmpeg could not write the %s file (%s): %w", format, first, errors.Join(err))
}
