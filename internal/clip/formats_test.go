package clip

import (
	"math"
	"testing"
)

// Each picture of each kind of file must come out once, in order, at its
// time: the number painted into it is its index, its time is index ÷ rate.
func TestEveryFrameAtItsTime(t *testing.T) {
	const n, rate = 45, 30
	x264 := []string{"-c:v", "libx264", "-preset", "veryfast", "-g", "20"}
	with := func(base []string, more ...string) []string { return append(append([]string{}, base...), more...) }
	for _, c := range []struct {
		file, codec, container string
		args                   []string
	}{
		{"plain.mp4", "h264", "mp4", with(x264, "-bf", "0")},
		{"b-frames.mp4", "h264", "mp4", with(x264, "-bf", "3", "-b_strategy", "0")},
		{"open-gop.mp4", "h264", "mp4", with(x264, "-bf", "3", "-x264-params", "open-gop=1")},
		{"faststart.mp4", "h264", "mp4", with(x264, "-movflags", "+faststart")},
		{"fragmented.mp4", "h264", "mp4", with(x264, "-bf", "2", "-movflags", "+frag_keyframe+empty_moov")},
		{"high10.mp4", "h264", "mp4", with(x264, "-pix_fmt", "yuv420p10le")},
		{"full444.mp4", "h264", "mp4", with(x264, "-vf", "scale=out_range=pc,format=yuvj444p", "-color_range", "pc")},
		{"b-frames.mov", "h264", "mov", with(x264, "-bf", "2")},
		{"b-frames.mkv", "h264", "mkv", with(x264, "-bf", "2")},
		{"b-frames.avi", "h264", "avi", with(x264, "-bf", "2")},
		{"b-frames.ts", "h264", "mpeg-ts", with(x264, "-bf", "2", "-f", "mpegts")},
		{"b-frames.m2ts", "h264", "mpeg-ts", with(x264, "-bf", "2", "-f", "mpegts", "-mpegts_m2ts_mode", "1")},
		{"hevc.mp4", "hevc", "mp4", []string{"-c:v", "libx265", "-preset", "ultrafast", "-x265-params", "log-level=error", "-tag:v", "hvc1"}},
		{"hevc.mkv", "hevc", "mkv", []string{"-c:v", "libx265", "-preset", "fast", "-x265-params", "log-level=error:bframes=4"}},
		{"hevc10.mov", "hevc", "mov", []string{"-c:v", "libx265", "-preset", "ultrafast", "-x265-params", "log-level=error", "-pix_fmt", "yuv420p10le"}},
		{"vp9.webm", "vp9", "webm", []string{"-c:v", "libvpx-vp9", "-deadline", "realtime", "-cpu-used", "8"}},
		{"vp9-hidden.webm", "vp9", "webm", []string{"-c:v", "libvpx-vp9", "-cpu-used", "4", "-lag-in-frames", "16", "-auto-alt-ref", "1"}},
		{"vp9.mp4", "vp9", "mp4", []string{"-c:v", "libvpx-vp9", "-cpu-used", "4", "-lag-in-frames", "16", "-auto-alt-ref", "1"}},
		{"vp8-hidden.webm", "vp8", "webm", []string{"-c:v", "libvpx", "-lag-in-frames", "16", "-auto-alt-ref", "1", "-arnr-maxframes", "7", "-b:v", "500k"}},
		{"av1.mp4", "av1", "mp4", []string{"-c:v", "libsvtav1", "-preset", "12"}},
		{"mjpeg.avi", "mjpeg", "avi", []string{"-c:v", "mjpeg", "-q:v", "3"}},
		{"mjpeg.mov", "mjpeg", "mov", []string{"-c:v", "mjpeg", "-q:v", "3"}},
		{"mjpeg.mkv", "mjpeg", "mkv", []string{"-c:v", "mjpeg", "-q:v", "3"}},
		{"mpeg4.avi", "mpeg4", "avi", []string{"-c:v", "mpeg4", "-bf", "2", "-q:v", "3"}},
		{"mpeg4.mp4", "mpeg4", "mp4", []string{"-c:v", "mpeg4", "-bf", "2", "-q:v", "3"}},
		{"prores.mov", "prores", "mov", []string{"-c:v", "prores_ks"}},
		{"rgb.mov", "png", "mov", []string{"-c:v", "png"}},
	} {
		t.Run(c.file, func(t *testing.T) {
			t.Parallel()
			info := probe(t, makeClip(t, c.file, rate, n, c.args...))
			if info.Codec != c.codec || info.Container != c.container || info.Width != testW || info.Height != testH {
				t.Errorf("found %s in %s, %d × %d", info.Codec, info.Container, info.Width, info.Height)
			}
			s, err := read(t, info, Options{})
			if err != nil {
				t.Fatal(err)
			}
			s.wantNumbers(t, info, 0, n)
			wantTimes(t, info.Times, func(k int) float64 { return float64(k) / rate }, 1e-4)
			if math.Abs(info.RateHz-rate) > 0.01 || info.Variable || info.Still || info.CutShort {
				t.Errorf("rate %v, variable %v, still %v, cut short %v", info.RateHz, info.Variable, info.Still, info.CutShort)
			}
			if math.Abs(info.DurationS()-float64(n)/rate) > 1e-4 {
				t.Errorf("duration %v", info.DurationS())
			}
		})
	}
}
