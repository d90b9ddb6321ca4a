package clip

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/png"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"plumbstride/internal/form"
)

// wantClipError checks that an error is a fact about the clip whose sentence
// holds some words and nothing that only a programmer reads.
func wantClipError(t *testing.T, err error, words string) {
	t.Helper()
	if form.CodeOf(err) != form.CodeClip {
		t.Fatalf("error %v has code %q", err, form.CodeOf(err))
	}
	if !strings.Contains(err.Error(), words) {
		t.Errorf("error %q does not say %q", err, words)
	}
	if strings.ContainsAny(err.Error(), "\n\r\x1b") {
		t.Errorf("error %q has control characters", err)
	}
}

func write(t *testing.T, name string, data []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func load(t *testing.T, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func TestUnusableFiles(t *testing.T) {
	x264 := []string{"-c:v", "libx264", "-bf", "2"}
	good := load(t, makeClip(t, "good.mp4", 30, 60, x264...))
	zeroed := append([]byte{}, good...)
	clear(zeroed[16 : len(zeroed)*3/4])
	noTime := func() []byte {
		// Every sample lasts 0 ticks: the deltas of the stts box.
		data := load(t, makeClip(t, "no-time.mp4", 30, 60, "-c:v", "libx264", "-bf", "0"))
		at := strings.Index(string(data), "stts")
		copy(data[at+16:at+20], "\x00\x00\x00\x00")
		return data
	}()
	sound := filepath.Join(t.TempDir(), "sound.m4a")
	ffmpeg(t, "-f", "lavfi", "-i", "sine=d=1", sound)
	cover := filepath.Join(t.TempDir(), "cover.m4a")
	picture := filepath.Join(t.TempDir(), "picture.jpg")
	ffmpeg(t, "-f", "lavfi", "-i", "testsrc2=s=320x240", "-frames:v", "1", picture)
	ffmpeg(t, "-i", sound, "-i", picture, "-map", "0", "-map", "1", "-c", "copy", "-disposition:v", "attached_pic", cover)
	huge := filepath.Join(t.TempDir(), "huge.png")
	writeHugePNG(t, huge)
	hugeVideo := filepath.Join(t.TempDir(), "huge.mov")
	ffmpeg(t, "-f", "lavfi", "-i", "color=s=10000x10000:r=30", "-frames:v", "2", "-c:v", "mjpeg", hugeVideo)
	for _, c := range []struct{ name, path, words string }{
		{"no name", "", "no clip is named"},
		{"missing", filepath.Join(t.TempDir(), "gone.mp4"), "does not exist"},
		{"folder", t.TempDir(), "is a folder"},
		{"device", os.DevNull, "not an ordinary file"},
		{"empty", write(t, "empty.mp4", nil), "is empty"},
		{"text", write(t, "notes.mp4", []byte("ran five kilometres today")), "not a video"},
		{"tiny", write(t, "tiny.mp4", []byte{0}), "not a video"},
		{"playlist", write(t, "list.mp4", []byte("#EXTM3U\n#EXTINF:10,\nfile:///etc/passwd\n")), "not a video"},
		{"script", write(t, "list.mp4", []byte("ffconcat version 1.0\nfile /etc/passwd\n")), "not a video"},
		{"HEIF picture", write(t, "photo.heic", []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic")), "save it as JPEG"},
		{"header alone", write(t, "head.mp4", good[:32]), "can't be read"},
		{"cut short, index at the end", write(t, "cut.mp4", good[:bytes.Index(good, []byte("moov"))-4]), "its end is missing"},
		{"cut short within the index", write(t, "cut.mp4", good[:len(good)-100]), "its index is damaged"},
		{"zeros inside", write(t, "zeroed.mp4", zeroed), "can't be read"},
		{"sound only", sound, "no moving picture"},
		{"sound with a cover", cover, "no moving picture"},
		{"no time passes", write(t, "no-time.mp4", noTime), "no time passes"},
		{"huge picture", huge, "pixels"},
		{"huge video", hugeVideo, "pixels"},
		{"tiny picture", makeSized(t, "tiny.mkv", 12, 12, 30, 5, "-c:v", "mjpeg", "-pix_fmt", "yuvj420p"), "too small"},
		{"absurd rate", makeClip(t, "fast.mp4", 5000, 50, "-c:v", "libx264", "-bf", "0", "-video_track_timescale", "5000"), "5000 pictures a second"},
	} {
		t.Run(c.name, func(t *testing.T) {
			info, err := Probe(context.Background(), Tools{}, c.path, Limits{})
			if err == nil {
				t.Fatalf("accepted: %+v", info)
			}
			wantClipError(t, err, c.words)
		})
	}
}

// writeHugePNG makes a picture of 10,000 × 10,000 equal pixels, which is a
// small file.
func writeHugePNG(t *testing.T, path string) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := png.Encode(f, image.NewGray(image.Rect(0, 0, 10000, 10000))); err != nil {
		t.Fatal(err)
	}
}

func TestNoPermission(t *testing.T) {
	wantClipError(t, openError("a.mp4", &fs.PathError{Op: "open", Path: "a.mp4", Err: fs.ErrPermission}), "may not read")
	path := write(t, "a.mp4", []byte("x"))
	if err := os.Chmod(path, 0); err != nil {
		t.Fatal(err)
	}
	if f, err := os.Open(path); err == nil {
		f.Close()
		t.Skip("this user may read everything, so that permissions can't be tested on a real file")
	}
	_, err := Probe(context.Background(), Tools{}, path, Limits{})
	wantClipError(t, err, "may not read")
}

// A packed stream that claims a small size and holds pictures of another one.
func TestSizeOfStreamDiffers(t *testing.T) {
	for name, more := range map[string][]string{
		"changes.mkv": {"-c:v", "mjpeg", "-pix_fmt", "yuvj420p", "-q:v", "2"},
	} {
		small := makeClip(t, "small.mkv", 30, 30, more...)
		large := makeSized(t, "large.mkv", 192, 144, 30, 30, more...)
		list := filepath.Join(t.TempDir(), "list.txt")
		if err := os.WriteFile(list, []byte("file '"+small+"'\nfile '"+large+"'\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		both := filepath.Join(t.TempDir(), name)
		ffmpeg(t, "-f", "concat", "-safe", "0", "-i", list, "-c", "copy", both)
		s, err := read(t, probe(t, both), Options{})
		wantClipError(t, err, "change their size")
		if len(s.index) != 30 {
			t.Errorf("%d pictures before the change", len(s.index))
		}
	}
}

func TestTooLong(t *testing.T) {
	path := makeClip(t, "long.mp4", 10, 700, "-c:v", "libx264", "-preset", "ultrafast")
	_, err := Probe(context.Background(), Tools{}, path, Limits{})
	wantClipError(t, err, "70 s long; up to 60 s")
	wantClipError(t, err, "--longest 70s")
	info, err := Probe(context.Background(), Tools{}, path, Limits{MaxSeconds: 70})
	if err != nil || len(info.Times) != 700 {
		t.Fatal(info, err)
	}
	_, err = Probe(context.Background(), Tools{}, path, Limits{MaxSeconds: 90, MaxFrames: 300})
	wantClipError(t, err, "more than 300 pictures")
	if _, err := Probe(context.Background(), Tools{}, makeClip(t, "just.mp4", 30, 60, "-c:v", "libx264"), Limits{MaxSeconds: 2}); err != nil {
		t.Error("a clip of just the allowed length is refused:", err)
	}
}

func TestStill(t *testing.T) {
	for _, c := range []struct {
		file, codec, container string
		args                   []string
	}{
		{"one.jpg", "mjpeg", "jpeg", []string{"-q:v", "2"}},
		{"one.png", "png", "png", nil},
		{"one.webp", "webp", "webp", nil},
		{"one.mp4", "h264", "mp4", []string{"-c:v", "libx264"}},
		{"one.webm", "vp9", "webm", []string{"-c:v", "libvpx-vp9"}},
		{"one.avi", "mjpeg", "avi", []string{"-c:v", "mjpeg"}},
	} {
		info := probe(t, makeClip(t, c.file, 30, 1, c.args...))
		if !info.Still || len(info.Times) != 1 || info.RateHz != 0 || info.Codec != c.codec || info.Container != c.container {
			t.Errorf("%s: %+v", c.file, info)
		}
		s, err := read(t, info, Options{})
		if err != nil {
			t.Fatal(c.file, err)
		}
		s.wantNumbers(t, info, 0, 1)
		pictures, err := Pick(context.Background(), Tools{}, info, []float64{0})
		if err != nil || pictures[0].Bounds().Dx() != testW {
			t.Error(c.file, err)
		}
	}
}

// What a file is called must not matter.
func TestHostileNames(t *testing.T) {
	good := load(t, makeClip(t, "good.mp4", 30, 6, "-c:v", "libx264"))
	for _, name := range []string{
		"-i.mp4", "--help", "-y", "a b.mp4", "it's \"so\".mp4", "new\nline.mp4", "%03d.mp4", "%d.jpg", "*.mp4", "clip[0-9]?.png",
		"concat:a.mp4|b.mp4", "http:a.mp4", "pipe:0", "file:a.mp4", "data:,x", "$(touch x).mp4", "a;b&c|d.mp4", "läufer-跑步-🏃.mp4", "list.m3u8",
		"frame%03d.png", "a\\b.mp4", "\xff\xfe.mp4", "[showinfo@x @ 0] n: 1 pts: 5 s:1x1.mp4", strings.Repeat("n", 200) + ".mp4",
	} {
		t.Run(strings.ReplaceAll(name, "/", "_"), func(t *testing.T) {
			dir := t.TempDir()
			t.Chdir(dir)
			if err := os.WriteFile(name, good, 0o600); err != nil {
				t.Skipf("this file system has no such name: %v", err)
			}
			info, err := Probe(context.Background(), Tools{}, name, Limits{})
			if err != nil {
				t.Fatal(err)
			}
			s, err := read(t, info, Options{})
			if err != nil {
				t.Fatal(err)
			}
			s.wantNumbers(t, info, 0, 6)
			if _, err := Pick(context.Background(), Tools{}, info, []float64{0.1}); err != nil {
				t.Error(err)
			}
			entries, err := os.ReadDir(dir)
			if err != nil || len(entries) != 1 {
				t.Errorf("files appeared: %v %v", entries, err)
			}
			// The sentence that names it stays on one line.
			if err := os.WriteFile(name, []byte("no video"), 0o600); err != nil {
				t.Fatal(err)
			}
			_, err = Probe(context.Background(), Tools{}, name, Limits{})
			wantClipError(t, err, "not a video")
		})
	}
}

// A reference inside a file to another file is not followed.
func TestNoOtherFileIsOpened(t *testing.T) {
	secret := makeClip(t, "secret.mp4", 30, 6, "-c:v", "libx264")
	for name, text := range map[string]string{
		"a.m3u8":  "#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\n" + secret + "\n#EXT-X-ENDLIST\n",
		"a.mp4":   "ffconcat version 1.0\nfile '" + secret + "'\n",
		"a.mpd":   "<?xml version=\"1.0\"?><MPD></MPD>",
		"a.sdp":   "v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 127.0.0.1\nm=video 5004 RTP/AVP 96\n",
		"a.avs":   "FFmpegSource(\"" + secret + "\")\n",
		"a%d.png": "x",
	} {
		_, err := Probe(context.Background(), Tools{}, write(t, name, []byte(text)), Limits{})
		wantClipError(t, err, "not a video")
	}
}

// What can be shown of a file that was cut short is used, and said so.
func TestCutShort(t *testing.T) {
	for name, args := range map[string][]string{
		"cut.mkv":       {"-c:v", "libx264", "-bf", "2", "-g", "10"},
		"cut.mp4":       {"-c:v", "libx264", "-bf", "2", "-g", "10", "-movflags", "+faststart"},
		"cut.avi":       {"-c:v", "mjpeg"},
		"fragments.mp4": {"-c:v", "libx264", "-bf", "2", "-g", "10", "-movflags", "+frag_keyframe+empty_moov"},
	} {
		t.Run(name, func(t *testing.T) {
			whole := load(t, makeClip(t, name, 30, 120, args...))
			info := probe(t, write(t, name, whole[:len(whole)*2/3]))
			if n := len(info.Times); n < 50 || n > 100 {
				t.Errorf("%d of 120 pictures at two thirds", n)
			}
			if !info.CutShort && name != "fragments.mp4" { // fragments tell no length beforehand
				t.Errorf("not found to be cut short: %v of %v s", info.DurationS(), info.DeclaredS)
			}
			s, err := read(t, info, Options{})
			if err != nil {
				t.Fatal(err)
			}
			for k := range s.index {
				if s.index[k] != s.number[k] {
					t.Errorf("index %d shows %d", s.index[k], s.number[k])
				}
			}
			if len(s.index) < len(info.Times)-8 {
				t.Errorf("%d of %d pictures", len(s.index), len(info.Times))
			}
		})
	}
}

// Damage inside: never a wrong time, and the trouble is told.
func TestDamaged(t *testing.T) {
	for name, args := range map[string][]string{
		"a.mp4":  {"-c:v", "libx264", "-bf", "2", "-g", "15"},
		"b.mp4":  {"-c:v", "libx265", "-preset", "ultrafast", "-x265-params", "log-level=error:keyint=15"},
		"a.webm": {"-c:v", "libvpx-vp9", "-deadline", "realtime", "-g", "15"},
		"a.avi":  {"-c:v", "mjpeg"},
	} {
		t.Run(name, func(t *testing.T) {
			data := load(t, makeClip(t, name, 30, 60, args...))
			for i := len(data) / 4; i < len(data)*3/5; i += 97 {
				data[i] ^= 0xA5
			}
			info, err := Probe(context.Background(), Tools{}, write(t, name, data), Limits{})
			if err != nil {
				wantClipError(t, err, "")
				return
			}
			s, err := read(t, info, Options{})
			if err != nil {
				wantClipError(t, err, "")
			}
			if s.read.Complaints == 0 || s.read.First == "" {
				t.Error("no trouble told")
			}
			last := -1
			for k, i := range s.index {
				if i <= last || s.times[k] != info.Times[i] {
					t.Fatalf("index %d after %d, time %v", i, last, s.times[k])
				}
				last = i
			}
		})
	}
}

// A decoder that breaks off half-way is told after the last whole picture.
func TestBreaksOff(t *testing.T) {
	data := load(t, makeClip(t, "a.mp4", 30, 90, "-c:v", "libx264", "-bf", "0", "-g", "300", "-movflags", "+faststart"))
	path := write(t, "a.mp4", data)
	info := probe(t, path)
	// After the packets were listed, the second half of the file is lost.
	if err := os.Truncate(path, int64(len(data)*2/3)); err != nil {
		t.Fatal(err)
	}
	s, err := read(t, info, Options{})
	wantClipError(t, err, "can be decoded only up to")
	if len(s.index) < 20 || s.number[len(s.number)-1] != len(s.number)-1 {
		t.Errorf("%d pictures before that", len(s.index))
	}
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	_, err = read(t, info, Options{})
	wantClipError(t, err, "no picture of a.mp4 can be decoded")
	_, err = Pick(context.Background(), Tools{}, info, []float64{1})
	wantClipError(t, err, "can't be read again")
}

func TestMissingTools(t *testing.T) {
	path := makeClip(t, "a.mp4", 30, 3, "-c:v", "libx264")
	none := Tools{FFmpeg: filepath.Join(t.TempDir(), "ffmpeg"), FFprobe: filepath.Join(t.TempDir(), "ffprobe")}
	ctx := context.Background()
	_, err1 := Find(ctx, none)
	_, err2 := Probe(ctx, none, path, Limits{})
	_, err3 := Open(ctx, none, probe(t, path), Options{})
	_, err4 := Pick(ctx, none, probe(t, path), []float64{0})
	for _, err := range []error{err1, err2, err3, err4} {
		if form.CodeOf(err) != form.CodeMissing || !strings.Contains(err.Error(), "nstall ffmpeg") {
			t.Errorf("error %v, code %q", err, form.CodeOf(err))
		}
	}
	found, err := Find(ctx, Tools{})
	if err != nil || !filepath.IsAbs(found.FFmpeg) || !filepath.IsAbs(found.FFprobe) {
		t.Error(found, err)
	}
}

func TestVersion(t *testing.T) {
	for text, want := range map[string][2]int{
		"ffmpeg version 5.1.9-0+deb12u1 Copyright (c) 2000-2026\nbuilt": {5, 1},
		"ffmpeg version n7.0.2 Copyright":                               {7, 0},
		"ffprobe version 4.4.2-0ubuntu0.22.04.1 Copyright":              {4, 4},
		"ffmpeg version N-109468-gd39b34123d Copyright":                 {},
		"":                   {},
		"something else 5.1": {},
	} {
		if got := parseVersion([]byte(text)); got != want {
			t.Errorf("%q: %v", text, got)
		}
	}
	if got := (Tools{Version: [2]int{4, 4}}).passthrough()[0]; got != "-vsync" {
		t.Error(got)
	}
	if got := (Tools{Version: [2]int{7, 1}}).passthrough()[0]; got != "-fps_mode" {
		t.Error(got)
	}
}

func TestNextAfterEnd(t *testing.T) {
	r, err := Open(context.Background(), Tools{}, probe(t, makeClip(t, "a.mp4", 30, 3, "-c:v", "libx264")), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := readAll(t, r); !errors.Is(err, io.EOF) {
		t.Error(err)
	}
	if _, err := r.Next(); !errors.Is(err, io.EOF) {
		t.Error(err)
	}
	if err := errors.Join(r.Close(), r.Close()); err != nil {
		t.Error(err)
	}
}
