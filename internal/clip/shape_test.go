package clip

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os/exec"
	"testing"
)

// Times are those asked for when the file was written, to a tick.
func TestVariableRate(t *testing.T) {
	const n = 40
	// A step of 1/30 s with a sway of up to 12 ms, as phones write, and a
	// gap of 100 ms; in ticks of 1/90000 s.
	at := func(k int) float64 {
		ticks := 3000*k + 270*((k*7)%5)
		if k >= 20 {
			ticks += 9000
		}
		return float64(ticks) / 90000
	}
	const expr = `settb=1/90000,setpts='3000*N+270*mod(N*7\,5)+if(gte(N\,20)\,9000\,0)'`
	for _, c := range []struct {
		file      string
		tolerance float64
		args      []string
	}{
		{"vfr.mp4", 1e-9, []string{"-c:v", "libx264", "-bf", "0"}},
		{"vfr-b.mp4", 1e-9, []string{"-c:v", "libx264", "-bf", "3"}},
		{"vfr.mov", 1e-9, []string{"-c:v", "libx265", "-preset", "ultrafast", "-x265-params", "log-level=error"}},
		{"vfr.webm", 0.0011, []string{"-c:v", "libvpx-vp9", "-deadline", "realtime"}},
		{"vfr.mkv", 0.0011, []string{"-c:v", "libx264", "-bf", "2"}},
		{"vfr.ts", 1e-9, []string{"-c:v", "libx264", "-bf", "2"}},
	} {
		t.Run(c.file, func(t *testing.T) {
			t.Parallel()
			args := append([]string{"-vf", expr, "-fps_mode", "passthrough", "-enc_time_base", "1/90000", "-video_track_timescale", "90000"}, c.args...)
			if c.file == "vfr.webm" || c.file == "vfr.mkv" || c.file == "vfr.ts" {
				args = append(args[:6:6], c.args...)
			}
			info := probe(t, makeClip(t, c.file, 30, n, args...))
			s, err := read(t, info, Options{})
			if err != nil {
				t.Fatal(err)
			}
			s.wantNumbers(t, info, 0, n)
			wantTimes(t, info.Times, at, c.tolerance)
			if !info.Variable {
				t.Error("not found to be variable")
			}
		})
	}
}

// Pictures that are shown at one time count once, and cost none of the others.
func TestPicturesAtOneTime(t *testing.T) {
	info := probe(t, makeClip(t, "same.mkv", 30, 60, "-c:v", "mjpeg", "-bsf:v", "setts=ts=floor(N/3)*100"))
	s, err := read(t, info, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(s.index) != 20 || len(info.Times) != 20 {
		t.Fatalf("%d pictures, %d times", len(s.index), len(info.Times))
	}
	for k := range s.index {
		if s.index[k] != k || s.number[k] != 3*k || math.Abs(s.times[k]-float64(k)/10) > 1e-9 {
			t.Errorf("picture %d: index %d, number %d at %v s", k, s.index[k], s.number[k], s.times[k])
		}
	}
}

// A clip cut in a phone's editor keeps the pictures before the cut in the
// file and hides them by an edit list.
func TestEditList(t *testing.T) {
	for _, bf := range []string{"0", "3"} {
		whole := makeClip(t, "whole.mp4", 30, 60, "-c:v", "libx264", "-bf", bf, "-g", "30", "-keyint_min", "30", "-sc_threshold", "0")
		cut := t.TempDir() + "/cut.mp4"
		ffmpeg(t, "-ss", "0.5", "-i", whole, "-c", "copy", cut)
		info := probe(t, cut)
		s, err := read(t, info, Options{})
		if err != nil {
			t.Fatal(err)
		}
		s.wantNumbers(t, info, 15, 45)
		wantTimes(t, info.Times, func(k int) float64 { return float64(k) / 30 }, 1e-9)
	}
}

// A file whose clock does not begin at 0.
func TestLateStart(t *testing.T) {
	for _, name := range []string{"late.mp4", "late.mkv", "late.ts"} {
		early := makeClip(t, "early.mp4", 30, 30, "-c:v", "libx264", "-bf", "2")
		late := t.TempDir() + "/" + name
		ffmpeg(t, "-itsoffset", "7.3", "-i", early, "-c", "copy", "-copyts", late)
		info := probe(t, late)
		for _, o := range []Options{{}, {Start: 0.5}} {
			s, err := read(t, info, o)
			if err != nil {
				t.Fatal(name, err)
			}
			first := int(math.Round(o.Start * 30))
			for k := range s.index {
				if s.index[k] != first+k || s.number[k] != first+k {
					t.Fatalf("%s: picture %d has index %d, shows %d", name, k, s.index[k], s.number[k])
				}
			}
			if len(s.index) != 30-first {
				t.Errorf("%s: %d pictures", name, len(s.index))
			}
		}
		wantTimes(t, info.Times, func(k int) float64 { return float64(k) / 30 }, 1e-4)
		if info.StartS < 7 && name != "late.mp4" { // mp4 says so by an edit list
			t.Errorf("%s starts at %v", name, info.StartS)
		}
	}
}

// All eight ways to show a picture, against ffmpeg's own turning.
func TestTurn(t *testing.T) {
	for _, c := range []struct {
		a, b, c, d int32
		degrees    int
		mirror     bool
	}{
		{1, 0, 0, 1, 0, false},
		{0, 1, -1, 0, 90, false},
		{-1, 0, 0, -1, 180, false},
		{0, -1, 1, 0, 270, false},
		{-1, 0, 0, 1, 0, true},
		{0, -1, -1, 0, 90, true},
		{1, 0, 0, -1, 180, true},
		{0, 1, 1, 0, 270, true},
	} {
		t.Run(fmt.Sprintf("%d,%v", c.degrees, c.mirror), func(t *testing.T) {
			t.Parallel()
			path := makeClip(t, "turn.mp4", 30, 3, "-c:v", "libx264", "-qp", "0", "-pix_fmt", "yuv420p")
			setMatrix(t, path, c.a, c.b, c.c, c.d)
			info := probe(t, path)
			if info.RotationDeg != c.degrees || info.Mirrored != c.mirror {
				t.Fatalf("turned by %d, mirrored %v", info.RotationDeg, info.Mirrored)
			}
			r, err := Open(context.Background(), Tools{}, info, Options{})
			if err != nil {
				t.Fatal(err)
			}
			defer r.Close()
			f, err := r.Next()
			if err != nil {
				t.Fatal(err)
			}
			if f.Width != info.Width || f.Height != info.Height {
				t.Errorf("%d × %d delivered, %d × %d announced", f.Width, f.Height, info.Width, info.Height)
			}
			// A stored point (x, y) from the centre is shown at (a·x + c·y, b·x + d·y).
			stored := []struct {
				x, y float64
				luma byte
			}{{-40, -40, 200}, {40, -40, 60}, {-40, 20, 30}, {40, 20, 30}}
			for _, p := range stored {
				x := float64(c.a)*p.x + float64(c.c)*p.y + float64(f.Width)/2
				y := float64(c.b)*p.x + float64(c.d)*p.y + float64(f.Height)/2
				if got := f.Y[f.YStride*int(y)+int(x)]; got != p.luma {
					t.Errorf("stored (%v, %v): luma %d at (%v, %v), want %d", p.x, p.y, got, x, y, p.luma)
				}
			}
			// General reference: ffmpeg's own -autorotate.
			want, err := exec.Command("ffmpeg", "-v", "error", "-nostdin", "-i", path, "-frames:v", "1", "-f", "rawvideo", "-pix_fmt", "yuv420p", "-").Output()
			if err != nil {
				t.Fatal(err)
			}
			if got := bytes.Join([][]byte{f.Y, f.Cb, f.Cr}, nil); !bytes.Equal(got, want) {
				t.Error("the picture is not the one that ffmpeg turns by itself")
			}
		})
	}
}

func TestShownSize(t *testing.T) {
	for _, c := range []struct {
		name         string
		w, h         int
		args         []string
		maxSide      int
		shownW       int
		shownH       int
		gotW, gotH   int
		scale        float64
		codecMayPad  bool
		rotateClocks bool
	}{
		{name: "odd.mkv", w: 131, h: 97, args: []string{"-c:v", "libx264", "-pix_fmt", "yuv444p"}, shownW: 131, shownH: 97, gotW: 131, gotH: 97, scale: 1},
		{name: "odd.avi", w: 131, h: 97, args: []string{"-c:v", "mjpeg", "-pix_fmt", "yuvj444p"}, shownW: 131, shownH: 97, gotW: 131, gotH: 97, scale: 1},
		{name: "wide-pixels.mp4", w: 128, h: 96, args: []string{"-vf", "setsar=4/3", "-c:v", "libx264"}, shownW: 171, shownH: 96, gotW: 171, gotH: 96, scale: 1},
		{name: "narrow-pixels.mp4", w: 128, h: 96, args: []string{"-vf", "setsar=1/2", "-c:v", "libx264"}, shownW: 64, shownH: 96, gotW: 64, gotH: 96, scale: 1},
		{name: "wide-turned.mp4", w: 128, h: 96, args: []string{"-vf", "setsar=4/3", "-c:v", "libx264"}, shownW: 96, shownH: 171, gotW: 96, gotH: 171, scale: 1, rotateClocks: true},
		{name: "smaller.mp4", w: 640, h: 360, args: []string{"-c:v", "libx264"}, maxSide: 320, shownW: 640, shownH: 360, gotW: 320, gotH: 180, scale: 2},
		{name: "not-larger.mp4", w: 128, h: 96, args: []string{"-c:v", "libx264"}, maxSide: 320, shownW: 128, shownH: 96, gotW: 128, gotH: 96, scale: 1},
		{name: "smaller-turned.mp4", w: 640, h: 360, args: []string{"-c:v", "libx264"}, maxSide: 160, shownW: 360, shownH: 640, gotW: 90, gotH: 160, scale: 4, rotateClocks: true},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			path := makeSized(t, c.name, c.w, c.h, 30, 5, c.args...)
			if c.rotateClocks {
				setMatrix(t, path, 0, 1, -1, 0)
			}
			info := probe(t, path)
			if info.Width != c.shownW || info.Height != c.shownH {
				t.Errorf("shown as %d × %d", info.Width, info.Height)
			}
			r, err := Open(context.Background(), Tools{}, info, Options{MaxSide: c.maxSide})
			if err != nil {
				t.Fatal(err)
			}
			defer r.Close()
			f, err := r.Next()
			if err != nil {
				t.Fatal(err)
			}
			if f.Width != c.gotW || f.Height != c.gotH || f.Scale != c.scale {
				t.Errorf("delivered %d × %d at %v", f.Width, f.Height, f.Scale)
			}
			if len(f.Y) != f.Width*f.Height || len(f.Cb) != (f.Width+1)/2*((f.Height+1)/2) || len(f.Cr) != len(f.Cb) {
				t.Errorf("planes of %d, %d, %d bytes", len(f.Y), len(f.Cb), len(f.Cr))
			}
			pictures, err := Pick(context.Background(), Tools{}, info, []float64{0})
			if err != nil {
				t.Fatal(err)
			}
			if b := pictures[0].Bounds(); b.Dx() != c.shownW || b.Dy() != c.shownH {
				t.Errorf("picked picture is %v", b)
			}
		})
	}
}

// delivered keeps the two axes at one scale.
func TestDelivered(t *testing.T) {
	for _, size := range [][2]int{{1920, 1080}, {1080, 1920}, {3840, 2160}, {1279, 717}, {4000, 3000}, {2336, 1080}} {
		for _, side := range []int{0, 64, 320, 641, 960, 1280} {
			w, h, scale := delivered(size[0], size[1], side)
			if side > 0 && max(w, h) > side {
				t.Errorf("%v at %d: %d × %d", size, side, w, h)
			}
			if side == 0 && (w != size[0] || h != size[1]) {
				t.Errorf("%v at 0: %d × %d", size, w, h)
			}
			if dx, dy := math.Abs(scale*float64(w)-float64(size[0])), math.Abs(scale*float64(h)-float64(size[1])); dx > scale/2+1e-9 || dy > scale/2+1e-9 {
				t.Errorf("%v at %d: %d × %d times %v is off by %v, %v", size, side, w, h, scale, dx, dy)
			}
		}
	}
}

// Phones of one system write the rate of the camera into slow-motion files.
func TestCaptureRate(t *testing.T) {
	path := makeClip(t, "slow.mp4", 30, 30, "-c:v", "libx264", "-movflags", "use_metadata_tags", "-metadata", "com.android.capture.fps=240.000000")
	if got := probe(t, path).CaptureRateHz; got != 240 {
		t.Errorf("capture rate %v", got)
	}
	for _, text := range []string{"", "NaN", "-3", "1e99", "24o", "0"} {
		if got := captureRate(tags{"com.android.capture.fps": text}); got != 0 {
			t.Errorf("%q gives %v", text, got)
		}
	}
}

func TestInterlaced(t *testing.T) {
	for want, args := range map[bool][]string{
		false: {"-c:v", "libx264"},
		true:  {"-c:v", "libx264", "-flags", "+ildct+ilme", "-x264-params", "tff=1"},
	} {
		info := probe(t, makeClip(t, "a.ts", 30, 30, args...))
		if info.Interlaced != want {
			t.Errorf("interlaced is %v, want %v", info.Interlaced, want)
		}
		s, err := read(t, info, Options{})
		if err != nil {
			t.Fatal(err)
		}
		s.wantNumbers(t, info, 0, 30)
	}
}

func TestSelection(t *testing.T) {
	for _, c := range []struct {
		file string
		args []string
	}{
		{"a.mp4", []string{"-c:v", "libx264", "-bf", "3", "-g", "25"}},
		{"a.avi", []string{"-c:v", "libx264", "-bf", "2", "-g", "25"}},
		{"a.webm", []string{"-c:v", "libvpx-vp9", "-deadline", "realtime", "-g", "25"}},
		{"a.ts", []string{"-c:v", "libx264", "-bf", "2", "-g", "25"}},
		{"live.webm", []string{"-c:v", "libvpx-vp9", "-deadline", "realtime", "-g", "25", "-live", "1"}},
		{"fragments.mp4", []string{"-c:v", "libx264", "-bf", "2", "-g", "25", "-movflags", "+frag_keyframe+empty_moov"}},
		{"a.mjpeg.avi", []string{"-c:v", "mjpeg"}},
	} {
		t.Run(c.file, func(t *testing.T) {
			t.Parallel()
			info := probe(t, makeClip(t, c.file, 50, 100, c.args...))
			for _, o := range []Options{
				{Start: 0.7}, {Start: 0.5, End: 0.8}, {End: 0.3}, {Start: 1.98}, {Every: 3}, {Start: 0.61, End: 1.5, Every: 4}, {Start: 0.5, End: 0.5, Threads: 1},
			} {
				s, err := read(t, info, o)
				if err != nil {
					t.Fatalf("%+v: %v", o, err)
				}
				want := selection(info.Times, o)
				if len(s.index) != len(want) {
					t.Fatalf("%+v: %d pictures, want %d", o, len(s.index), len(want))
				}
				for i, k := range want {
					if s.index[i] != k || s.number[i] != k || s.times[i] != info.Times[k] {
						t.Fatalf("%+v: picture %d has index %d and shows %d, want %d", o, i, s.index[i], s.number[i], k)
					}
				}
			}
			if _, err := Open(context.Background(), Tools{}, info, Options{Start: 5}); err == nil {
				t.Error("nothing refused beyond the end")
			}
		})
	}
}

func TestPick(t *testing.T) {
	for _, c := range []struct {
		file string
		args []string
	}{
		{"a.mp4", []string{"-c:v", "libx264", "-bf", "3", "-g", "25"}},
		{"a.avi", []string{"-c:v", "libx264", "-bf", "2", "-g", "25"}},
		{"a.webm", []string{"-c:v", "libvpx-vp9", "-deadline", "realtime", "-g", "25"}},
		{"a.mkv", []string{"-c:v", "mjpeg", "-q:v", "2"}},
		{"a.ts", []string{"-c:v", "libx264", "-bf", "2", "-g", "25"}},
		{"live.webm", []string{"-c:v", "libvpx-vp9", "-deadline", "realtime", "-g", "25", "-live", "1"}},
		{"fragments.mp4", []string{"-c:v", "libx264", "-bf", "2", "-g", "25", "-movflags", "+frag_keyframe+empty_moov"}},
	} {
		t.Run(c.file, func(t *testing.T) {
			t.Parallel()
			info := probe(t, makeClip(t, c.file, 50, 150, c.args...))
			want := []int{77, 3, 149, 0, 80, 77, 120}
			times := make([]float64, len(want))
			for i, k := range want {
				times[i] = float64(k)/50 + 0.004
			}
			pictures, err := Pick(context.Background(), Tools{}, info, times)
			if err != nil {
				t.Fatal(err)
			}
			for i, img := range pictures {
				got := 0
				for bit := range 8 {
					if r, _, _, _ := img.At((2*bit+1)*testW/16, testH*5/8).RGBA(); r > 0x8000 {
						got |= 1 << bit
					}
				}
				if got != want[i] {
					t.Errorf("at %v s: number %d, want %d", times[i], got, want[i])
				}
			}
			if pictures[0] != pictures[5] {
				t.Error("one picture was made twice")
			}
			for _, outside := range []float64{-1, 99, math.NaN()} {
				if _, err := Pick(context.Background(), Tools{}, info, []float64{outside}); err == nil {
					t.Errorf("a picture at %v s", outside)
				}
			}
		})
	}
}
