package clip

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"time"

	"plumbstride/internal/form"
)

// Limits is what a clip may ask of this machine. Zero fields take the
// defaults given beside them.
type Limits struct {
	MaxSeconds   float64       // length, s: 60
	MaxFrames    int           // pictures: 250 for each allowed second
	MaxPixels    int           // pixels of one stored picture: 4096 × 3072, of a picture file 8192 × 6144
	ProbeTimeout time.Duration // for listing the packets: 60 s
}

// maxStillPixels is what the larger cameras of telephones make.
const maxStillPixels = 8192 * 6144

// of are the limits of a kind of file: one picture may be larger than each
// of a clip's.
func (l Limits) of(kind container) Limits {
	if l.MaxPixels <= 0 && kind.still {
		l.MaxPixels = maxStillPixels
	}
	return l.orDefaults()
}

func (l Limits) orDefaults() Limits {
	if l.MaxSeconds <= 0 {
		l.MaxSeconds = 60
	}
	if l.MaxFrames <= 0 {
		l.MaxFrames = int(math.Min(l.MaxSeconds*250, 1e7)) + 1
	}
	if l.MaxPixels <= 0 {
		l.MaxPixels = 4096 * 3072
	}
	if l.ProbeTimeout <= 0 {
		l.ProbeTimeout = time.Minute
	}
	return l
}

// maxRateHz is the fastest rate that is believed.
const maxRateHz = 1000

// packetBytes is more than one packet takes in ffprobe's answer.
const packetBytes = 256

// Info is what is known about a clip before decoding it. Make it with Probe.
type Info struct {
	File string // as it was given
	// Width and Height are pixels of the picture as shown, after rotation
	// and with square pixels.
	Width, Height int
	// Times holds the presentation time of each picture, s, ascending, the
	// first being 0. Picture k of a Reader has Index k and Times[k].
	Times []float64
	// StartS is the first picture's time on the file's own clock, s.
	StartS float64
	// RateHz is 1 / the median step between pictures; 0 for a still.
	RateHz float64
	// Variable is set when any step differs from the median by over 10 %.
	Variable bool
	// Codec and Container are short names: h264, hevc, vp9, mjpeg; mp4,
	// mov, webm, mkv, avi, mpeg-ts, jpeg, png, webp.
	Codec, Container string
	// RotationDeg is how far the stored picture is turned clockwise to be
	// shown: 0, 90, 180 or 270. Mirrored: it is mirrored before that.
	RotationDeg int
	Mirrored    bool
	// CaptureRateHz is the rate at which the camera took the pictures,
	// where the file says so; 0 is not known. When it is more than RateHz,
	// the clip shows slow motion.
	CaptureRateHz float64
	// Still is set when there is one picture only.
	Still bool
	// Interlaced pictures hold two moments each, in alternate lines.
	Interlaced bool
	// HDR names a high-dynamic-range transfer function, "pq" or "hlg".
	HDR string
	// DeclaredS is the length the file claims, s; 0 unknown. CutShort is
	// set when its pictures end well before that.
	DeclaredS float64
	CutShort  bool
	// Recorded is when the file says it was filmed; zero when unknown.
	Recorded time.Time

	path      string // absolute
	container container
	stream    int
	codedW    int
	codedH    int
	turn      turn
	tick      float64 // s
	line      timeline
	pixels    string // stored pixel format
	full      bool   // luma 0…255 rather than 16…235
	bt709     bool
	maxPixels int
}

// DurationS is from the first picture's beginning to the last one's end, s.
func (i *Info) DurationS() float64 {
	if len(i.Times) == 0 {
		return 0
	}
	return i.Times[len(i.Times)-1] + medianStep(i.Times)
}

// Probe reads what a clip is and when each of its pictures is shown, without
// decoding it. Errors are form.Errors (code clip: the file can't be used;
// code missing: ffprobe is not there) but for a context that ended.
func Probe(ctx context.Context, tools Tools, path string, limits Limits) (*Info, error) {
	name := printable(filepath.Base(path), 80)
	kind, abs, err := look(path, name)
	if err != nil {
		return nil, err
	}
	limits = limits.of(kind)
	args := []string{
		"-hide_banner", "-loglevel", "level+error", "-protocol_whitelist", "file,pipe",
		"-max_pixels", strconv.Itoa(limits.MaxPixels), "-f", kind.demuxer,
		"-print_format", "json=compact=1", "-select_streams", "V",
		"-read_intervals", fmt.Sprintf("%%+%.3f", limits.MaxSeconds+2),
		"-show_entries", "packet=stream_index,pts,dts,duration,size,flags" +
			":stream=index,codec_name,width,height,sample_aspect_ratio,pix_fmt,color_range,color_space,color_transfer,field_order,avg_frame_rate,time_base,duration,nb_frames" +
			":stream_disposition=attached_pic,default:stream_tags=rotate,DURATION:stream_side_data=rotation,displaymatrix" +
			":format=nb_streams,duration:format_tags",
		"-i", "file:" + abs,
	}
	out, said, err := output(ctx, tools.ffprobe(), args, childLimits{
		Wait: limits.ProbeTimeout, Memory: memoryLimit(limits.MaxPixels),
		MaxOutput: int64(limits.MaxFrames)*packetBytes + 1<<20,
	})
	switch {
	case ctx.Err() != nil:
		return nil, context.Cause(ctx)
	case errors.Is(err, errTooLarge):
		return nil, tooManyFrames(name, limits)
	case errors.Is(err, errSilent):
		return nil, form.ClipError("%s can't be read: its contents could not be listed within %s", name, limits.ProbeTimeout)
	case form.CodeOf(err) != "":
		return nil, err
	case err != nil:
		return nil, because(err, "%s can't be read as a video: %s", name, said.words())
	}
	p, err := parseProbe(out)
	if err != nil {
		return nil, because(err, "%s can't be read as a video: what ffprobe says of it makes no sense", name)
	}
	info, err := describe(p, kind, name, said, limits)
	if err != nil {
		return nil, err
	}
	info.File, info.path = path, abs
	return info, nil
}

// headBytes is how much of a file is looked at: Exif data fill one segment of
// at most 64 KiB, behind other small ones.
const headBytes = 1 << 17

// look opens the file and finds out what kind it is.
func look(path, name string) (container, string, error) {
	none := container{}
	abs, err := filepath.Abs(path)
	if err != nil {
		return none, "", fmt.Errorf("clip: no absolute path for %q: %w", path, err)
	}
	if path == "" {
		return none, "", form.ClipError("no clip is named")
	}
	st, err := os.Stat(abs)
	if err != nil {
		return none, "", openError(name, err)
	}
	switch {
	case st.IsDir():
		return none, "", form.ClipError("%s is a folder; name the clip inside it", name)
	case !st.Mode().IsRegular():
		return none, "", form.ClipError("%s is not an ordinary file; copy the clip to this machine's disk first", name)
	case st.Size() == 0:
		return none, "", form.ClipError("%s is empty: the copy failed; copy it again from the phone", name)
	}
	f, err := os.Open(abs)
	if err != nil {
		return none, "", openError(name, err)
	}
	defer f.Close()
	head := make([]byte, headBytes)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
		return none, "", openError(name, err)
	}
	kind, ok := sniff(head[:n])
	if kind.name == "heif" {
		return none, "", form.ClipError("%s is a HEIF picture, which is not read; save it as JPEG", name)
	}
	if !ok {
		return none, "", form.ClipError("%s is not a video that can be read here; use mp4, mov, webm, mkv or avi as phones and cameras write them", name)
	}
	return kind, abs, nil
}

// openError says why a file can't be opened.
func openError(name string, err error) error {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return because(err, "%s does not exist; check the name and the folder", name)
	case errors.Is(err, fs.ErrPermission):
		return because(err, "this user may not read %s; change its permissions or copy it", name)
	}
	return because(err, "%s can't be opened: %s", name, printable(err.Error(), 200))
}

// because is a fact about the clip with the cause kept beside it, unprinted.
func because(cause error, text string, args ...any) *form.Error {
	e := form.ClipError(text, args...)
	e.Cause = cause
	return e
}

// memoryLimit is a child's address space in bytes: its libraries, its threads
// (they grow with the processors, and reserve more than they use), and room
// for the reference pictures of a stream of that size. A 4K clip takes 0.7 GiB
// of it on 2 processors.
func memoryLimit(pixels int) uint64 {
	return 3<<30 + uint64(runtime.NumCPU())<<28 + uint64(pixels)*200
}

func tooManyFrames(name string, l Limits) error {
	return form.ClipError("%s holds more than %d pictures; cut it to the seconds that matter", name, l.MaxFrames)
}

// describe makes an Info from what ffprobe said, or says why it can't be used.
func describe(p *probed, kind container, name string, said *complaints, limits Limits) (*Info, error) {
	s, err := chooseStream(p, name, said, limits)
	if err != nil {
		return nil, err
	}
	packets := make([]packet, 0, len(p.Packets))
	for _, q := range p.Packets {
		if q.Stream == s.Index {
			packets = append(packets, q)
		}
	}
	info := &Info{
		Codec: s.Codec, Container: kind.name, container: kind,
		stream: s.Index, codedW: s.Width, codedH: s.Height, turn: s.turn(),
		tick: s.TimeBase.float(), pixels: s.PixelFormat, maxPixels: limits.MaxPixels,
	}
	if kind.still {
		// Releases differ in whether they pass this on.
		info.turn = kind.turn
	}
	info.RotationDeg, info.Mirrored = info.turn.Degrees, info.turn.Mirror
	if err := info.setShape(s, name); err != nil {
		return nil, err
	}
	info.setColours(s)
	info.Interlaced = s.FieldOrder != "" && s.FieldOrder != "progressive" && s.FieldOrder != "unknown"
	info.CaptureRateHz = captureRate(p.Format.Tags)
	if t, err := time.Parse(time.RFC3339, p.Format.Tags.get("creation_time")); err == nil && t.Year() > 1990 {
		info.Recorded = t
	}
	info.DeclaredS = declared(p, s)
	if err := info.setTimes(packets, s.AverageRate.float(), name, limits); err != nil {
		return nil, err
	}
	info.CutShort = info.CutShort || s.Frames.Value > int64(len(packets))
	return info, nil
}

// chooseStream takes the largest moving picture; cover pictures never count.
func chooseStream(p *probed, name string, said *complaints, limits Limits) (*stream, error) {
	var best *stream
	for i := range p.Streams {
		s := &p.Streams[i]
		if s.Disposition["attached_pic"] != 0 {
			continue
		}
		if best == nil || area(s) > area(best) {
			best = s
		}
	}
	switch {
	case best == nil && p.Format.Streams > 0:
		return nil, form.ClipError("%s holds sound or data but no moving picture", name)
	case best == nil:
		return nil, form.ClipError("%s holds no picture: %s", name, said.words())
	case best.Width <= 0 || best.Height <= 0 || best.Codec == "":
		return nil, form.ClipError("%s can't be read: %s", name, said.words())
	case best.Width > limits.MaxPixels/best.Height:
		return nil, form.ClipError("%s has pictures of %d × %d pixels; up to %.1f million pixels are read: export it smaller", name, best.Width, best.Height, float64(limits.MaxPixels)/1e6)
	case best.Width < 16 || best.Height < 16:
		return nil, form.ClipError("%s has pictures of %d × %d pixels, too small to see a runner in", name, best.Width, best.Height)
	}
	return best, nil
}

func area(s *stream) float64 { return float64(s.Width) * float64(s.Height) }

// setShape finds the size as shown.
func (i *Info) setShape(s *stream, name string) error {
	w, h := float64(s.Width), float64(s.Height)
	if a := s.Aspect.float(); a > 0 {
		w *= a
	}
	w = math.Round(w)
	if w < 16 || w > 4*float64(s.Width) {
		return form.ClipError("%s has pixels %d times as wide as high (%d:%d), which no camera makes", name, int(math.Min(s.Aspect.float(), 1e6)), s.Aspect.Num, s.Aspect.Den)
	}
	if i.turn.swaps() {
		w, h = h, w
	}
	i.Width, i.Height = int(w), int(h)
	return nil
}

// setColours finds how luma and chroma are to be read. Where the file does
// not say, pictures of 720 lines or more are taken to be BT.709 and smaller
// ones BT.601 (common practice, no source).
func (i *Info) setColours(s *stream) {
	i.full = !i.rgb() && (s.Range == "pc" || strings.HasPrefix(s.PixelFormat, "yuvj"))
	switch s.Space {
	case "bt709", "bt2020nc", "bt2020c":
		i.bt709 = true
	case "", "unknown", "unspecified", "reserved", "gbr":
		i.bt709 = min(s.Width, s.Height) >= 720
	}
	switch s.Transfer {
	case "smpte2084":
		i.HDR = "pq"
	case "arib-std-b67":
		i.HDR = "hlg"
	}
}

// captureRate reads the rate at which a phone took the pictures of a
// slow-motion clip; 0 where the file does not say or it makes no sense.
func captureRate(t tags) float64 {
	v, err := strconv.ParseFloat(strings.TrimSpace(t.get("com.android.capture.fps")), 64)
	if err != nil || !(v >= 1 && v <= 10000) {
		return 0
	}
	return v
}

// declared is the length of the picture track as the file claims it, s.
func declared(p *probed, s *stream) float64 {
	if s.Duration > 0 {
		return float64(s.Duration)
	}
	if d, ok := parseClock(s.Tags.get("DURATION")); ok {
		return d
	}
	return math.Max(0, float64(p.Format.Duration))
}

// parseClock reads "00:01:02.5" as seconds.
func parseClock(text string) (float64, bool) {
	parts := strings.Split(text, ":")
	if len(parts) != 3 {
		return 0, false
	}
	var total float64
	for _, part := range parts {
		v, err := strconv.ParseFloat(part, 64)
		if err != nil || !(v >= 0 && v < 1e6) {
			return 0, false
		}
		total = total*60 + v
	}
	return total, true
}

// setTimes fills the times and holds them to the limits.
func (i *Info) setTimes(packets []packet, rate float64, name string, limits Limits) error {
	if i.tick <= 0 {
		return form.ClipError("%s has no clock of its own; export it again from the phone", name)
	}
	i.line = newTimeline(packets, rate, i.tick)
	n := len(i.line.ticks)
	switch {
	case n == 0:
		return form.ClipError("%s holds no picture that can be shown", name)
	case n > limits.MaxFrames:
		return tooManyFrames(name, limits)
	case n == 1 && len(packets) > 2:
		return form.ClipError("%s has %d pictures but no time passes between them; export it again from the phone", name, len(packets))
	}
	i.StartS = float64(i.line.ticks[0]) * i.tick
	i.Times = i.line.seconds(i.tick)
	i.Still = n == 1
	if i.Still {
		return nil
	}
	step, length := medianStep(i.Times), i.DurationS()
	if length > limits.MaxSeconds+step/2 {
		return tooLong(name, math.Max(length, i.DeclaredS), limits)
	}
	i.RateHz = 1 / step
	i.Variable = variable(i.Times, step)
	if i.RateHz > maxRateHz {
		return form.ClipError("%s claims %.0f pictures a second, more than any camera a coach has; export it again from the phone", name, i.RateHz)
	}
	i.CutShort = i.DeclaredS > length+math.Max(0.5, 0.05*length)
	return nil
}

// tooLong says how to shorten a clip, or which word allows it.
func tooLong(name string, length float64, limits Limits) error {
	allow := math.Ceil(length/10) * 10
	return form.ClipError("%s is %.0f s long; up to %.0f s are read. Cut it to about 10 s of steady running in the phone's own editor, or allow it with --longest %.0fs",
		name, length, limits.MaxSeconds, allow)
}
