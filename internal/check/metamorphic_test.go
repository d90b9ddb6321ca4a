package check

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"testing"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/geom"
	"plumbstride/internal/standin"
)

// What a change of the film must do to every measure: nothing, unless a
// theory says otherwise. The intervals say how much is nothing.

// alike asks that every measure of a be had from b, each within the other's
// interval times slack, after theory has been at a's value. Refused is fine:
// a poorer film gives fewer measures.
func alike(t *testing.T, a, b *Outcome, slack float64, theory func(card.Measure) float64) {
	t.Helper()
	seen := 0
	for _, m := range a.Card.Measures {
		for _, o := range b.Card.Measures {
			if o.Name != m.Name || o.Unit != m.Unit || o.Side != m.Side {
				continue
			}
			seen++
			want := m.Value
			if theory != nil {
				want = theory(m)
			}
			if half := slack * math.Min(m.High-m.Low, o.High-o.Low) / 2; math.Abs(o.Value-want) > half {
				t.Errorf("%s %s: %.3f became %.3f, want %.3f ± %.3f", m.Name, m.Side, m.Value, o.Value, want, half)
			}
		}
	}
	if seen < len(a.Card.Measures)*4/5 {
		t.Errorf("only %d of %d measures are still there", seen, len(a.Card.Measures))
	}
}

func mustCheck(t *testing.T, tr form.Track, ask Ask) *Outcome {
	t.Helper()
	o, err := checkTrack(t, tr, ask)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// A clock that runs a tenth slower: times a tenth longer, rates a tenth
// lower, angles and lengths as they were.
func TestTimeStretch(t *testing.T) {
	const k = 1.1
	tr, _, r := invented(t, nil)
	slow := each(tr, func(*form.Spot) {})
	for i := range slow.Frames {
		slow.Frames[i].Time *= k
	}
	slow.RateHz /= k
	alike(t, mustCheck(t, tr, Ask{HeightM: r.HeightM}), mustCheck(t, slow, Ask{HeightM: r.HeightM}), 0.2, func(m card.Measure) float64 {
		switch m.Name {
		case "cadence", "speed":
			return m.Value / k
		case "contact_time", "flight_time":
			return m.Value * k
		default:
			return m.Value
		}
	})
}

// turned rolls the picture about its middle, clockwise, deg.
func turned(tr form.Track, deg float64) form.Track {
	sin, cos := math.Sincos(geom.Radians(deg))
	cx, cy := float64(tr.Width)/2, float64(tr.Height)/2
	return each(tr, func(s *form.Spot) {
		x, y := s.X-cx, s.Y-cy
		s.X, s.Y = cx+x*cos-y*sin, cy+x*sin+y*cos
	})
}

// A rolled picture whose level is stated gives what the level one gives;
// where the level has to be found, the interval holds the difference.
func TestRoll(t *testing.T) {
	tr, _, r := invented(t, nil)
	zero, three := 0.0, 3.0
	level := mustCheck(t, tr, Ask{HeightM: r.HeightM, Level: &zero})
	alike(t, level, mustCheck(t, turned(tr, 3), Ask{HeightM: r.HeightM, Level: &three}), 0.1, nil)
	alike(t, mustCheck(t, tr, Ask{HeightM: r.HeightM}), mustCheck(t, turned(tr, 3), Ask{HeightM: r.HeightM}), 1.2, nil)
}

// The same run filmed by cameras that stand up to 15 degrees off.
func TestYaw(t *testing.T) {
	filmed := func(yaw float64) *Outcome {
		tr, _, r := invented(t, func(_ *standin.Runner, c *standin.Camera) { c.YawDeg = yaw })
		return mustCheck(t, tr, Ask{HeightM: r.HeightM})
	}
	square := filmed(0)
	for _, yaw := range []float64{-15, -8, 8, 15} {
		t.Run(fmt.Sprintf("%+g degrees", yaw), func(t *testing.T) { alike(t, square, filmed(yaw), 1, nil) })
	}
}

// A picture cropped to a part around the runner.
func TestCrop(t *testing.T) {
	tr, _, r := invented(t, nil)
	crop := each(tr, func(s *form.Spot) { s.X, s.Y = s.X-250, s.Y-10 })
	crop.Width, crop.Height = tr.Width-450, tr.Height-20
	alike(t, mustCheck(t, tr, Ask{HeightM: r.HeightM}), mustCheck(t, crop, Ask{HeightM: r.HeightM}), 0.5, nil)
}

// One frame in ten missing; one in twenty showing the picture before.
func TestDroppedAndDuplicatedFrames(t *testing.T) {
	tr, _, r := invented(t, nil)
	whole := mustCheck(t, tr, Ask{HeightM: r.HeightM})
	rng := rand.New(rand.NewPCG(8, 9))
	dropped, twice := tr, each(tr, func(*form.Spot) {})
	dropped.Frames = nil
	for i, f := range tr.Frames {
		if rng.Float64() > 0.1 {
			dropped.Frames = append(dropped.Frames, f)
		}
		if i > 0 && rng.Float64() < 0.05 {
			twice.Frames[i].Spots = twice.Frames[i-1].Spots
		}
	}
	alike(t, whole, mustCheck(t, dropped, Ask{HeightM: r.HeightM}), 0.5, nil)
	alike(t, whole, mustCheck(t, twice, Ask{HeightM: r.HeightM}), 0.8, nil)
}

// One short clip of an invented runner through the networks, and the same
// after what happens to clips on their way: encoded again, at a low bit rate,
// darker, cropped. Each measure stays within its interval.
func TestWhatHappensToClips(t *testing.T) {
	deps := realDeps(t)
	dir := t.TempDir()
	r, cam, scene, _ := standin.Demo()
	cam.Width, cam.Height = 960, 540
	path := filepath.Join(dir, "clip.mp4")
	if _, err := standin.WriteClip(context.Background(), deps.Tools.FFmpeg, path, r, cam, scene, 4, rand.New(rand.NewPCG(3, 4)), nil); err != nil {
		t.Fatal(err)
	}
	check := func(t *testing.T, path string) *Outcome {
		o, err := Clip(context.Background(), deps, path, Ask{HeightM: r.HeightM})
		if err != nil {
			t.Fatal(err)
		}
		return o
	}
	first := check(t, path)
	for _, change := range []struct {
		name string
		args []string
	}{
		{"encoded again", []string{"-c:v", "libx264", "-crf", "24", "-preset", "fast"}},
		{"low bit rate", []string{"-c:v", "libx264", "-b:v", "350k", "-preset", "fast"}},
		{"darker", []string{"-vf", "eq=brightness=-0.12:contrast=0.85", "-c:v", "libx264", "-crf", "20", "-preset", "fast"}},
		{"cropped", []string{"-vf", "crop=iw*0.7:ih", "-c:v", "libx264", "-crf", "20", "-preset", "fast"}},
	} {
		t.Run(change.name, func(t *testing.T) {
			out := filepath.Join(dir, change.name+".mp4")
			args := append([]string{"-v", "error", "-i", path}, append(change.args, "-pix_fmt", "yuv420p", out)...)
			if text, err := exec.Command(deps.Tools.FFmpeg, args...).CombinedOutput(); err != nil {
				t.Fatalf("%v: %s", err, text)
			}
			alike(t, first, check(t, out), 1, nil)
		})
	}
}
