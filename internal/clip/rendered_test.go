package clip

import (
	"context"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// rendered finds the clips with exact truth beside the repository.
func rendered(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			break
		}
		up := filepath.Dir(dir)
		if up == dir {
			t.Fatal("no go.mod above the package")
		}
		dir = up
	}
	folder := filepath.Join(dir, "..", "shared", "data", "rendered-clips")
	if _, err := os.Stat(folder); err != nil {
		t.Skip("the rendered clips are not here: ../shared/data/rendered-clips")
	}
	return folder
}

// readAll gives index and time of each frame, and the error at the end.
func readAll(t testing.TB, r *Reader) (index []int, times []float64, err error) {
	t.Helper()
	for {
		f, err := r.Next()
		if err != nil {
			return index, times, err
		}
		index = append(index, f.Index)
		times = append(times, f.Time)
		r.Recycle(f)
	}
}

// Frame k of a rendered clip is at k/fps by the data's own description.
func TestRenderedClips(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(rendered(t), "*.mp4"))
	if err != nil || len(files) == 0 {
		t.Fatal("no clip", err)
	}
	for _, file := range files {
		base := strings.TrimSuffix(filepath.Base(file), ".mp4")
		t.Run(base, func(t *testing.T) {
			ctx := context.Background()
			info, err := Probe(ctx, Tools{}, file, Limits{})
			if err != nil {
				t.Fatal(err)
			}
			fps, err := strconv.ParseFloat(base[strings.LastIndex(base, "_")+1:], 64)
			if err != nil {
				fps = info.RateHz // a name without a rate
			}
			r, err := Open(ctx, Tools{}, info, Options{MaxSide: 320})
			if err != nil {
				t.Fatal(err)
			}
			defer r.Close()
			index, times, err := readAll(t, r)
			if !errors.Is(err, io.EOF) {
				t.Fatal(err)
			}
			if len(index) != len(info.Times) {
				t.Fatalf("%d frames for %d times", len(index), len(info.Times))
			}
			for k := range index {
				if index[k] != k || math.Abs(times[k]-float64(k)/fps) > 1e-9 {
					t.Fatalf("frame %d has index %d, time %v, want %v", k, index[k], times[k], float64(k)/fps)
				}
			}
		})
	}
}
