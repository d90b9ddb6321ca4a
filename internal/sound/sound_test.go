package sound

import (
	"bytes"
	"context"
	"crypto/md5"
	"encoding/binary"
	"encoding/json"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"plumbstride/internal/form"
	"plumbstride/internal/tempo"
)

// lacks skips on a developer's machine, and fails where everything must run.
func lacks(tb testing.TB, format string, args ...any) {
	tb.Helper()
	if os.Getenv("CI") != "" || os.Getenv("PLUMBSTRIDE_TEST_ALL") != "" {
		tb.Fatalf(format, args...)
	}
	tb.Skipf(format, args...)
}

// tool finds ffmpeg or ffprobe, the readers that know nothing of this code.
func tool(tb testing.TB, name string) string {
	tb.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		lacks(tb, "%s is lacking, which reads the files back (apt-get install ffmpeg)", name)
	}
	return path
}

// given is a source of samples that are there already, in pieces of odd sizes.
type given struct {
	pcm   []int16
	piece int
}

func (g *given) Read(pcm []int16) (int, error) {
	if len(g.pcm) == 0 {
		return 0, io.EOF
	}
	g.piece = g.piece%977 + 1
	n := copy(pcm[:min(len(pcm), g.piece*7)], g.pcm)
	g.pcm = g.pcm[n:]
	return n, nil
}

const (
	title   = "Tempo “168” – 20 min; a=b"
	comment = "0:00 start; 0:02 count-in at 160 steps/min; 'quoted' $HOME `x` \\ ü"
)

func write(tb testing.TB, format Format, pcm []int16) string {
	tb.Helper()
	path := filepath.Join(tb.TempDir(), "track."+strings.ToLower(string(format)))
	f, err := os.Create(path)
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	t := Track{Source: &given{pcm: pcm}, SampleRate: 44100, Samples: int64(len(pcm)), Title: title, Comment: comment}
	if err := Write(context.Background(), f, format, t, "ffmpeg"); err != nil {
		tb.Fatal(err)
	}
	return path
}

// decoded is what ffmpeg makes of a file, every checksum checked.
func decoded(tb testing.TB, path string) []int16 {
	tb.Helper()
	cmd := exec.Command(tool(tb, "ffmpeg"), "-v", "error", "-xerror", "-err_detect", "crccheck+bitstream+buffer+explode", "-i", path, "-f", "s16le", "-ac", "1", "-")
	var said bytes.Buffer
	cmd.Stderr = &said
	out, err := cmd.Output()
	if err != nil || said.Len() > 0 {
		tb.Fatalf("decode %s: %v\n%s", path, err, said.String())
	}
	pcm := make([]int16, len(out)/2)
	for i := range pcm {
		pcm[i] = int16(binary.LittleEndian.Uint16(out[2*i:]))
	}
	return pcm
}

// signals are what an encoder may stumble over.
func signals() map[string][]int16 {
	r := rand.New(rand.NewPCG(1, 2))
	make16 := func(n int, f func(i int) float64) []int16 {
		out := make([]int16, n)
		for i := range out {
			out[i] = int16(math.Round(max(-32768, min(32767, f(i)))))
		}
		return out
	}
	return map[string][]int16{
		"one sample":   {-7},
		"two samples":  {5, -32768},
		"silence":      make([]int16, 5000),
		"constant":     make16(3000, func(int) float64 { return -32768 }),
		"one block":    make16(flacBlock, func(i int) float64 { return 900 * math.Sin(float64(i)/9) }),
		"a block less": make16(flacBlock-1, func(i int) float64 { return 900 * math.Sin(float64(i)/9) }),
		"a block more": make16(flacBlock+1, func(i int) float64 { return 900 * math.Sin(float64(i)/9) }),
		"odd length":   make16(4321, func(i int) float64 { return 32767 * math.Sin(float64(i)*float64(i)/1e5) }),
		"white noise":  make16(9000, func(int) float64 { return 65536 * (r.Float64() - 0.5) }),
		"soft noise":   make16(9000, func(int) float64 { return 20 * r.NormFloat64() }),
		"full square":  make16(7000, func(i int) float64 { return 32767 - 65535*float64(i/50%2) }),
		"alternating":  make16(7000, func(i int) float64 { return 32767 - 65535*float64(i%2) }),
		"single peaks": make16(20_000, func(i int) float64 { return 32767 * float64((i%1500)/1499) }),
		"steps":        make16(7000, func(i int) float64 { return float64(i*37%65536 - 32768) }),
	}
}

func TestLosslessFormatsComeBackExactly(t *testing.T) {
	tool(t, "ffmpeg")
	for name, pcm := range signals() {
		for _, format := range []Format{WAV, FLAC} {
			if got := decoded(t, write(t, format, pcm)); !slices.Equal(got, pcm) {
				t.Errorf("%s as %s: %d samples come back otherwise (%d)", name, format, len(pcm), len(got))
			}
		}
	}
}

// More than 2^7, 2^11 and 2^16 frames: each length of a frame's number.
func TestLongFLAC(t *testing.T) {
	pcm := make([]int16, flacBlock*(1<<16+3)+11)
	for i := 0; i < len(pcm); i += 20_001 {
		pcm[i] = int16(i)
	}
	if got := decoded(t, write(t, FLAC, pcm)); !slices.Equal(got, pcm) {
		t.Errorf("%d samples come back otherwise (%d)", len(pcm), len(got))
	}
}

func TestCoded(t *testing.T) {
	for n, want := range map[uint32]string{0: "\x00", 0x7F: "\x7F", 0x80: "\u0080", 0x7FF: "\u07FF", 0x800: "\u0800", 0xFFFD: "\uFFFD", 0x10000: "\U00010000", 0x10FFFF: "\U0010FFFF"} {
		if got := string(coded(n)); got != want { // Go's own UTF-8
			t.Errorf("%#x: % x, want % x", n, got, want)
		}
	}
}

// The check values of CRC-8/SMBUS and CRC-16/UMTS (from memory; both are the
// check of "123456789" in the usual catalogues).
func TestCRC(t *testing.T) {
	if got := newCRC(0x07, 8).of([]byte("123456789")); got != 0xF4 {
		t.Errorf("CRC-8 %#x, want 0xF4", got)
	}
	if got := newCRC(0x8005, 16).of([]byte("123456789")); got != 0xFEE8 {
		t.Errorf("CRC-16 %#x, want 0xFEE8", got)
	}
}

// The stream's data as a reader finds them at fixed places (RFC 9639, 8.2).
func TestFLACStreamInfo(t *testing.T) {
	pcm := signals()["odd length"]
	b, err := os.ReadFile(write(t, FLAC, pcm))
	if err != nil {
		t.Fatal(err)
	}
	var raw []byte
	for _, v := range pcm {
		raw = binary.LittleEndian.AppendUint16(raw, uint16(v))
	}
	sum := md5.Sum(raw)
	if !bytes.Equal(b[26:42], sum[:]) {
		t.Errorf("MD5 % x, want % x", b[26:42], sum)
	}
	if got := binary.BigEndian.Uint64(b[18:26]); got != 44100<<44|0<<41|15<<36|uint64(len(pcm)) {
		t.Errorf("rate, channels, bits and samples: %#x", got)
	}
	if lo, hi := binary.BigEndian.Uint16(b[8:]), binary.BigEndian.Uint16(b[10:]); lo != flacBlock || hi != flacBlock {
		t.Errorf("blocks of %d to %d", lo, hi)
	}
	small, large := int(b[12])<<16|int(b[13])<<8|int(b[14]), int(b[15])<<16|int(b[16])<<8|int(b[17])
	if small < 10 || large < small || large > 2*flacBlock+20 {
		t.Errorf("frames of %d to %d bytes", small, large)
	}
}

// probe is what ffprobe says of a file.
type probe struct {
	Streams []struct {
		Codec    string `json:"codec_name"`
		Rate     string `json:"sample_rate"`
		Channels int    `json:"channels"`
	} `json:"streams"`
	Format struct {
		Duration string            `json:"duration"`
		Tags     map[string]string `json:"tags"`
	} `json:"format"`
}

func probed(t *testing.T, path string) probe {
	t.Helper()
	out, err := exec.Command(tool(t, "ffprobe"), "-v", "error", "-show_format", "-show_streams", "-of", "json", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	var p probe
	if err := json.Unmarshal(out, &p); err != nil {
		t.Fatal(err)
	}
	return p
}

// A real track in all four formats: length, tags, and each step where it was.
func TestFormats(t *testing.T) {
	tool(t, "ffmpeg")
	plan, err := tempo.Make(tempo.Ask{Target: 171_300, LengthMS: 61_000})
	if err != nil {
		t.Fatal(err)
	}
	pcm := make([]int16, plan.Samples())
	if _, err := tempo.NewAudio(plan).Read(pcm); err != nil {
		t.Fatal(err)
	}
	want := onsets(pcm)
	if len(want) < 170 {
		t.Fatalf("%d onsets before encoding", len(want))
	}
	for _, tt := range []struct {
		format      Format
		codec       string
		lengthS     float64 // tolerance: two frames for MP3, one for AAC
		onset       int     // tolerance, in samples: 2 ms for the lossy formats
		extra       []string
		bytesAtMost int64
	}{
		{WAV, "pcm_s16le", 0.0005, 0, nil, 2*int64(len(pcm)) + 1000},
		{FLAC, "flac", 0.0005, 0, nil, int64(len(pcm)) / 3},
		{MP3, "mp3", 0.053, 88, []string{"encoder"}, int64(len(pcm)) / 2},
		{M4A, "aac", 0.03, 88, []string{"encoder", "major_brand", "minor_version", "compatible_brands"}, int64(len(pcm)) / 2},
	} {
		t.Run(string(tt.format), func(t *testing.T) {
			path := write(t, tt.format, pcm)
			p := probed(t, path)
			if len(p.Streams) != 1 || p.Streams[0].Codec != tt.codec || p.Streams[0].Rate != "44100" || p.Streams[0].Channels != 1 {
				t.Errorf("streams: %+v", p.Streams)
			}
			if got, err := strconv.ParseFloat(p.Format.Duration, 64); err != nil || math.Abs(got-float64(len(pcm))/44100) > tt.lengthS {
				t.Errorf("%s s, want %.3f", p.Format.Duration, float64(len(pcm))/44100)
			}
			for name, text := range p.Format.Tags {
				switch {
				case strings.EqualFold(name, "title") && text == title, strings.EqualFold(name, "comment") && text == comment:
				case slices.Contains(tt.extra, name):
				default:
					t.Errorf("tag %s = %q", name, text)
				}
			}
			if len(p.Format.Tags) != 2+len(tt.extra) {
				t.Errorf("tags: %v", p.Format.Tags)
			}
			got := onsets(decoded(t, path))
			if len(got) != len(want) {
				t.Fatalf("%d onsets, want %d", len(got), len(want))
			}
			worst := 0
			for i := range want {
				worst = max(worst, got[i]-want[i], want[i]-got[i])
			}
			size, err := os.Stat(path)
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%d bytes, onsets off by %d samples at most", size.Size(), worst)
			if worst > tt.onset {
				t.Errorf("an onset is off by %d samples, more than %d", worst, tt.onset)
			}
			if size.Size() > tt.bytesAtMost {
				t.Errorf("%d bytes, more than %d", size.Size(), tt.bytesAtMost)
			}
		})
	}
}

// onsets are where 2 ms of energy first exceed 1/50 of the whole track's
// loudest 2 ms, after 40 ms below half of that.
func onsets(pcm []int16) []int {
	const window, hush = 88, 1764
	energy := make([]float64, len(pcm))
	sum, loudest := 0.0, 0.0
	for i, v := range pcm {
		sum += float64(v) * float64(v)
		if i >= window {
			sum -= float64(pcm[i-window]) * float64(pcm[i-window])
		}
		energy[i] = sum
		loudest = max(loudest, sum)
	}
	var out []int
	below := hush
	for i, e := range energy {
		switch {
		case e < loudest/100:
			below++
		case e > loudest/50:
			if below >= hush {
				out = append(out, i)
			}
			below = 0
		}
	}
	return out
}

// failing gives a few samples and then fails, or ends, or never ends.
type failing struct {
	left int
	then error
}

func (f *failing) Read(pcm []int16) (int, error) {
	if f.left <= 0 {
		return 0, f.then
	}
	n := min(len(pcm), f.left)
	f.left -= n
	return n, nil
}

func TestSourcesThatFail(t *testing.T) {
	tool(t, "ffmpeg")
	broken := errors.New("broken")
	for _, format := range []Format{WAV, FLAC, MP3} {
		for _, tt := range []struct {
			name   string
			source Source
			want   error
		}{
			{"fails", &failing{70_000, broken}, broken},
			{"too short", &failing{70_000, io.EOF}, io.ErrUnexpectedEOF},
			{"too long", &failing{100_001, io.EOF}, nil},
		} {
			f, err := os.Create(filepath.Join(t.TempDir(), "x"))
			if err != nil {
				t.Fatal(err)
			}
			err = Write(t.Context(), f, format, Track{Source: tt.source, SampleRate: 44100, Samples: 100_000}, "ffmpeg")
			f.Close()
			if err == nil || (tt.want != nil && !errors.Is(err, tt.want)) {
				t.Errorf("%s, %s: %v, want %v", format, tt.name, err, tt.want)
			}
		}
	}
}

func TestInterrupted(t *testing.T) {
	tool(t, "ffmpeg")
	for _, format := range []Format{WAV, FLAC, M4A} {
		f, err := os.Create(filepath.Join(t.TempDir(), "x"))
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(t.Context())
		source := &stopping{after: 10, stop: cancel}
		done := make(chan error, 1)
		go func() {
			done <- Write(ctx, f, format, Track{Source: source, SampleRate: 44100, Samples: 1 << 40 >> 12}, "ffmpeg")
		}()
		select {
		case err := <-done:
			if !errors.Is(err, context.Canceled) {
				t.Errorf("%s: %v", format, err)
			}
		case <-time.After(time.Minute):
			t.Fatalf("%s: it doesn't stop", format)
		}
		f.Close()
	}
}

// stopping has the writing interrupted at its n-th piece.
type stopping struct {
	after int
	stop  func()
}

func (s *stopping) Read(pcm []int16) (int, error) {
	if s.after--; s.after == 0 {
		s.stop()
	}
	return len(pcm), nil
}

func TestWithoutFFmpeg(t *testing.T) {
	for name, program := range map[string]string{"not there": filepath.Join(t.TempDir(), "ffmpeg")} {
		f, err := os.Create(filepath.Join(t.TempDir(), "x"))
		if err != nil {
			t.Fatal(err)
		}
		err = Write(t.Context(), f, MP3, Track{Source: &failing{10, io.EOF}, SampleRate: 44100, Samples: 10}, program)
		f.Close()
		if form.CodeOf(err) != form.CodeMissing || !strings.Contains(err.Error(), ".wav or .flac") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestExplain(t *testing.T) {
	for said, want := range map[string]form.Code{
		"[aost#0:0] Unknown encoder 'libmp3lame'\nError selecting":   form.CodeMissing,
		"[NULL @ 0x1] Requested output format 'ipod' is not known.":  form.CodeMissing,
		"file:/proc/self/fd/3: No space left on device\nmore\nlines": "",
		"": "",
	} {
		w := &tail{}
		for range 2000 {
			if n, err := w.Write([]byte(said)); n != len(said) || err != nil {
				t.Fatal(n, err)
			}
		}
		err := w.explain(MP3, errors.New("exit status 1"))
		if form.CodeOf(err) != want || (want == "" && strings.Count(err.Error(), "\n") > 0) {
			t.Errorf("%q: %v", said, err)
		}
	}
}

func TestFormatOf(t *testing.T) {
	for path, want := range map[string]Format{"a.wav": WAV, "b/c.FLAC": FLAC, "d.e.Mp3": MP3, ".m4a": M4A, "x.ogg": "", "wav": "", "": "", "x.": ""} {
		got, err := FormatOf(path)
		if got != want || (err == nil) != (want != "") || (err != nil && form.CodeOf(err) != form.CodeUsage) {
			t.Errorf("%q: %q, %v; want %q", path, got, err, want)
		}
	}
}

func TestTooLongForWAV(t *testing.T) {
	err := Write(t.Context(), nil, WAV, Track{Source: &failing{}, SampleRate: 44100, Samples: 1 << 31}, "")
	if form.CodeOf(err) != form.CodeUsage || !strings.Contains(err.Error(), "FLAC") {
		t.Error(err)
	}
}

func benchmark(b *testing.B, format Format) {
	plan, err := tempo.Make(tempo.Ask{Own: 160_000, Target: 176_000, LengthMS: 20 * 60_000})
	if err != nil {
		b.Fatal(err)
	}
	if format.NeedsFFmpeg() {
		tool(b, "ffmpeg")
	}
	b.SetBytes(2 * plan.Samples())
	b.ReportAllocs()
	var size int64
	for b.Loop() {
		f, err := os.Create(filepath.Join(b.TempDir(), "x"))
		if err != nil {
			b.Fatal(err)
		}
		if err := Write(b.Context(), f, format, Track{Source: tempo.NewAudio(plan), SampleRate: tempo.SampleRate, Samples: plan.Samples()}, "ffmpeg"); err != nil {
			b.Fatal(err)
		}
		info, err := f.Stat()
		if err != nil {
			b.Fatal(err)
		}
		size = info.Size()
		f.Close()
		os.Remove(f.Name())
	}
	b.ReportMetric(float64(size)/1e6, "MB-file")
}

func BenchmarkWAV20Minutes(b *testing.B)  { benchmark(b, WAV) }
func BenchmarkFLAC20Minutes(b *testing.B) { benchmark(b, FLAC) }
func BenchmarkMP320Minutes(b *testing.B)  { benchmark(b, MP3) }
func BenchmarkM4A20Minutes(b *testing.B)  { benchmark(b, M4A) }
