package measure

import (
	"encoding/json"
	"flag"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"plumbstride/internal/body"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/signal"
	"plumbstride/internal/testkit"
	"plumbstride/internal/track"
)

var tracks = flag.String("tracks", "", "folder of the rendered clips' tracks by the networks (go test ./internal/check -run RenderedClips -tracks DIR): what their points give at the true times")

// atTrueTimes is how near the truth the measures at contact must come from the
// exact joints, with the true times of contact in place of those found: what is
// left is the geometry (feet that point 3° inwards where 4° outwards are taken for
// granted), the smoothing of a foot that turns by 500°/s, and 1.4° of the foot
// strike since these exact points lie at −1.66° with the foot flat and our
// network's at FlatByLegs.
var atTrueTimes = map[string]float64{"foot_strike_angle": 3.6, "landing_distance": 1.2, "knee_flexion_contact": 0.9}

var contactUnit = map[string]string{"foot_strike_angle": "deg", "landing_distance": "cm", "knee_flexion_contact": "deg"}

// Points and times are two things: how much of an error at contact is whose.
func TestMeasuresAtTrueTimes(t *testing.T) {
	dir := testkit.OpenData(t, "rendered-clips")
	for _, clip := range testkit.RenderedClips(t) {
		parts := strings.Split(clip.Name, "_")
		rate, err := strconv.ParseFloat(parts[len(parts)-1], 64)
		if err != nil || parts[0] == "walk" {
			continue // nobody runs in it
		}
		t.Run(clip.Name, func(t *testing.T) {
			level := gait.Level{SD: 0.2, Known: true}
			if strings.Contains(clip.Name, "roll3") {
				level.Deg = 3
			}
			points := truthTrack(t, dir, clip.Name, rate)
			points.Network = "full+legs"
			measures := measuredAt(t, points, clip.HeightM, level, trueEvents(t, dir, clip.Name))
			for name, limit := range atTrueTimes {
				for _, side := range []form.Side{form.Left, form.Right} {
					// The table takes off what the network's points add; these are no network's.
					diff := offBy(t, measures, clip, name, side) + legged.of(name, contactUnit[name]).offset
					t.Logf("exact joints at the true times: %-21s %-5s off by %+5.2f", name, side, diff)
					if math.Abs(diff) > limit {
						t.Errorf("exact joints at the true times: %s %s is off by %.2f, more than %g", name, side, diff, limit)
					}
				}
			}
			if *tracks == "" {
				return
			}
			f, err := os.Open(filepath.Join(*tracks, clip.Name+".csv"))
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			if points, err = track.Read(f); err != nil {
				t.Fatal(err)
			}
			measures = measuredAt(t, points, clip.HeightM, level, trueEvents(t, dir, clip.Name))
			for name := range atTrueTimes {
				for _, side := range []form.Side{form.Left, form.Right} {
					t.Logf("network's points at the true times: %-21s %-5s off by %+5.2f", name, side, offBy(t, measures, clip, name, side))
				}
			}
		})
	}
}

// measuredAt measures a track with the true times of contact and toe-off, and
// logs how far the times found lie from them.
func measuredAt(t *testing.T, points form.Track, heightM float64, level gait.Level, events map[form.Side][2][]float64) []form.Measure {
	t.Helper()
	g, err := gait.Analyse(track.Smooth(points), gait.Facts{HeightM: heightM, Level: level})
	if err != nil {
		t.Fatal(err)
	}
	for _, side := range []form.Side{form.Left, form.Right} {
		c, times := g.Cycles[side], events[side]
		on, off := afterAnchor(times[0], c.Anchors, -0.3, 0.05), afterAnchor(times[1], c.Anchors, 0.05, 0.3)
		t.Logf("%-5s contact found %+5.1f ms, toe-off %+5.1f ms after the true one", side, 1000*(c.ContactS-on), 1000*(c.ToeOffS-off))
		c.ContactS, c.ToeOffS = on, off
	}
	measures, _ := All(g, Who{HeightM: heightM, Sex: body.NotStated})
	return measures
}

// afterAnchor is the median time from an anchor to the event near it.
func afterAnchor(times, anchors []float64, from, to float64) float64 {
	var all []float64
	for _, a := range anchors {
		for _, x := range times {
			if x-a > from && x-a < to {
				all = append(all, x-a)
			}
		}
	}
	return signal.Median(all)
}

// offBy is a measure less its truth.
func offBy(t *testing.T, measures []form.Measure, clip testkit.RenderedClip, name string, side form.Side) float64 {
	t.Helper()
	for _, want := range clip.Truth {
		for _, m := range measures {
			if want.Name == name && want.Side == side.String() && m.Name == name && m.Side == side && m.Unit == want.Unit {
				return m.Value - want.Value
			}
		}
	}
	t.Fatalf("%s %s is missing", name, side)
	return 0
}

// trueEvents are each side's times of contact and of toe-off, seconds.
func trueEvents(t *testing.T, dir, clip string) map[form.Side][2][]float64 {
	t.Helper()
	type moment struct {
		Time float64 `json:"time_s"`
	}
	type foot struct {
		Contacts []moment
		ToeOffs  []moment `json:"toe_offs"`
	}
	var doc struct {
		Persons []struct {
			Contact struct{ Left, Right foot }
		}
	}
	text, err := os.ReadFile(filepath.Join(dir, clip+".truth.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &doc); err != nil {
		t.Fatal(err)
	}
	seconds := func(all []moment) (out []float64) {
		for _, m := range all {
			out = append(out, m.Time)
		}
		return out
	}
	both := doc.Persons[0].Contact
	return map[form.Side][2][]float64{
		form.Left:  {seconds(both.Left.Contacts), seconds(both.Left.ToeOffs)},
		form.Right: {seconds(both.Right.Contacts), seconds(both.Right.ToeOffs)},
	}
}
