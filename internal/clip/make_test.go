package clip

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// The test clips are made here with ffmpeg's own sources: 128 × 96 pixels, the
// lower part eight upright bars that spell the frame number in binary (the
// lowest bit leftmost, a white bar for 1), the upper quarter bright on the
// left and dark on the right, so that every turn and mirroring can be told.
const (
	testW, testH = 128, 96
	numbered     = `geq=lum='if(lt(Y\,H/4)\,if(lt(X\,W/2)\,200\,60)\,if(mod(floor(N/pow(2\,floor(8*X/W)))\,2)\,220\,30))':cb=128:cr=128`
)

// ffmpeg runs the real program to make a file.
func ffmpeg(t testing.TB, args ...string) {
	t.Helper()
	cmd := exec.Command("ffmpeg", append([]string{"-hide_banner", "-nostdin", "-v", "error", "-y"}, args...)...)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("ffmpeg %s: %v\n%s", strings.Join(args, " "), err, out)
	}
}

// make writes a numbered clip of n frames at a rate, with more words for
// ffmpeg, and gives its path.
func makeClip(t testing.TB, name string, rate, n int, more ...string) string {
	t.Helper()
	return makeSized(t, name, testW, testH, rate, n, more...)
}

func makeSized(t testing.TB, name string, w, h, rate, n int, more ...string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	args := []string{"-f", "lavfi", "-i", fmt.Sprintf("nullsrc=s=%dx%d:r=%d,format=yuv420p,%s", w, h, rate, numbered), "-frames:v", fmt.Sprint(n)}
	ffmpeg(t, append(append(args, more...), path)...)
	return path
}

// number reads the frame number off an unturned picture.
func number(f *Frame) int {
	n := 0
	for bit := range 8 {
		x := (2*bit + 1) * f.Width / 16
		if f.Y[f.YStride*(f.Height*5/8)+x] > 125 {
			n |= 1 << bit
		}
	}
	return n
}

func probe(t testing.TB, path string) *Info {
	t.Helper()
	info, err := Probe(context.Background(), Tools{}, path, Limits{})
	if err != nil {
		t.Fatalf("%s: %v", filepath.Base(path), err)
	}
	return info
}

// seen is what a Reader gave: index, time and number of each picture.
type seen struct {
	index, number []int
	times         []float64
	read          Read
}

func read(t testing.TB, info *Info, o Options) (seen, error) {
	t.Helper()
	r, err := Open(context.Background(), Tools{}, info, o)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	var s seen
	for {
		f, err := r.Next()
		if err != nil {
			s.read = r.Read()
			if errors.Is(err, io.EOF) {
				err = nil
			}
			return s, err
		}
		s.index = append(s.index, f.Index)
		s.times = append(s.times, f.Time)
		s.number = append(s.number, number(f))
		r.Recycle(f)
	}
}

// wantNumbers checks that picture k is number first + k, in order, and at
// Info.Times[k].
func (s seen) wantNumbers(t testing.TB, info *Info, first, n int) {
	t.Helper()
	if len(s.number) != n || len(info.Times) != n {
		t.Fatalf("%d frames and %d times, want %d", len(s.number), len(info.Times), n)
	}
	for k := range s.number {
		if s.index[k] != k || s.times[k] != info.Times[k] || s.number[k] != (first+k)%256 {
			t.Fatalf("frame %d: index %d, time %v (of %v), shows number %d, want %d", k, s.index[k], s.times[k], info.Times[k], s.number[k], (first+k)%256)
		}
	}
	if s.read.Skipped != 0 || s.read.Frames != n {
		t.Errorf("report %+v", s.read)
	}
}

func wantTimes(t testing.TB, got []float64, want func(k int) float64, tolerance float64) {
	t.Helper()
	for k, v := range got {
		if math.Abs(v-want(k)) > tolerance {
			t.Fatalf("time %d is %v, want %v", k, v, want(k))
		}
	}
}

// setMatrix overwrites the display matrix of an mp4's first track
// (ISO/IEC 14496-12, 8.3.2): a, b, c, d as 16.16 numbers.
func setMatrix(t testing.TB, path string, a, b, c, d int32) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	at := bytes.Index(data, []byte("tkhd"))
	if at < 0 || data[at+4] != 0 {
		t.Fatal("no tkhd box of version 0")
	}
	m := data[at+4+40:] // version and flags, then 36 bytes up to the matrix
	for i, v := range []int32{a << 16, b << 16, 0, c << 16, d << 16, 0} {
		binary.BigEndian.PutUint32(m[4*i:], uint32(v))
	}
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
}
