package measure

import (
	"compress/gzip"
	"encoding/csv"
	"io"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"testing"

	"plumbstride/internal/body"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/track"
)

func sharedData(t testing.TB, name string) string {
	dir := filepath.Join("..", "..", "..", "shared", "data", name)
	if _, err := os.Stat(dir); err != nil {
		t.Skipf("open data %q is not beside the repository: this check is left out", name)
	}
	return dir
}

// truthTrack makes a track of a rendered clip's exact joints in pixels.
func truthTrack(t testing.TB, path string, rate float64) form.Track {
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(z)
	tr := form.Track{Width: 960, Height: 540, RateHz: rate}
	if _, err := r.Read(); err != nil {
		t.Fatal(err)
	}
	for {
		row, err := r.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		i, _ := strconv.Atoi(row[0])
		for len(tr.Frames) <= i {
			tr.Frames = append(tr.Frames, form.Frame{Time: float64(len(tr.Frames)) / rate})
		}
		x, _ := strconv.ParseFloat(row[3], 64)
		y, _ := strconv.ParseFloat(row[4], 64)
		spot := form.Spot{X: x, Y: y, Confidence: 1}
		side, name, two := strings.Cut(row[2], "_")
		if !two {
			if row[2] == "nose" {
				tr.Frames[i].Spots[0] = spot
			}
			continue
		}
		s, err1 := form.ParseSide(side)
		p, err2 := form.ParsePoint(name)
		if err1 == nil && err2 == nil {
			tr.Frames[i].Spots[form.At(p, s)] = spot
		}
	}
	return tr
}

type truthRow struct {
	name, side, unit string
	value            float64
}

// renderedTruth reads truth.csv: by clip its height and rows.
func renderedTruth(t testing.TB) (heights map[string]float64, rows map[string][]truthRow, clips []string) {
	f, err := os.Open(filepath.Join(sharedData(t, "rendered-clips"), "truth.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	heights, rows = map[string]float64{}, map[string][]truthRow{}
	for _, r := range all[1:] {
		h, _ := strconv.ParseFloat(r[1], 64)
		v, _ := strconv.ParseFloat(r[6], 64)
		if _, ok := rows[r[0]]; !ok {
			clips = append(clips, r[0])
		}
		heights[r[0]] = h
		rows[r[0]] = append(rows[r[0]], truthRow{r[3], r[4], r[5], v})
	}
	sort.Strings(clips)
	return heights, rows, clips
}

func TestExactJointsOfRenderedClips(t *testing.T) {
	heights, rows, clips := renderedTruth(t)
	dir := sharedData(t, "rendered-clips")
	for _, clip := range clips {
		t.Run(clip, func(t *testing.T) {
			parts := strings.Split(clip, "_")
			rate, err := strconv.ParseFloat(parts[len(parts)-1], 64)
			if err != nil {
				t.Skip("standing clip")
			}
			tr := truthTrack(t, filepath.Join(dir, clip+".truth.csv.gz"), rate)
			g, err := gait.Analyse(track.Smooth(tr), gait.Facts{HeightM: heights[clip]})
			if err != nil {
				t.Logf("%v", err)
				return
			}
			got, refused := All(g, Who{HeightM: heights[clip], Sex: body.NotStated})
			t.Logf("roll %.2f yaw %.1f scale %.5f %s refused %v", g.Plane.RollDeg, g.Plane.YawDeg, g.Plane.MPerPx, g.Setting, refused)
			for _, want := range rows[clip] {
				for _, m := range got {
					if m.Name == want.name && m.Side.String() == want.side && m.Unit == want.unit {
						t.Logf("%-22s %-5s %7.2f truth %7.2f  diff %+6.2f  sd %.2f", m.Name, m.Side, m.Value, want.value, m.Value-want.value, m.SD)
					}
				}
			}
		})
	}
}
