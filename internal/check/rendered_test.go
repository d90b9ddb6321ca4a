package check

import (
	"context"
	"flag"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"plumbstride/internal/card"
	"plumbstride/internal/clip"
	"plumbstride/internal/form"
	"plumbstride/internal/geom"
	"plumbstride/internal/infer"
	"plumbstride/internal/legs"
	"plumbstride/internal/pose"
	"plumbstride/internal/supply"
	"plumbstride/internal/testkit"
	"plumbstride/internal/track"
)

// packaged opens the networks of this machine.
type packaged struct {
	infer.Networks
	kit supply.Kit
}

func (n *packaged) Open(name string) (pose.Session, error) { return n.Networks.Open(name) }

var machine = sync.OnceValues(func() (*packaged, error) {
	kit, err := supply.Find(os.Getenv)
	return &packaged{infer.Networks{Runtime: kit.Runtime, Files: kit.Models, Models: map[string][]byte{legs.Name: legs.Model()}}, kit}, err
})

// realDeps is what a check needs, from this machine. In CI the networks are
// always set up; elsewhere the test says what is missing.
func realDeps(t testing.TB) Deps {
	n, err := machine()
	if err != nil {
		testkit.Lacks(t, "the networks are not set up here: %v", err)
	}
	return Deps{
		Tools: clip.Tools{FFmpeg: n.kit.FFmpeg, FFprobe: n.kit.FFprobe}, Networks: n, Hash: n.kit.Hash,
		Program: "plumbstride test", Now: func() time.Time { return time.Unix(0, 0).UTC() },
	}
}

// within is how near the truth each measure of a rendered clip must come: what
// is wanted of it (knee 3°, foot strike 3.5°, trunk 1.5°, landing 2 cm, contact
// 15 ms, bounce 0.6 cm), and a tenth for another kind of processor. Their bounce
// seems to be by half strides from the clip's start, and steps are uneven in
// most: by steps it is 0.6 cm less there.
var within = map[string]float64{
	"cadence": 0.7, "knee_flexion_contact": 3.3, "trunk_lean": 1.65, "foot_strike_angle": 3.85,
	"landing_distance": 2.2, "vertical_oscillation": 0.66, "contact_time": 15,
}

// outside are the three that come less near (record 25). Contact is a
// definition in these clips, good to 15 ms (their README), in which the foot
// turns by 7° and goes back 5 cm. The first is 3° off with the exact joints at
// the true time too, since one camera can't see that this foot points inwards; at
// 174 steps a minute contacts are 17 and 19 ms before what the exact joints show
// (go test ./internal/measure -run TrueTimes -v).
var outside = map[string]float64{
	"cmu_m_foot_up18_60 foot_strike_angle left": 4.8,
	"cmu_m_off15_60 foot_strike_angle right":    4.8,
	"cmu_m_c174_120 landing_distance left":      3,
}

// The clips were drawn by others, with exact truth beside them
// (rendered-clips: body and motion capture of the CMU database, subject 09).
func TestRenderedClips(t *testing.T) {
	deps := realDeps(t)
	dir := testkit.OpenData(t, "rendered-clips")
	in, all := map[string]int{}, map[string]int{}
	for _, clip := range testkit.RenderedClips(t) {
		name := clip.Name
		if strings.HasPrefix(name, "stand_") || strings.HasPrefix(name, "walk_") {
			continue
		}
		t.Run(name, func(t *testing.T) {
			out, err := Clip(context.Background(), deps, filepath.Join(dir, name+".mp4"),
				Ask{HeightM: clip.HeightM, Network: *network})
			if err != nil {
				t.Fatal(err)
			}
			keepTrack(t, name, out.Track)
			holdsDeepestKnee(t, dir, name, out.Card.Measures)
			for _, want := range clip.Truth {
				m, ok := find(out.Card.Measures, want)
				limit, judged := within[want.Name]
				if known, less := outside[strings.Join([]string{name, want.Name, want.Side}, " ")]; less {
					limit = known
				}
				if !ok {
					if judged {
						t.Errorf("%s %s is missing", want.Name, want.Side)
					}
					continue
				}
				diff := m.Value - want.Value
				if all[m.Name]++; want.Value >= m.Low && want.Value <= m.High {
					in[m.Name]++
				}
				t.Logf("%-22s %-5s %7.2f truth %7.2f  diff %+6.2f  sd %.2f", m.Name, m.Side, m.Value, want.Value, diff, m.SD)
				if strict, timed := strictly[want.Name]; timed && *network == "" {
					low, high := allowedTruth(t, dir, name, want.Name, m.Side)
					t.Logf("%-22s %-5s %7.2f to %.2f for any contact that the clip allows", m.Name, m.Side, low, high)
					if want.Value < low-0.5 || want.Value > high+0.5 {
						t.Errorf("%s %s: %.2f to %.2f from the exact joints don't hold the clip's own %.2f", want.Name, want.Side, low, high, want.Value)
					}
					if m.Value < low-strict || m.Value > high+strict {
						t.Errorf("%s %s: %.2f %s, truth %.2f to %.2f for any contact that the clip allows: off by more than %g", m.Name, m.Side, m.Value, m.Unit, low, high, strict)
					}
				}
				if judged && *network == "" && math.Abs(diff) > limit {
					t.Errorf("%s %s: %.2f %s, truth %.2f: off by %.2f, more than %g", m.Name, m.Side, m.Value, m.Unit, want.Value, diff, limit)
				}
			}
		})
	}
	t.Logf("true values within their intervals: %v of %v", in, all)
}

// holdsDeepestKnee asks that the intervals of the deepest knee in stance hold
// what the clip's exact joints give, to 1.5°: the leg that the other one
// passes before is the harder to see.
func holdsDeepestKnee(t *testing.T, dir, name string, measures []card.Measure) {
	t.Helper()
	deepest := deepestKnee(t, dir, name)
	for _, m := range measures {
		if m.Name != "knee_flexion_peak" || *network != "" {
			continue
		}
		want := deepest[m.Side.String()]
		t.Logf("%-22s %-5s %7.2f truth %7.2f  diff %+6.2f  sd %.2f", m.Name, m.Side, m.Value, want, m.Value-want, m.SD)
		if !(want > m.Low-1.5 && want < m.High+1.5) {
			t.Errorf("%s %s: %.1f to %.1f, truth %.1f", m.Name, m.Side, m.Low, m.High, want)
		}
	}
}

// deepestKnee is each side's mean deepest knee flexion between contact and
// toe-off in a rendered clip, in the plane of running, degrees.
func deepestKnee(t *testing.T, dir, name string) map[string]float64 {
	t.Helper()
	times := renderedEvents(t, dir, name)
	frames := testkit.RenderedJoints(t, dir, name)
	out := map[string]float64{}
	for _, s := range []form.Side{form.Left, form.Right} {
		side, sum, n := s.String(), 0.0, 0.0
		for _, on := range times[s].On {
			deepest := 0.0
			for _, off := range times[s].Off {
				if off < on || off > on+0.5 {
					continue
				}
				for _, f := range frames {
					if f.TimeS >= on && f.TimeS <= off {
						at := func(joint string) geom.Vec { return geom.Vec{X: f.M[side+joint][0], Y: f.M[side+joint][1]} }
						bend := geom.Flexion(at("_hip"), at("_knee"), at("_ankle"))
						deepest = math.Max(deepest, math.Abs(bend)) // who runs to the left bends to the other side
					}
				}
			}
			if deepest > 0 {
				sum, n = sum+deepest, n+1
			}
		}
		out[side] = sum / n
	}
	return out
}

var tracks = flag.String("tracks", "", "folder in which the rendered clips' tracks are left")

func keepTrack(t *testing.T, name string, points form.Track) {
	if *tracks == "" {
		return
	}
	f, err := os.Create(filepath.Join(*tracks, name+".csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := track.Write(f, points); err != nil {
		t.Fatal(err)
	}
}

var network = flag.String("network", "", "network of the rendered clips' test; the usual mix if empty")

func find(measures []card.Measure, want testkit.Truth) (card.Measure, bool) {
	for _, m := range measures {
		if m.Name == want.Name && m.Side.String() == want.Side && m.Unit == want.Unit {
			return m, true
		}
	}
	return card.Measure{}, false
}

func TestClipsThatAreNoRun(t *testing.T) {
	deps := realDeps(t)
	dir := testkit.OpenData(t, "rendered-clips")
	for name, sentence := range map[string]string{
		"walk_m_c110_60": "walking",
		"empty_60":       "nobody",
	} {
		_, err := Clip(context.Background(), deps, filepath.Join(dir, name+".mp4"), Ask{HeightM: 1.78})
		if form.CodeOf(err) != form.CodeClip || !strings.Contains(err.Error(), sentence) {
			t.Errorf("%s: %v; want a refusal that says %q", name, err, sentence)
		}
	}
}
