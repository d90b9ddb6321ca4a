package clip

import (
	"bytes"
	"context"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"time"

	"plumbstride/internal/form"
)

// Tools names the two programs that read video. Empty fields mean "ffmpeg"
// and "ffprobe" on the search path.
type Tools struct {
	FFmpeg, FFprobe string
	// Version is ffmpeg's release as Find read it, [5, 1] for 5.1; zero is
	// taken to be 5.1 or later.
	Version [2]int
}

// oldest is the release that knows all that is asked of it here.
var oldest = [2]int{4, 4}

// passthrough is since this release an option of each output.
var fpsModeSince = [2]int{5, 1}

func (t Tools) ffmpeg() string {
	if t.FFmpeg == "" {
		return "ffmpeg"
	}
	return t.FFmpeg
}

func (t Tools) ffprobe() string {
	if t.FFprobe == "" {
		return "ffprobe"
	}
	return t.FFprobe
}

// passthrough gives the words that keep every decoded frame, once each.
func (t Tools) passthrough() []string {
	if t.Version != [2]int{} && before(t.Version, fpsModeSince) {
		return []string{"-vsync", "passthrough"}
	}
	return []string{"-fps_mode", "passthrough"}
}

func before(a, b [2]int) bool { return a[0] < b[0] || a[0] == b[0] && a[1] < b[1] }

// Find looks both programs up and asks ffmpeg for its release. An error is a
// form.Error with code missing that says how to get them.
func Find(ctx context.Context, t Tools) (Tools, error) {
	var err error
	if t.FFmpeg, err = exec.LookPath(t.ffmpeg()); err != nil {
		return Tools{}, missing("ffmpeg", err)
	}
	if t.FFprobe, err = exec.LookPath(t.ffprobe()); err != nil {
		return Tools{}, missing("ffprobe", err)
	}
	for _, program := range []string{t.FFmpeg, t.FFprobe} {
		out, complaint, err := output(ctx, program, []string{"-hide_banner", "-version"}, childLimits{Wait: 20 * time.Second, MaxOutput: 1 << 16})
		if ctx.Err() != nil {
			return Tools{}, context.Cause(ctx)
		}
		if err != nil {
			return Tools{}, form.MissingError("%s does not run on this machine (%s: %w); install ffmpeg anew", program, complaint.first(), err)
		}
		t.Version = parseVersion(out)
		if t.Version != [2]int{} && before(t.Version, oldest) {
			return Tools{}, form.MissingError("%s is release %d.%d; %d.%d or later is needed. Install a newer ffmpeg.",
				program, t.Version[0], t.Version[1], oldest[0], oldest[1])
		}
	}
	return t, nil
}

var versionLine = regexp.MustCompile(`^ff(?:mpeg|probe) version n?(\d+)\.(\d+)`)

// parseVersion reads the first line of "ffmpeg -version"; zero when it is a
// build without a release number.
func parseVersion(out []byte) [2]int {
	line, _, _ := bytes.Cut(out, []byte("\n"))
	m := versionLine.FindSubmatch(line)
	if m == nil {
		return [2]int{}
	}
	major, err1 := strconv.Atoi(string(m[1]))
	minor, err2 := strconv.Atoi(string(m[2]))
	if err1 != nil || err2 != nil {
		return [2]int{}
	}
	return [2]int{major, minor}
}

func missing(program string, err error) error {
	e := form.MissingError("%s, which reads the video, can't be run on this machine. Install ffmpeg ("+
		"Debian or Ubuntu: sudo apt-get install ffmpeg; macOS: brew install ffmpeg; "+
		"Windows: winget install ffmpeg), then try again", filepath.Base(program))
	e.Cause = err
	return e
}
