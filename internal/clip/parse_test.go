package clip

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"plumbstride/internal/form"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "write the golden files anew")

// summary is an Info, or the sentence of its refusal, in a golden file.
type summary struct {
	Refused  string `json:",omitempty"`
	Info     *Info  `json:",omitempty"`
	Full     bool   `json:",omitempty"`
	BT709    bool   `json:",omitempty"`
	ByOrder  bool   `json:",omitempty"`
	Stream   int    `json:",omitempty"`
	Pictures int    `json:",omitempty"`
}

func summarize(data []byte) (summary, error) {
	p, err := parseProbe(data)
	if err != nil {
		return summary{}, err
	}
	info, err := describe(p, container{name: "mp4", demuxer: "mov"}, "clip.mp4", &complaints{}, Limits{}.orDefaults())
	if err != nil {
		return summary{Refused: err.Error()}, nil
	}
	s := summary{Info: info, Full: info.full, BT709: info.bt709, ByOrder: info.line.byOrder, Stream: info.stream, Pictures: len(info.Times)}
	if len(info.Times) > 6 {
		info.Times = info.Times[:6]
	}
	return s, nil
}

// What ffprobe says of some clips, read and kept beside it. The answers in
// testdata/probe are shortened ones of release 5.1 and hand-made ones in the
// manner of older releases.
func TestParseProbeGolden(t *testing.T) {
	files, err := filepath.Glob("testdata/probe/*.json")
	if err != nil || len(files) == 0 {
		t.Fatal("no files", err)
	}
	for _, file := range files {
		if strings.HasSuffix(file, ".golden.json") {
			continue
		}
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		s, err := summarize(data)
		if err != nil {
			t.Fatal(file, err)
		}
		got, err := json.MarshalIndent(s, "", "  ")
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, '\n')
		golden := strings.TrimSuffix(file, ".json") + ".golden.json"
		if *update {
			if err := os.WriteFile(golden, got, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(golden)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(string(want), string(got)); d != "" {
			t.Errorf("%s (-want +got):\n%s", file, d)
		}
	}
}

// Whatever ffprobe's answer holds, an Info is sound or there is an error with
// a sentence.
func FuzzParseProbe(f *testing.F) {
	files, err := filepath.Glob("testdata/probe/*.json")
	if err != nil {
		f.Fatal(err)
	}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	for _, text := range []string{`{}`, `[]`, `null`, `{"packets":[{"pts":"9223372036854775807"},{"pts":"-9223372036854775808"}],"streams":[{"codec_name":"x","width":64,"height":64,"time_base":"1/9223372036854775807"}]}`} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := parseProbe(data)
		if err != nil {
			return
		}
		limits := Limits{}.orDefaults()
		info, err := describe(p, container{name: "mp4", demuxer: "mov"}, "clip.mp4", &complaints{}, limits)
		if err != nil {
			if form.CodeOf(err) != form.CodeClip {
				t.Fatalf("error %v has code %q", err, form.CodeOf(err))
			}
			return
		}
		checkInfo(t, info, limits)
	})
}

func checkInfo(t *testing.T, info *Info, limits Limits) {
	t.Helper()
	n := len(info.Times)
	if n == 0 || n > limits.MaxFrames || n != len(info.line.ticks) || info.Times[0] != 0 {
		t.Fatalf("%d times", n)
	}
	for k := 1; k < n; k++ {
		if !(info.Times[k] > info.Times[k-1]) {
			t.Fatalf("times %v, %v", info.Times[k-1], info.Times[k])
		}
	}
	if info.Width < 16 || info.Height < 16 || info.codedW > limits.MaxPixels/info.codedH {
		t.Fatalf("%d × %d", info.Width, info.Height)
	}
	for _, v := range []float64{info.RateHz, info.CaptureRateHz, info.DeclaredS, info.StartS, info.DurationS()} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			t.Fatalf("%+v", info)
		}
	}
	if d := info.DurationS(); d > limits.MaxSeconds*1.5 || info.RateHz > maxRateHz {
		t.Fatalf("%v s at %v Hz", d, info.RateHz)
	}
	if info.RotationDeg%90 != 0 || info.RotationDeg < 0 || info.RotationDeg >= 360 {
		t.Fatalf("turned by %d", info.RotationDeg)
	}
}

// A line of standard error can't do harm, and a stamp is only taken from
// the filter's own.
func FuzzStamp(f *testing.F) {
	f.Add("[showinfo@sabc @ 0x5586e63b5f80] [info] n:   0 pts:      0 pts_time:0       pos:     3949 fmt:yuv420p sar:0/1 s:1280x720 i:P iskey:1 type:I ")
	f.Add("[showinfo@sabc @ 0x5586e63b5f80] [info] config in time_base: 1/15360, frame_rate: 60/1")
	f.Add("[h264 @ 0x5586e63b5f80] [error] error while decoding MB 5 4, bytestream -5")
	f.Add("[info] Input #0, mov, from 'file:[showinfo@x @ 0x0] n: 1 pts: 5 s:1x1'")
	f.Fuzz(func(t *testing.T, line string) {
		s := stampReader{prefix: mark("sabc").prefix(), tick: 0.001, said: &complaints{}}
		st, ok := s.line(line)
		if ok && !strings.HasPrefix(line, "[showinfo@sabc @ ") {
			t.Fatal("a foreign line was taken")
		}
		if math.IsNaN(st.seconds) || !(s.tick > 0) {
			t.Fatalf("%+v, tick %v", st, s.tick)
		}
		if words := s.said.words(); strings.ContainsAny(words, "\n\r\x00\x1b") {
			t.Fatalf("words %q", words)
		}
	})
}

func TestStamp(t *testing.T) {
	s := stampReader{prefix: "[showinfo@sabc @ ", tick: 0.001, said: &complaints{}}
	lines := []struct {
		text string
		want stamp
		ok   bool
	}{
		{"[showinfo@sabc @ 0x5586e63b5f80] [info] config in time_base: 1/15360, frame_rate: 60/1", stamp{}, false},
		{"[showinfo@sabc @ 0x5586e63b5f80] [info] n:   7 pts:   1536 pts_time:0.1     pos:     3949 fmt:yuv420p sar:0/1 s:1280x720 i:P iskey:1 type:I ", stamp{seconds: 0.1, timed: true, w: 1280, h: 720}, true},
		{"[showinfo@sabc @ 0x1] [info] n: 0 pts: -15360 pts_time:-1 duration: 256 fmt:yuv420p cl:left sar:1/1 s:64x48 i:P", stamp{seconds: -1, timed: true, w: 64, h: 48}, true},
		{"[showinfo@sabc @ 0x1] [info] n:   0 pts:NOPTS pts_time:NOPTS fmt:yuv420p sar:1/1 s:64x48 i:P", stamp{w: 64, h: 48}, true},
		{"[showinfo@sabc @ 0x1] [info]   side data - User Data Unregistered:", stamp{}, false},
		{"[showinfo@sxyz @ 0x1] [info] n: 0 pts: 5 s:64x48", stamp{}, false},
		{"[Parsed_showinfo_0 @ 0x1] [info] n: 0 pts: 5 s:64x48", stamp{}, false},
	}
	for _, l := range lines {
		if got, ok := s.line(l.text); ok != l.ok || got != l.want {
			t.Errorf("%q: %+v, %v", l.text, got, ok)
		}
	}
}

// A time line does not depend on the order of packets in the file, and each
// time finds its own index.
func TestTimelineProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ticks := rapid.SliceOfNDistinct(rapid.Int64Range(-1e9, 1e9), 1, 50, rapid.ID[int64]).Draw(t, "ticks")
		packets := make([]packet, len(ticks))
		for i, v := range ticks {
			packets[i] = packet{PTS: integer{v, true}, Size: integer{10, true}, Flags: "_"}
		}
		// Neither hidden nor empty packets count.
		packets = append(packets, packet{PTS: integer{5, true}, Flags: "_D"}, packet{PTS: integer{5, true}, Size: integer{0, true}})
		line := newTimeline(packets, 30, 0.001)
		if want := slices.Sorted(slices.Values(ticks)); !slices.Equal(line.ticks, want) || line.byOrder {
			t.Fatalf("%v, want %v", line.ticks, want)
		}
		for k, v := range line.ticks {
			if got, off := line.nearest(float64(v)); got != k || off != 0 {
				t.Fatalf("tick %d found at %d, off by %v", v, got, off)
			}
		}
		times := line.seconds(0.001)
		for k, v := range line.ticks {
			if math.Abs(times[k]-float64(v-line.ticks[0])*0.001) > 0.0021 {
				t.Fatalf("time %v for tick %d", times[k], v)
			}
		}
	})
}

// A steady rate rounded to milliseconds comes back steady; jitter of more
// than the rounding stays.
func TestSteadyRate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rate := rapid.Float64Range(20, 300).Draw(t, "rate")
		n := rapid.IntRange(120, 600).Draw(t, "n")
		start := rapid.Float64Range(0, 1).Draw(t, "start")
		var line timeline
		for k := range n {
			exact := 1000 * (start + float64(k)/rate)
			if math.Abs(exact-math.Floor(exact)-0.5) < 1e-6 {
				t.Skip("a tie, which floating point rounds either way")
			}
			line.ticks = append(line.ticks, int64(math.Round(exact)))
		}
		// Roundings of ± 0.5 ms that all pull one way tilt a fitted line by
		// 0.5 ms·Σ|x|/Σx² = 1.5 ms/n a step at most (by hand).
		times := line.seconds(0.001)
		for k, v := range times {
			if math.Abs(v-float64(k)/rate) > 0.0015*float64(k)/float64(n)+1e-9 {
				t.Fatalf("time %d is %v, want %v", k, v, float64(k)/rate)
			}
			if k > 0 && math.Abs(v-times[k-1]-times[1]) > 1e-9 {
				t.Fatalf("step %d is %v, the first is %v", k, v-times[k-1], times[1])
			}
		}
		line.ticks[n/2] += 2
		if _, steady := steadyStep(line.ticks); steady {
			t.Fatal("a late picture is smoothed away")
		}
	})
}

func TestTimelineWithoutTimes(t *testing.T) {
	known := func(v int64) integer { return integer{v, true} }
	for _, c := range []struct {
		name    string
		packets []packet
		want    []int64
	}{
		{"decoding times", []packet{{DTS: known(4)}, {DTS: known(5)}, {DTS: known(7)}}, []int64{4, 5, 7}},
		{"one presentation time lacks", []packet{{PTS: known(9), DTS: known(4)}, {DTS: known(5)}}, []int64{4, 5}},
		{"durations", []packet{{Duration: known(3)}, {Duration: known(4)}, {Duration: known(3)}}, []int64{0, 3, 7}},
		{"average rate", []packet{{}, {}, {}}, []int64{0, 33, 67}},
	} {
		line := newTimeline(c.packets, 30, 0.001)
		if !slices.Equal(line.ticks, c.want) || !line.byOrder {
			t.Errorf("%s: %v, by order %v", c.name, line.ticks, line.byOrder)
		}
	}
	if line := newTimeline([]packet{{}, {}}, 0, 0.001); len(line.ticks) != 0 {
		t.Errorf("times out of nothing: %v", line.ticks)
	}
}

// The eight turns by the matrix's definition: mirror, then rotate.
func TestMatrixTurn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := turn{Degrees: 90 * rapid.IntRange(0, 3).Draw(t, "quarters"), Mirror: rapid.Bool().Draw(t, "mirror")}
		tilt := rapid.Float64Range(-44, 44).Draw(t, "tilt")
		sin, cos := math.Sincos((float64(want.Degrees) + tilt) * math.Pi / 180)
		// x' = a·x + c·y, y' = b·x + d·y; clockwise with y down.
		a, b, c, d := cos, sin, -sin, cos
		if want.Mirror {
			a, b = -a, -b
		}
		text := fmt.Sprintf("\n00000000: %12.0f %12.0f %12d\n00000001: %12.0f %12.0f %12d\n00000002:            0            0   1073741824\n",
			a*65536, b*65536, 0, c*65536, d*65536, 0)
		a, b, c, d, ok := parseMatrix(text)
		if got := matrixTurn(a, b, c, d); !ok || got != want {
			t.Fatalf("%+v, want %+v", got, want)
		}
	})
	for _, text := range []string{"", "x", "0: 0 0 0\n1: 0 0 0\n", "0: 1 0\n"} {
		if _, _, _, _, ok := parseMatrix(text); ok {
			t.Errorf("%q is taken for a matrix", text)
		}
	}
}

func TestSniff(t *testing.T) {
	for name, head := range map[string]string{
		"":        "",
		"mp4":     "\x00\x00\x00\x20ftypisom",
		"mov":     "\x00\x00\x00\x14ftypqt  ",
		"avi":     "RIFF\x00\x00\x00\x00AVI LIST",
		"mkv":     "\x1A\x45\xDF\xA3....matroska",
		"webm":    "\x1A\x45\xDF\xA3....webm",
		"mpeg-ts": strings.Repeat("G"+strings.Repeat("\x00", 187), 6),
	} {
		got, ok := sniff([]byte(head))
		if got.name != name || ok != (name != "") {
			t.Errorf("%q is %q", head, got.name)
		}
	}
	for _, head := range []string{"#EXTM3U", "ffconcat version 1.0", "RIFF....WAVE", "ID3", "PK\x03\x04", "%PDF-1.7", "GGGG"} {
		if got, ok := sniff([]byte(head)); ok {
			t.Errorf("%q is taken for %s", head, got.name)
		}
	}
}

func TestEnvironment(t *testing.T) {
	got := environment([]string{"PATH=/bin", "FFREPORT=x", "HOME=/h", "LC_ALL=de_DE", "AV_LOG_FORCE_COLOR=1"})
	want := []string{"PATH=/bin", "HOME=/h", "AV_LOG_FORCE_NOCOLOR=1", "LC_ALL=C", "OPENBLAS_NUM_THREADS=1", "OMP_NUM_THREADS=1"}
	if !slices.Equal(got, want) {
		t.Error(got)
	}
}

func TestOpenPanicsWithoutProbe(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("no panic")
		}
	}()
	_, _ = Open(context.Background(), Tools{}, &Info{}, Options{})
}
