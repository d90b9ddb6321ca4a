package amend

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"plumbstride/internal/form"
)

func TestParse(t *testing.T) {
	long := `{"points":[` + strings.TrimSuffix(strings.Repeat(`{"time_s":1,"point":"toe","side":"left","x_px":1,"y_px":1},`, mostPoints+1), ",") + `]}`
	for _, tt := range []struct {
		name, json string
		wrong      string // part of the sentence
	}{
		{"nothing", "", ""},
		{"null", "null", ""},
		{"a point", `{"points":[{"time_s":1.25,"point":"heel","side":"left","x_px":10,"y_px":20}]}`, ""},
		{"the nose has no side", `{"points":[{"time_s":1,"point":"nose","side":"left","x_px":10,"y_px":20}]}`, ""},
		{"an event", `{"events":[{"kind":"contact","side":"right","found_s":1.2,"time_s":1.25}]}`, ""},
		{"no body point", `{"points":[{"time_s":1,"point":"tail","side":"left","x_px":10,"y_px":20}]}`, "tail"},
		{"no side", `{"points":[{"time_s":1,"point":"heel","side":"both","x_px":10,"y_px":20}]}`, "side"},
		{"no number", `{"points":[{"time_s":1,"point":"heel","side":"left","x_px":1e9,"y_px":20}]}`, "no number"},
		{"no event", `{"events":[{"kind":"jump","side":"right","found_s":1,"time_s":1}]}`, "contact"},
		{"event of no foot", `{"events":[{"kind":"contact","side":"mid","found_s":1,"time_s":1}]}`, "foot"},
		{"no time", `{"events":[{"kind":"contact","side":"left","found_s":1,"time_s":1e300}]}`, "no number"},
		{"twice", `{"points":[{"time_s":1,"point":"heel","side":"left","x_px":1,"y_px":2},{"time_s":1,"point":"heel","side":"left","x_px":3,"y_px":4}]}`, "twice"},
		{"unknown word", `{"dots":[]}`, "read"},
		{"cut short", `{"points":[`, "read"},
		{"two", `{}{}`, "behind"},
		{"too many", long, "more than"},
		{"too long", strings.Repeat(" ", mostBytes+1), "too many"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c, err := Parse([]byte(tt.json))
			switch {
			case tt.wrong == "" && err != nil:
				t.Fatal(err)
			case tt.wrong != "" && (form.CodeOf(err) != form.CodeUsage || !strings.Contains(err.Error(), tt.wrong)):
				t.Fatalf("%v, not a usage error about %q", err, tt.wrong)
			case tt.wrong != "" && !c.None():
				t.Error("something is given beside the error")
			}
		})
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(`{"points":[{"time_s":1.25,"point":"heel","side":"left","x_px":10,"y_px":20}],"events":[{"kind":"contact","side":"right","found_s":1.2,"time_s":1.25}]}`))
	f.Add([]byte(`{"points":[{"point":"nose","x_px":-0}]}`))
	f.Add([]byte(`null`))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := Parse(data)
		if err != nil {
			if form.CodeOf(err) != form.CodeUsage {
				t.Fatalf("%v is no usage error", err)
			}
			return
		}
		text, err := c.JSON()
		if err != nil {
			t.Fatalf("what was read can't be written: %v", err)
		}
		again, err := Parse(text)
		if err != nil || !cmp.Equal(again, c) {
			t.Fatalf("read again, it is %+v (%v), not %+v", again, err, c)
		}
		tr := form.Track{Width: 100, Height: 100, Frames: []form.Frame{{Time: 1}, {Time: 1.25}}}
		if _, _, err := Apply(tr, c); err != nil && form.CodeOf(err) != form.CodeUsage {
			t.Fatal(err)
		}
	})
}

func invented(n int) form.Track {
	tr := form.Track{Width: 640, Height: 480, RateHz: 60}
	for i := range n {
		f := form.Frame{Time: float64(i) / 60}
		for j := range f.Spots {
			f.Spots[j] = form.Spot{X: float64(10 + i), Y: float64(20 + j), Confidence: 0.8}
		}
		tr.Frames = append(tr.Frames, f)
	}
	return tr
}

// TestApply: only what was corrected differs, it is marked, the track that was
// given stays, and what was found is given back.
func TestApply(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tr, want := invented(30), invented(30)
		var c Corrections
		n := rapid.IntRange(1, 6).Draw(t, "n")
		taken := map[[2]int]bool{}
		for range n {
			k, j := rapid.IntRange(0, 29).Draw(t, "frame"), rapid.IntRange(0, form.NumJoints-1).Draw(t, "joint")
			if taken[[2]int{k, j}] {
				continue
			}
			taken[[2]int{k, j}] = true
			joint := form.Joint(j)
			p := Point{TimeS: math.Round(tr.Frames[k].Time*1e6) / 1e6, Point: joint.Point(), Side: joint.Side(),
				XPx: rapid.Float64Range(0, 640).Draw(t, "x"), YPx: rapid.Float64Range(0, 480).Draw(t, "y")}
			c.Points = append(c.Points, p)
			want.Frames[k].Spots[j] = form.Spot{X: p.XPx, Y: p.YPx, Confidence: 1}
			want.Frames[k].ByHand = want.Frames[k].ByHand.With(joint)
		}
		got, placed, err := Apply(tr, c)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatal(diff)
		}
		if diff := cmp.Diff(invented(30), tr); diff != "" {
			t.Fatal("the measured track changed: ", diff)
		}
		for _, p := range placed {
			if p.Found != tr.Frames[p.Frame].Spots[p.Joint()] {
				t.Fatalf("found %+v", p)
			}
		}
	})
}

func TestApplyRefuses(t *testing.T) {
	at := func(time, x, y float64) Corrections {
		return Corrections{Points: []Point{{TimeS: time, Point: form.Heel, Side: form.Left, XPx: x, YPx: y}}}
	}
	for name, tt := range map[string]struct {
		c     Corrections
		focal float64
		ok    bool
	}{
		"inside":                {at(0.1, 5, 5), 0, true},
		"between two frames":    {at(0.108, 5, 5), 0, false},
		"after the end":         {at(9, 5, 5), 0, false},
		"left of it":            {at(0.1, -1, 5), 0, false},
		"below it":              {at(0.1, 5, 481), 0, false},
		"beside, camera moved":  {at(0.1, 900, 5), 700, true},
		"nowhere, camera moved": {at(0.1, 90000, 5), 700, false},
	} {
		t.Run(name, func(t *testing.T) {
			tr := invented(30)
			tr.FocalPx = tt.focal
			if _, _, err := Apply(tr, tt.c); (err == nil) != tt.ok || err != nil && form.CodeOf(err) != form.CodeUsage {
				t.Error(err)
			}
		})
	}
}
