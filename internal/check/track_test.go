package check

import (
	"bytes"
	"context"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/geom"
	"plumbstride/internal/standin"
	"plumbstride/internal/track"
)

var trackDeps = Deps{Program: "plumbstride test", Now: func() time.Time { return time.Unix(0, 0).UTC() }}

// invented is the track of a demo runner with a little noise, 8 s at 60 Hz.
func invented(t testing.TB, change func(*standin.Runner, *standin.Camera)) (form.Track, standin.Truth, standin.Runner) {
	r, cam, _, _ := standin.Demo()
	cam.NoisePx = 1
	if change != nil {
		change(&r, &cam)
	}
	tr, truth, err := standin.Track(r, cam, 8, rand.New(rand.NewPCG(3, 4)))
	if err != nil {
		t.Fatal(err)
	}
	return tr, truth, r
}

func checkTrack(t testing.TB, tr form.Track, ask Ask) (*Outcome, error) {
	var b bytes.Buffer
	if err := track.Write(&b, tr); err != nil {
		t.Fatal(err)
	}
	return Track(context.Background(), trackDeps, &b, ask)
}

func value(t testing.TB, o *Outcome, name, unit string, s form.Side) card.Measure {
	for _, m := range o.Card.Measures {
		if m.Name == name && m.Unit == unit && m.Side == s {
			return m
		}
	}
	t.Fatalf("no %s %s %s", name, unit, s)
	return card.Measure{}
}

// each applies a change to every spot of a copy of the track.
func each(tr form.Track, f func(*form.Spot)) form.Track {
	frames := make([]form.Frame, len(tr.Frames))
	for i, fr := range tr.Frames {
		for j := range fr.Spots {
			if fr.Spots[j].Seen() {
				f(&fr.Spots[j])
			}
		}
		frames[i] = fr
	}
	tr.Frames = frames
	return tr
}

// A picture mirrored shows the runner's other side to the camera: what was
// left is right, every value stays.
func TestMirror(t *testing.T) {
	tr, _, r := invented(t, nil)
	mirrored := each(tr, func(s *form.Spot) { s.X = float64(tr.Width) - s.X })
	mirrored.Facing = tr.Facing.Other()
	for i := range mirrored.Frames {
		f := &mirrored.Frames[i]
		for p := form.Eye; p <= form.Toe; p++ {
			l, r := form.At(p, form.Left), form.At(p, form.Right)
			f.Spots[l], f.Spots[r] = f.Spots[r], f.Spots[l]
		}
	}
	a, err := checkTrack(t, tr, Ask{HeightM: r.HeightM})
	if err != nil {
		t.Fatal(err)
	}
	b, err := checkTrack(t, mirrored, Ask{HeightM: r.HeightM})
	if err != nil {
		t.Fatal(err)
	}
	if a.Card.Clip.Facing == b.Card.Clip.Facing {
		t.Errorf("both face %s", a.Card.Clip.Facing)
	}
	for _, m := range a.Card.Measures {
		o := value(t, b, m.Name, m.Unit, m.Side.Other())
		if math.Abs(m.Value-o.Value) > 0.02*m.SD+1e-6 {
			t.Errorf("%s %s: %.4f, mirrored %.4f (sd %.3f)", m.Name, m.Side, m.Value, o.Value, m.SD)
		}
	}
}

// A picture of twice the size shows the same runner: the stated height is
// the scale.
func TestScale(t *testing.T) {
	tr, _, r := invented(t, nil)
	big := each(tr, func(s *form.Spot) { s.X, s.Y = 2*s.X, 2*s.Y })
	big.Width, big.Height = 2*tr.Width, 2*tr.Height
	a, err := checkTrack(t, tr, Ask{HeightM: r.HeightM})
	if err != nil {
		t.Fatal(err)
	}
	b, err := checkTrack(t, big, Ask{HeightM: r.HeightM})
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range a.Card.Measures {
		if o := value(t, b, m.Name, m.Unit, m.Side); math.Abs(m.Value-o.Value) > 0.1*m.SD+1e-6 {
			t.Errorf("%s %s: %.4f, at twice the size %.4f (sd %.3f)", m.Name, m.Side, m.Value, o.Value, m.SD)
		}
	}
}

// Slower than life: recognised, said, and read in real time; the events stay
// in the clip's own time.
func TestSlowMotion(t *testing.T) {
	for _, factor := range []float64{2, 4, 8} {
		tr, truth, r := invented(t, func(_ *standin.Runner, c *standin.Camera) { c.RateHz = 30 * factor })
		slow := tr
		slow.RateHz = tr.RateHz / factor
		slow.Frames = append([]form.Frame(nil), tr.Frames...)
		for i := range slow.Frames {
			slow.Frames[i].Time *= factor
		}
		o, err := checkTrack(t, slow, Ask{HeightM: r.HeightM})
		if err != nil {
			t.Errorf("%g times slower: %v", factor, err)
			continue
		}
		if o.Card.Clip.SlowedBy != factor || !strings.Contains(strings.Join(o.Card.Notes, " "), "taken for slow motion") {
			t.Errorf("slowed by %v, not %g; notes %q", o.Card.Clip.SlowedBy, factor, o.Card.Notes)
		}
		want, _ := truth.Value("cadence", "", form.Both)
		if got := value(t, o, "cadence", "steps/min", form.Both).Value; math.Abs(got-want.Value) > 0.5 {
			t.Errorf("cadence %.2f, truth %.2f", got, want.Value)
		}
		if got := value(t, o, "speed", "m/s", form.Both).Value; math.Abs(got-r.SpeedMS) > 0.3 {
			t.Errorf("speed %.2f m/s, truth %.2f", got, r.SpeedMS)
		}
		if last := o.Card.Events[len(o.Card.Events)-1].Time; last < 7*factor {
			t.Errorf("the last event at %.1f s is not in the clip's own time of %g s", last, 8*factor)
		}
		// Stated, it is not called a guess.
		o, err = checkTrack(t, slow, Ask{HeightM: r.HeightM, CaptureRateHz: 30 * factor})
		if err != nil || o.Card.Clip.SlowedBy != factor || strings.Contains(strings.Join(o.Card.Notes, " "), "taken for") {
			t.Errorf("stated rate: %v", err)
		}
	}
}

// Thirty per cent of the points missing, a rolled camera whose roll is
// stated: still within the intervals, or refused.
func TestPoorTracksGiveFewerMeasuresNotWorseOnes(t *testing.T) {
	for name, change := range map[string]func(*standin.Runner, *standin.Camera){
		"thirty per cent dropped": func(_ *standin.Runner, c *standin.Camera) { c.Dropout = 0.3 },
		"rolled by 3 degrees":     func(_ *standin.Runner, c *standin.Camera) { c.RollDeg = 3 },
		"jittered clock":          func(_ *standin.Runner, c *standin.Camera) { c.TimeJitterS, c.DropFrames = 0.003, 0.1 },
		"uphill": func(r *standin.Runner, _ *standin.Camera) {
			r.InclineDeg, r.BounceM = geom.Degrees(math.Atan(0.04)), 0
			r.LandingM = standin.Even(0.2)
		},
		"seen from behind": func(_ *standin.Runner, c *standin.Camera) { c.YawDeg = -10 },
		"15 degrees off":   func(_ *standin.Runner, c *standin.Camera) { c.YawDeg = 15 },
	} {
		t.Run(name, func(t *testing.T) {
			tr, truth, r := invented(t, change)
			ask := Ask{HeightM: r.HeightM}
			if strings.HasPrefix(name, "rolled") {
				roll := 3.0
				ask.Level = &roll
			}
			if name == "uphill" {
				ask.InclinePct = 4
			}
			o, err := checkTrack(t, tr, ask)
			if err != nil {
				t.Fatal(err)
			}
			out, n := 0, 0
			for _, m := range o.Card.Measures {
				want, ok := truth.Value(m.Name, m.Unit, m.Side)
				if !ok {
					continue
				}
				n++
				if want.Value < m.Low || want.Value > m.High {
					out++
					t.Logf("%s %s: %.2f (%.2f…%.2f), truth %.2f", m.Name, m.Side, m.Value, m.Low, m.High, want.Value)
				}
			}
			if n < 25 || out > 2 {
				t.Errorf("%d of %d true values outside their 95 %% intervals", out, n)
			}
		})
	}
}

func TestStatedSpeedThatDisagreesIsSaid(t *testing.T) {
	tr, _, r := invented(t, nil)
	o, err := checkTrack(t, tr, Ask{HeightM: r.HeightM, SpeedMS: 1.3 * r.SpeedMS})
	if err != nil || !strings.Contains(strings.Join(o.Card.Notes, " "), "differ by more than 10") {
		t.Errorf("%v; notes %q", err, o.Card.Notes)
	}
}

func TestTracksThatCantBeUsed(t *testing.T) {
	tr, _, r := invented(t, nil)
	short := tr
	short.Frames = tr.Frames[:30]
	still := tr
	still.Frames = append([]form.Frame(nil), tr.Frames...)
	for i := range still.Frames {
		still.Frames[i].Spots = tr.Frames[0].Spots
	}
	noFeet := each(tr, func(*form.Spot) {})
	for i := range noFeet.Frames {
		for _, s := range []form.Side{form.Left, form.Right} {
			noFeet.Frames[i].Spots[form.At(form.Ankle, s)].Confidence = 0
		}
	}
	walker := standin.Walker()
	walk, _, err := standin.Track(walker, standin.DefaultCamera(), 8, nil)
	if err != nil {
		t.Fatal(err)
	}
	front := tr
	front.View = form.ViewFront
	upside := each(tr, func(s *form.Spot) { s.Y = float64(tr.Height) - s.Y })
	endless := each(tr, func(*form.Spot) {})
	endless.Frames[len(endless.Frames)-1].Time = 1e5
	for name, c := range map[string]struct {
		track form.Track
		want  string
	}{
		"half a second": {short, "short"}, "standing still": {still, "standing"}, "no ankles": {noFeet, "ankle"},
		"walking": {walk, "walking"}, "front view": {front, "side"},
		"upside down": {upside, "upside down"}, "a row astray": {endless, "seconds"},
	} {
		_, err := checkTrack(t, c.track, Ask{HeightM: r.HeightM})
		if form.CodeOf(err) != form.CodeClip || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v; want a sentence with %q", name, err, c.want)
		}
	}
}

// FuzzTrack asks that no track makes a check panic or hang, and that every
// measure that comes out is finite and ordered.
func FuzzTrack(f *testing.F) {
	f.Add(uint64(1), 60.0, 1.0, 0.0)
	f.Add(uint64(2), 10.0, 1e-9, 0.5)
	f.Add(uint64(3), 500.0, 1e6, 0.9)
	f.Fuzz(func(t *testing.T, seed uint64, rate, size, drop float64) {
		if !(rate > 1 && rate < 1000 && math.Abs(size) < 1e6) {
			return
		}
		rng := rand.New(rand.NewPCG(seed, 5))
		tr := form.Track{Width: 640, Height: 480, RateHz: rate}
		for i := range 120 {
			fr := form.Frame{Time: float64(i) / rate}
			for j := range fr.Spots {
				if rng.Float64() >= drop {
					fr.Spots[j] = form.Spot{X: size * rng.NormFloat64(), Y: size * rng.NormFloat64(), Confidence: rng.Float64()}
				}
			}
			tr.Frames = append(tr.Frames, fr)
		}
		seen, err := understand(tr, levelOf(Ask{}, math.NaN(), 0), Ask{HeightM: 1.7}, clock{})
		if err != nil {
			return
		}
		for _, m := range seen.measures {
			if !(m.Low <= m.Value && m.Value <= m.High) || math.IsInf(m.Value, 0) {
				t.Errorf("%s: %v (%v…%v)", m.Name, m.Value, m.Low, m.High)
			}
		}
	})
}
