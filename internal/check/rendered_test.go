package check

import (
	"context"
	"encoding/csv"
	"flag"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"plumbstride/internal/card"
	"plumbstride/internal/clip"
	"plumbstride/internal/form"
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

// within is how near the truth each measure of a rendered clip must come.
// Contact is a definition there, good to 15 ms (its README).
var within = map[string]float64{
	"cadence": 0.7, "knee_flexion_contact": 6, "trunk_lean": 3, "foot_strike_angle": 6,
	"landing_distance": 4, "vertical_oscillation": 1, "contact_time": 25,
}

// The clips were drawn by others, with exact truth beside them
// (rendered-clips: body and motion capture of the CMU database, subject 09).
func TestRenderedClips(t *testing.T) {
	heights, rows, clips := renderedTruth(t)
	deps := realDeps(t)
	for _, name := range clips {
		if strings.HasPrefix(name, "stand_") || strings.HasPrefix(name, "walk_") {
			continue
		}
		t.Run(name, func(t *testing.T) {
			out, err := Clip(context.Background(), deps, filepath.Join(sharedData(t, "rendered-clips"), name+".mp4"),
				Ask{HeightM: heights[name], Network: *network})
			if err != nil {
				t.Fatal(err)
			}
			for _, want := range rows[name] {
				m, ok := find(out.Card.Measures, want)
				limit, judged := within[want.name]
				if !ok {
					if judged {
						t.Errorf("%s %s is missing", want.name, want.side)
					}
					continue
				}
				diff := m.Value - want.value
				t.Logf("%-22s %-5s %7.2f truth %7.2f  diff %+6.2f  sd %.2f", m.Name, m.Side, m.Value, want.value, diff, m.SD)
				if judged && *network == "" && math.Abs(diff) > limit {
					t.Errorf("%s %s: %.2f %s, truth %.2f: off by %.2f, more than %g", m.Name, m.Side, m.Value, m.Unit, want.value, diff, limit)
				}
			}
		})
	}
}

var network = flag.String("network", "", "network of the rendered clips' test; the usual mix if empty")

func find(measures []card.Measure, want truthRow) (card.Measure, bool) {
	for _, m := range measures {
		if m.Name == want.name && m.Side.String() == want.side && m.Unit == want.unit {
			return m, true
		}
	}
	return card.Measure{}, false
}

func TestClipsThatAreNoRun(t *testing.T) {
	deps := realDeps(t)
	dir := sharedData(t, "rendered-clips")
	for name, sentence := range map[string]string{
		"walk_m_c110_60": "walking",
		"empty_60":       "nobody",
		"stand_m_side":   "standing",
		"stand_m_front":  "side-on",
	} {
		_, err := Clip(context.Background(), deps, filepath.Join(dir, name+".mp4"), Ask{HeightM: 1.78})
		if form.CodeOf(err) != form.CodeClip || !strings.Contains(err.Error(), sentence) {
			t.Errorf("%s: %v; want a refusal that says %q", name, err, sentence)
		}
	}
}
