// Package testkit takes what a machine has beside the repository and gives it
// to tests: the open data, and one way to say that something is missing. The
// program itself never imports it.
package testkit

import (
	"compress/gzip"
	"encoding/csv"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"testing"
)

// Lacks says that something a test needs is not on this machine: the test is
// left out, or fails where everything must run (CI, PLUMBSTRIDE_TEST_ALL).
func Lacks(tb testing.TB, format string, args ...any) {
	tb.Helper()
	if os.Getenv("CI") != "" || os.Getenv("PLUMBSTRIDE_TEST_ALL") != "" {
		tb.Fatalf(format, args...)
	}
	tb.Skipf(format, args...)
}

// OpenData gives a folder of the open data beside the repository
// (../shared/data/NAME). Where it is not there the test is left out, in CI
// too: the data are no part of the project.
func OpenData(tb testing.TB, name string) string {
	tb.Helper()
	dir, err := filepath.Abs(filepath.Join("..", "..")) // tests run in internal/NAME
	if err != nil {
		tb.Fatal(err)
	}
	folder := filepath.Join(dir, "..", "shared", "data", name)
	if _, err := os.Stat(folder); err != nil {
		tb.Skipf("open data %q is not beside the repository: this check is left out", name)
	}
	return folder
}

// Truth is one row of the rendered clips' truth: a measure's name, side and
// unit as measures.md defines them, and its exact value.
type Truth struct {
	Name, Side, Unit string
	Value            float64
}

// RenderedClip is one rendered clip: its name, the figure's height in metres
// and what is true of it.
type RenderedClip struct {
	Name    string
	HeightM float64
	Truth   []Truth
}

// RenderedClips lists the rendered clips with their truth, by name.
func RenderedClips(tb testing.TB) []RenderedClip {
	tb.Helper()
	f, err := os.Open(filepath.Join(OpenData(tb, "rendered-clips"), "truth.csv"))
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		tb.Fatal(err)
	}
	place := map[string]int{}
	var clips []RenderedClip
	for _, r := range rows[1:] {
		height, err1 := strconv.ParseFloat(r[1], 64)
		value, err2 := strconv.ParseFloat(r[6], 64)
		if err1 != nil || err2 != nil {
			tb.Fatalf("truth.csv: row %q", r)
		}
		i, ok := place[r[0]]
		if !ok {
			i = len(clips)
			place[r[0]] = i
			clips = append(clips, RenderedClip{Name: r[0], HeightM: height})
		}
		clips[i].Truth = append(clips[i].Truth, Truth{r[3], r[4], r[5], value})
	}
	sort.Slice(clips, func(i, j int) bool { return clips[i].Name < clips[j].Name })
	return clips
}

// RenderedFrame is one frame of a rendered clip: its joints (left_knee, …) in
// pixels, and in metres to the right, up and to the camera.
type RenderedFrame struct {
	TimeS float64
	Px    map[string][2]float64
	M     map[string][3]float64
}

// RenderedJoints reads the exact joints of a rendered clip of a folder, frame by
// frame.
func RenderedJoints(tb testing.TB, dir, name string) []RenderedFrame {
	tb.Helper()
	f, err := os.Open(filepath.Join(dir, name+".truth.csv.gz"))
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		tb.Fatal(err)
	}
	rows, err := csv.NewReader(z).ReadAll()
	if err != nil {
		tb.Fatal(err)
	}
	var out []RenderedFrame
	last := ""
	for _, row := range rows[1:] { // frame, time_s, joint, x_px, y_px, X_m, Y_m, Z_m
		var v [8]float64
		for _, i := range []int{1, 3, 4, 5, 6, 7} {
			if v[i], err = strconv.ParseFloat(row[i], 64); err != nil {
				tb.Fatal(err)
			}
		}
		if row[0] != last {
			out = append(out, RenderedFrame{v[1], map[string][2]float64{}, map[string][3]float64{}})
			last = row[0]
		}
		frame := out[len(out)-1]
		frame.Px[row[2]], frame.M[row[2]] = [2]float64{v[3], v[4]}, [3]float64{v[5], v[6], v[7]}
	}
	return out
}

// WriteStudy writes a file of docs/studies.
func WriteStudy(tb testing.TB, name, text string) {
	tb.Helper()
	dir := filepath.Join("..", "..", "docs", "studies") // tests run in internal/NAME
	if err := os.MkdirAll(dir, 0o755); err != nil {
		tb.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
		tb.Fatal(err)
	}
}
