package clip

import (
	"context"
	"fmt"
	"math"
	"testing"
)

// toRGB makes R'G'B' (0…255) of the middle of a picture, by the definitions:
// luma coefficients of ITU-R BT.601-7 (2.5.1) and BT.709-6 (3.2), and the
// quantization of both (narrow range) or of full range.
func toRGB(f *Frame) [3]float64 {
	kr, kb := 0.299, 0.114
	if f.BT709 {
		kr, kb = 0.2126, 0.0722
	}
	x, y := f.Width/2, f.Height/2
	luma := float64(f.Y[y*f.YStride+x])
	cb := float64(f.Cb[y/2*f.CStride+x/2]) - 128
	cr := float64(f.Cr[y/2*f.CStride+x/2]) - 128
	if f.Full {
		luma, cb, cr = luma/255, cb/255, cr/255
	} else {
		luma, cb, cr = (luma-16)/219, cb/224, cr/224
	}
	r := luma + 2*(1-kr)*cr
	b := luma + 2*(1-kb)*cb
	g := (luma - kr*r - kb*b) / (1 - kr - kb)
	return [3]float64{255 * r, 255 * g, 255 * b}
}

// A colour that was put in comes out, by both ways of reading.
func TestColours(t *testing.T) {
	colours := []struct {
		name string
		rgb  [3]float64
	}{{"0xC83C28", [3]float64{200, 60, 40}}, {"0x2850B4", [3]float64{40, 80, 180}}, {"0xEBEBEB", [3]float64{235, 235, 235}}}
	for _, c := range []struct {
		file  string
		w, h  int
		full  bool
		bt709 bool
		args  []string
	}{
		{"bt709.mp4", 128, 96, false, true, []string{"-vf", "scale=out_color_matrix=bt709,format=yuv420p", "-c:v", "libx264", "-qp", "1", "-colorspace", "bt709"}},
		{"bt601.mp4", 1280, 720, false, false, []string{"-vf", "scale=out_color_matrix=bt601,format=yuv420p", "-c:v", "libx264", "-qp", "1", "-colorspace", "smpte170m"}},
		{"untold-small.mp4", 128, 96, false, false, []string{"-vf", "scale=out_color_matrix=bt601,format=yuv420p", "-c:v", "libx264", "-qp", "1"}},
		{"untold-large.mp4", 1280, 720, false, true, []string{"-vf", "scale=out_color_matrix=bt709,format=yuv420p", "-c:v", "libx264", "-qp", "1"}},
		{"full.mp4", 128, 96, true, true, []string{"-vf", "scale=out_color_matrix=bt709:out_range=pc,format=yuvj420p", "-c:v", "libx264", "-qp", "1", "-colorspace", "bt709", "-color_range", "pc"}},
		{"jpeg.avi", 128, 96, true, false, []string{"-vf", "scale=out_color_matrix=bt601:out_range=pc,format=yuvj420p", "-c:v", "mjpeg", "-q:v", "1"}},
		{"jpeg422.mov", 128, 96, true, false, []string{"-vf", "scale=out_color_matrix=bt601:out_range=pc,format=yuvj422p", "-c:v", "mjpeg", "-q:v", "1"}},
		{"ten.mp4", 128, 96, false, true, []string{"-vf", "scale=out_color_matrix=bt709,format=yuv420p10le", "-c:v", "libx265", "-x265-params", "log-level=error", "-crf", "5", "-colorspace", "bt709"}},
		{"rgb.mov", 128, 96, false, false, []string{"-vf", "format=rgb24", "-c:v", "png"}},
		{"still.png", 1280, 720, false, true, []string{"-vf", "format=rgb24"}},
		{"still.jpg", 128, 96, true, false, []string{"-vf", "scale=out_color_matrix=bt601:out_range=pc,format=yuvj420p", "-q:v", "1"}},
	} {
		t.Run(c.file, func(t *testing.T) {
			t.Parallel()
			for k, colour := range colours {
				path := t.TempDir() + "/" + c.file
				n := 2
				if c.file == "still.png" || c.file == "still.jpg" {
					n = 1
				}
				ffmpeg(t, append(append([]string{"-f", "lavfi", "-i", fmt.Sprintf("color=c=%s:s=%dx%d,format=rgb24", colour.name, c.w, c.h), "-frames:v", fmt.Sprint(n)}, c.args...), path)...)
				info := probe(t, path)
				sides := []int{0, 64}
				if k > 0 {
					sides = sides[:1]
				}
				for _, side := range sides {
					r, err := Open(context.Background(), Tools{}, info, Options{MaxSide: side})
					if err != nil {
						t.Fatal(err)
					}
					f, err := r.Next()
					if err != nil {
						t.Fatal(err)
					}
					if f.Full != c.full || f.BT709 != c.bt709 {
						t.Errorf("full %v, BT.709 %v", f.Full, f.BT709)
					}
					near(t, fmt.Sprintf("%s at side %d", colour.name, side), toRGB(f), colour.rgb)
					r.Close()
				}
				pictures, err := Pick(context.Background(), Tools{}, info, []float64{0})
				if err != nil {
					t.Fatal(err)
				}
				p := pictures[0].RGBAAt(c.w/2, c.h/2)
				near(t, colour.name+" picked", [3]float64{float64(p.R), float64(p.G), float64(p.B)}, colour.rgb)
				if p.A != 255 {
					t.Error("not opaque")
				}
			}
		})
	}
}

// near allows four steps of 255: quantization of luma and chroma, and the codec's loss.
func near(t *testing.T, what string, got, want [3]float64) {
	t.Helper()
	for i := range got {
		if math.Abs(got[i]-want[i]) > 4 {
			t.Errorf("%s: %.1f, want %v", what, got, want)
			return
		}
	}
}

// The reference white of 203 cd/m² is the PQ signal 0.58 (ITU-R BT.2408,
// table 1); it must come out nearly white, a tenth of its light (signal 0.36,
// from memory of the PQ curve: 20 cd/m²) clearly grey, and black stay black.
func TestPQ(t *testing.T) {
	for _, c := range []struct {
		signal    float64
		low, high byte
	}{{0, 16, 17}, {0.36, 92, 112}, {0.58, 222, 230}, {1, 234, 235}} {
		code := int(math.Round(64 + 876*c.signal))
		path := t.TempDir() + "/pq.mp4"
		ffmpeg(t, "-f", "lavfi", "-i", fmt.Sprintf("nullsrc=s=128x96,format=yuv420p10le,geq=lum=%d:cb=512:cr=512", code), "-frames:v", "2",
			"-c:v", "libx265", "-crf", "1", "-x265-params", "log-level=error:colorprim=bt2020:transfer=smpte2084:colormatrix=bt2020nc", path)
		info := probe(t, path)
		if info.HDR != "pq" {
			t.Fatalf("HDR %q", info.HDR)
		}
		r, err := Open(context.Background(), Tools{}, info, Options{})
		if err != nil {
			t.Fatal(err)
		}
		f, err := r.Next()
		if err != nil {
			t.Fatal(err)
		}
		if got := f.Y[f.YStride*48+64]; got < c.low || got > c.high {
			t.Errorf("signal %v: luma %d, want %d…%d", c.signal, got, c.low, c.high)
		}
		r.Close()
		pictures, err := Pick(context.Background(), Tools{}, info, []float64{0})
		if err != nil {
			t.Fatal(err)
		}
		if p := pictures[0].RGBAAt(64, 48); math.Abs(float64(p.R)-(float64(c.low)+float64(c.high)-32)/2*255/219) > 14 {
			t.Errorf("signal %v: picked %v", c.signal, p)
		}
	}
}
