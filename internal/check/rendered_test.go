package check

import (
	"context"
	"encoding/csv"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"sync"
	"testing"
	"time"

	"plumbstride/internal/clip"
	"plumbstride/internal/infer"
	"plumbstride/internal/pose"
	"plumbstride/internal/supply"
)

// packaged opens the networks of this machine; sessions share weights.
type packaged struct {
	library *infer.Library
	kit     supply.Kit
	mu      sync.Mutex
	first   map[string]*infer.Session
}

func (n *packaged) Open(name string) (pose.Session, error) {
	n.mu.Lock()
	defer n.mu.Unlock()
	if s := n.first[name]; s != nil {
		return s.Share()
	}
	s, err := n.library.Open(n.kit.Models[name], 1)
	if err != nil {
		return nil, err
	}
	n.first[name] = s
	return s.Share()
}

var machine = sync.OnceValues(func() (*packaged, error) {
	kit, err := supply.Find(os.Getenv)
	if err != nil {
		return nil, err
	}
	library, err := infer.Load(kit.Runtime)
	if err != nil {
		return nil, err
	}
	return &packaged{library: library, kit: kit, first: map[string]*infer.Session{}}, nil
})

// realDeps is what a check needs, from this machine. In CI the networks are
// always set up; elsewhere the test says what is missing.
func realDeps(t testing.TB) Deps {
	n, err := machine()
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal(err)
		}
		t.Skipf("the networks are not set up here: %v", err)
	}
	return Deps{
		Tools: clip.Tools{FFmpeg: n.kit.FFmpeg, FFprobe: n.kit.FFprobe}, Networks: n, Hash: n.kit.Hash,
		Program: "plumbstride test", Now: func() time.Time { return time.Unix(0, 0).UTC() },
	}
}

func sharedData(t testing.TB, name string) string {
	dir := filepath.Join("..", "..", "..", "shared", "data", name)
	if _, err := os.Stat(dir); err != nil {
		t.Skipf("open data %q is not beside the repository: this check is left out", name)
	}
	return dir
}

type truthRow struct {
	name, side, unit string
	value            float64
}

// renderedTruth reads the truth of the rendered clips.
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

func TestRenderedClips(t *testing.T) {
	heights, rows, clips := renderedTruth(t)
	deps := realDeps(t)
	for _, name := range clips {
		t.Run(name, func(t *testing.T) {
			start := time.Now()
			out, err := Clip(context.Background(), deps, filepath.Join(sharedData(t, "rendered-clips"), name+".mp4"),
				Ask{HeightM: heights[name], Network: os.Getenv("NET")})
			if err != nil {
				t.Logf("%v", err)
				return
			}
			c := out.Card.Clip
			t.Logf("%.1f s; %s facing %s roll %.2f yaw %.1f m/px %.5f speed %.2f dist %.1f; refused %v", time.Since(start).Seconds(), c.Setting, c.Facing, c.RollDeg, c.YawDeg, c.MPerPx, c.SpeedMS, out.Gait.Plane.DistanceM, out.Card.Refused)
			for _, want := range rows[name] {
				for _, m := range out.Card.Measures {
					if m.Name == want.name && m.Side.String() == want.side && m.Unit == want.unit {
						t.Logf("%-22s %-5s %7.2f truth %7.2f  diff %+6.2f  sd %.2f", m.Name, m.Side, m.Value, want.value, m.Value-want.value, m.SD)
					}
				}
			}
		})
	}
}
