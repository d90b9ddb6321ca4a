package check

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/standin"
	"plumbstride/internal/track"
)

// inventedBehind writes the track of the demo's runner from behind.
func inventedBehind(t testing.TB, change func(*standin.Runner, *standin.Camera)) (path string, truth standin.Truth) {
	t.Helper()
	r, cam, _, _ := standin.DemoBehind()
	cam.NoisePx = 1
	if change != nil {
		change(&r, &cam)
	}
	tr, truth, err := standin.Track(r, cam, 8, rand.New(rand.NewPCG(3, 4)))
	if err != nil {
		t.Fatal(err)
	}
	return written(t, tr), truth
}

func written(t testing.TB, tr form.Track) string {
	t.Helper()
	var b bytes.Buffer
	if err := track.Write(&b, tr); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "behind.csv")
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// holds asks that every true value of a card's measures from behind lie in
// its interval, and tells how many there are.
func holds(t *testing.T, measures []card.Measure, truth standin.Truth) int {
	t.Helper()
	n := 0
	for _, m := range measures {
		want, ok := truth.Value(m.Name, m.Unit, m.Side)
		if m.View != string(form.ViewBack) || !ok {
			continue
		}
		n++
		t.Logf("%-24s %-5s %6.2f (%.2f to %.2f) %s, true %.2f", m.Name, m.Side, m.Value, m.Low, m.High, m.Unit, want.Value)
		if want.Value < m.Low || want.Value > m.High {
			t.Errorf("%s %s: %.2f to %.2f %s, true %.2f", m.Name, m.Side, m.Low, m.High, m.Unit, want.Value)
		}
	}
	return n
}

// A second track from behind adds its measures; all others stay, and so does
// what is put first.
func TestBehindBesideSide(t *testing.T) {
	tr, _, r := invented(t, nil)
	alone, err := checkTrack(t, tr, Ask{HeightM: r.HeightM})
	if err != nil {
		t.Fatal(err)
	}
	path, truth := inventedBehind(t, nil)
	both, err := checkTrack(t, tr, Ask{HeightM: r.HeightM, Back: path})
	if err != nil {
		t.Fatal(err)
	}
	if n := holds(t, both.Card.Measures, truth); n != 12 {
		t.Errorf("%d measures from behind", n)
	}
	side, behind, ok := card.SplitBehind(both.Card)
	if !ok || len(side.Measures) != len(alone.Card.Measures) || len(behind.Measures) != 12 {
		t.Fatalf("%v: %d measures from the side, %d without a second clip, %d from behind", ok, len(side.Measures), len(alone.Card.Measures), len(behind.Measures))
	}
	for i, m := range side.Measures {
		if m.Value != alone.Card.Measures[i].Value {
			t.Errorf("%s changed from %v to %v", m.Name, alone.Card.Measures[i].Value, m.Value)
		}
	}
	if a, b := alone.Card.Priority, both.Card.Priority; (a.Area == nil) != (b.Area == nil) || a.Area != nil && *a.Area != *b.Area {
		t.Errorf("what is put first changed: %v, %v", a, b)
	}
	if both.Card.Behind == nil || both.Card.Behind.Clip.View != "back" || both.Card.Behind.Says == "" || both.BackTrack == nil || both.Back == nil {
		t.Errorf("the card says of the second clip: %+v", both.Card.Behind)
	}
}

// A clip from behind alone gives its measures, and puts nothing first.
func TestBehindAlone(t *testing.T) {
	path, truth := inventedBehind(t, nil)
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	out, err := Track(context.Background(), trackDeps, bytes.NewReader(text), Ask{HeightM: 1.72, View: form.ViewBack})
	if err != nil {
		t.Fatal(err)
	}
	if n := holds(t, out.Card.Measures, truth); n < 12 {
		t.Errorf("%d measures from behind", n)
	}
	c := out.Card
	if c.Priority.Area != nil || !strings.Contains(c.Priority.Why, "add a clip from there") || c.Clip.View != "back" || len(c.Cautions) == 0 || len(c.Areas) != 6 {
		t.Errorf("priority %+v, view %q, %d cautions, %d areas", c.Priority, c.Clip.View, len(c.Cautions), len(c.Areas))
	}
	for _, name := range []string{"contact_time", "flight_time"} {
		found := false
		for _, r := range c.Refused {
			found = found || r.Name == name && strings.Contains(r.Reason, "from behind")
		}
		if !found {
			t.Errorf("%s is neither measured nor refused: %v", name, c.Refused)
		}
	}
}

// Exchanged views are refused with the reason, either way round.
func TestBehindWrongWayRound(t *testing.T) {
	tr, _, r := invented(t, nil)
	tr.View = ""
	path, _ := inventedBehind(t, nil)
	if _, err := checkTrack(t, tr, Ask{HeightM: r.HeightM, Back: written(t, tr)}); err == nil || !strings.Contains(err.Error(), "clip from behind, behind.csv") || !strings.Contains(err.Error(), "not seen from behind") {
		t.Errorf("a clip from the side as one from behind: %v", err)
	}
	back, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer back.Close()
	if _, err := Track(context.Background(), trackDeps, back, Ask{HeightM: r.HeightM, Back: path}); err == nil || form.CodeOf(err) != form.CodeClip {
		t.Errorf("a clip from behind as one from the side: %v", err)
	}
	walk, _ := inventedBehind(t, func(w *standin.Runner, _ *standin.Camera) { *w = standin.Walker() })
	if _, err := checkTrack(t, tr, Ask{HeightM: r.HeightM, Back: walk}); err == nil || !strings.Contains(err.Error(), "walking") {
		t.Errorf("somebody who walks: %v", err)
	}
	if _, err := checkTrack(t, tr, Ask{HeightM: r.HeightM, Back: filepath.Join(t.TempDir(), "none.csv")}); err == nil {
		t.Error("a file that isn't there passed")
	}
}

// Slow motion whose file doesn't tell is read at the side's cadence.
func TestBehindSlowMotion(t *testing.T) {
	tr, _, r := invented(t, nil)
	r2, cam, _, _ := standin.DemoBehind()
	cam.NoisePx, cam.RateHz = 1, 240
	slow, truth, err := standin.Track(r2, cam, 6, rand.New(rand.NewPCG(3, 4)))
	if err != nil {
		t.Fatal(err)
	}
	for i := range slow.Frames {
		slow.Frames[i].Time *= 4
	}
	slow.RateHz = 60
	out, err := checkTrack(t, tr, Ask{HeightM: r.HeightM, Back: written(t, slow)})
	if err != nil {
		t.Fatal(err)
	}
	if got := out.Card.Behind.Clip.SlowedBy; got != 4 {
		t.Errorf("slowed %v times", got)
	}
	holds(t, out.Card.Measures, truth)
}

// Clips of invented runners from behind through the real networks: every
// value within its interval, left and right told apart.
func TestRenderedBehind(t *testing.T) {
	deps := realDeps(t)
	for _, i := range []uint64{2, 5, 14} { // 5 has its legs exchanged throughout by the network
		t.Run(fmt.Sprint(i), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(2027, i))
			r, cam := standin.RandomBehind(rng)
			cam.RateHz, cam.Width, cam.Height = 60, 540, 960
			path := filepath.Join(t.TempDir(), "behind.mp4")
			scene := standin.Scene{Look: standin.RandomLook(rng), Light: 0.8, Noise: 2, Shutter: 0.2, Seed: i}
			truth, err := standin.WriteClip(context.Background(), deps.Tools.FFmpeg, path, r, cam, scene, 3, rng, nil)
			if err != nil {
				t.Fatal(err)
			}
			out, err := Clip(context.Background(), deps, path, Ask{HeightM: r.HeightM, SpeedMS: r.SpeedMS, View: form.ViewBack})
			if err != nil {
				t.Fatal(err)
			}
			if n := holds(t, out.Card.Measures, truth); n < 9 {
				t.Errorf("%d measures from behind; refused: %v", n, out.Card.Refused)
			}
			if len(out.Card.Pictures) != 2 {
				t.Errorf("%d pictures", len(out.Card.Pictures))
			}
		})
	}
	t.Run("nobody", func(t *testing.T) {
		r, cam, _, _ := standin.DemoBehind()
		cam.Width, cam.Height = 640, 360
		path := filepath.Join(t.TempDir(), "behind.mp4")
		if _, err := standin.WriteClip(context.Background(), deps.Tools.FFmpeg, path, r, cam, standin.Scene{Empty: true, Light: 1}, 2, nil, nil); err != nil {
			t.Fatal(err)
		}
		if _, err := Clip(context.Background(), deps, path, Ask{HeightM: 1.72, View: form.ViewBack}); err == nil || form.CodeOf(err) != form.CodeClip {
			t.Errorf("an empty clip: %v", err)
		}
	})
}
