package measure

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"plumbstride/internal/body"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/testkit"
	"plumbstride/internal/track"
)

// truthTrack makes a track of a rendered clip's exact joints in pixels.
func truthTrack(t testing.TB, dir, clip string, rate float64) form.Track {
	var scene struct{ Width, Height int }
	text, err := os.ReadFile(filepath.Join(dir, clip+".truth.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &scene); err != nil {
		t.Fatal(err)
	}
	tr := form.Track{Width: scene.Width, Height: scene.Height, RateHz: rate}
	for i, frame := range testkit.RenderedJoints(t, dir, clip) {
		tr.Frames = append(tr.Frames, form.Frame{Time: float64(i) / rate})
		for joint, px := range frame.Px {
			spot := form.Spot{X: px[0], Y: px[1], Confidence: 1}
			side, name, two := strings.Cut(joint, "_")
			if !two {
				if joint == "nose" {
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
	}
	return tr
}

// exact is how near the truth each measure must come from the exact joints,
// which leaves the geometry, the events and their definitions: contact is
// good to 15 ms there (its README), the leg's length to 1 % of the height.
var exact = map[string]float64{
	"cadence": 0.5, "knee_flexion_contact": 3, "trunk_lean": 1, "landing_distance": 4.5,
	"vertical_oscillation": 1, "contact_time": 35, "speed": 0.2,
}

func TestExactJointsOfRenderedClips(t *testing.T) {
	dir := testkit.OpenData(t, "rendered-clips")
	for _, clip := range testkit.RenderedClips(t) {
		parts := strings.Split(clip.Name, "_")
		rate, err := strconv.ParseFloat(parts[len(parts)-1], 64)
		if err != nil || parts[0] == "walk" {
			continue // nobody runs in it
		}
		t.Run(clip.Name, func(t *testing.T) {
			tr := truthTrack(t, dir, clip.Name, rate)
			level := gait.Level{SD: 0.2, Known: true}
			if strings.Contains(clip.Name, "roll3") {
				level.Deg = 3
			}
			g, err := gait.Analyse(track.Smooth(tr), gait.Facts{HeightM: clip.HeightM, Level: level})
			if err != nil {
				t.Fatal(err)
			}
			got, refused := All(g, Who{HeightM: clip.HeightM, Sex: body.NotStated})
			t.Logf("yaw %.1f, %.5f m/px, %s, refused %v", g.Plane.YawDeg, g.Plane.MPerPx, g.Setting, refused)
			for _, want := range clip.Truth {
				for _, m := range got {
					if m.Name != want.Name || m.Side.String() != want.Side || m.Unit != want.Unit {
						continue
					}
					diff := m.Value - want.Value
					t.Logf("%-22s %-5s %7.2f truth %7.2f  diff %+6.2f  sd %.2f", m.Name, m.Side, m.Value, want.Value, diff, m.SD)
					if limit, ok := exact[m.Name]; ok && math.Abs(diff) > limit {
						t.Errorf("%s %s: off by %.2f %s, more than %g", m.Name, m.Side, diff, m.Unit, limit)
					}
				}
			}
		})
	}
}
