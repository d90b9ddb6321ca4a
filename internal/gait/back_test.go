package gait_test

import (
	"errors"
	"flag"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/signal"
	"plumbstride/internal/standin"
	"plumbstride/internal/track"
)

var behind = flag.Int("behind", 24, "how many invented runners the tests of the view from behind draw")

// From behind, mid-stances lie where contact and toe-off have their middle,
// and the direction of view is found.
func TestBehind(t *testing.T) {
	var off, mean, view, viewZ, stride, roll, rollZ []float64
	refused := map[string]int{}
	for i := range *behind {
		rng := rand.New(rand.NewPCG(11, uint64(i)))
		r, cam := standin.RandomBehind(rng)
		m, err := standin.NewMotion(r, 8, rng)
		if err != nil {
			t.Fatal(err)
		}
		b, err := gait.Behind(track.Smooth(m.Track(cam, rng)), gait.Facts{HeightM: r.HeightM})
		if err != nil {
			refused[err.Error()]++
			continue
		}
		truth := m.Truth(form.Both)
		var here []float64
		for _, s := range []form.Side{form.Left, form.Right} {
			for _, at := range b.Middles[s] {
				best := math.Inf(1)
				for j, e := range truth.Events {
					if e.Kind != form.Contact || e.Side != s {
						continue
					}
					for _, z := range truth.Events[j:] {
						if z.Kind == form.ToeOff && z.Side == s {
							if d := at - (e.Time+z.Time)/2; math.Abs(d) < math.Abs(best) {
								best = d
							}
							break
						}
					}
				}
				if !math.IsInf(best, 0) {
					here = append(here, best)
				}
			}
		}
		off = append(off, here...)
		mm, _ := signal.MeanSD(here)
		mean = append(mean, mm)
		cad, _ := truth.Value("cadence", "", form.Both)
		stride = append(stride, 120/b.StrideS-cad.Value)
		view, viewZ = append(view, b.ViewDeg-cam.YawDeg), append(viewZ, (b.ViewDeg-cam.YawDeg)/b.ViewSD)
		roll, rollZ = append(roll, b.RollDeg-cam.RollDeg), append(rollZ, (b.RollDeg-cam.RollDeg)/b.RollSD)
	}
	for why, n := range refused {
		t.Logf("%d × %s", n, why)
	}
	lost := len(refused)
	show := func(name string, v []float64, mostMean, mostSD float64) {
		m, sd := signal.MeanSD(v)
		t.Logf("%-22s n %4d mean %+8.4f sd %7.4f", name, len(v), m, sd)
		if math.Abs(m) > mostMean || sd > mostSD {
			t.Errorf("%s: mean %.4f, sd %.4f; at most %g and %g", name, m, sd, mostMean, mostSD)
		}
	}
	show("mid-stance, s", off, 0.010, 0.010)
	show("mid-stance mean, s", mean, 0.010, 0.009)
	show("cadence", stride, 0.2, 0.5)
	show("view, deg", view, 1, 3)
	show("view z", viewZ, 0.5, 1.1)
	show("roll", roll, 0.5, 1.2)
	show("roll z", rollZ, 0.5, 1.1)
	if lost > *behind/20 {
		t.Errorf("%d of %d clips refused", lost, *behind)
	}
}

// filmed is a track of an invented runner as any camera sees it, its view
// not stated.
func filmed(t *testing.T, r standin.Runner, cam standin.Camera, seconds float64) form.Track {
	t.Helper()
	cam.NoisePx = 0.7
	tr, _, err := standin.Track(r, cam, seconds, rand.New(rand.NewPCG(5, 6)))
	if err != nil {
		t.Fatal(err)
	}
	tr.View, tr.Facing = "", form.Both
	return tr
}

// What is not a runner from behind is refused with the reason.
func TestBehindRefuses(t *testing.T) {
	behindCam, front := standin.BehindCamera(), standin.BehindCamera()
	front.View = form.ViewFront
	still := standin.Stander()
	still.StepSpread = 1
	run := standin.DefaultRunner()
	over := func(tr form.Track) form.Track {
		for i := range tr.Frames {
			for j := range tr.Frames[i].Spots {
				tr.Frames[i].Spots[j].Y = float64(tr.Height) - tr.Frames[i].Spots[j].Y
			}
		}
		return tr
	}
	legless := filmed(t, run, behindCam, 6)
	for i := range legless.Frames {
		legless.Frames[i].Spots[form.At(form.Ankle, form.Left)] = form.Spot{}
	}
	for _, c := range []struct {
		name, says string
		tr         form.Track
	}{
		{"from the side", "not seen from behind", filmed(t, run, standin.DefaultCamera(), 6)},
		{"from the front", "from the front", filmed(t, run, front, 6)},
		{"standing", "standing", filmed(t, still, behindCam, 6)},
		{"walking", "walking", filmed(t, standin.Walker(), behindCam, 6)},
		{"too short", "too short", filmed(t, run, behindCam, 1)},
		{"on its head", "upside down", over(filmed(t, run, behindCam, 6))},
		{"no left ankle", "left ankle", legless},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := gait.Behind(track.Smooth(c.tr), gait.Facts{HeightM: 1.75})
			if err == nil || !strings.Contains(err.Error(), c.says) {
				t.Errorf("got %v, want a sentence with %q", err, c.says)
			}
			var said *form.Error
			if err != nil && !errors.As(err, &said) {
				t.Errorf("%v is no form.Error", err)
			}
		})
	}
	stated := filmed(t, run, behindCam, 6)
	stated.View = form.ViewSide
	if _, err := gait.Behind(track.Smooth(stated), gait.Facts{HeightM: 1.75}); !errors.Is(err, gait.ErrView) {
		t.Errorf("a track that says it is from the side: %v", err)
	}
	if _, err := gait.Analyse(track.Smooth(filmed(t, run, behindCam, 6)), gait.Facts{HeightM: 1.75}); !errors.Is(err, gait.ErrView) {
		t.Errorf("a clip from behind as one from the side: %v", err)
	}
}

// Legs that a network exchanged throughout are put right by the arms.
func TestArmsPutLegsRight(t *testing.T) {
	tr := filmed(t, standin.DefaultRunner(), standin.BehindCamera(), 6)
	right, err := gait.Behind(track.Smooth(tr), gait.Facts{HeightM: 1.75})
	if err != nil {
		t.Fatal(err)
	}
	for i := range tr.Frames {
		s := &tr.Frames[i].Spots
		for _, p := range []form.Point{form.Knee, form.Ankle, form.Heel, form.Toe} {
			l, r := form.At(p, form.Left), form.At(p, form.Right)
			s[l], s[r] = s[r], s[l]
		}
	}
	wrong, err := gait.Behind(track.Smooth(tr), gait.Facts{HeightM: 1.75})
	if err != nil {
		t.Fatal(err)
	}
	if len(wrong.Notes) == 0 || len(right.Notes) != 0 {
		t.Errorf("notes %v, before %v", wrong.Notes, right.Notes)
	}
	if a, b := right.Middles[form.Left][1], wrong.Middles[form.Left][1]; math.Abs(a-b) > 0.01 {
		t.Errorf("left mid-stance at %.3f s, with the legs exchanged at %.3f s", a, b)
	}
}

// A runner who runs straight away becomes smaller: speed and width stay.
func TestRunningAway(t *testing.T) {
	r := standin.DefaultRunner()
	r.Treadmill = false
	cam := standin.BehindCamera()
	cam.FOVDeg, cam.Width, cam.Height = 40, 1080, 1920
	b, err := gait.Behind(track.Smooth(filmed(t, r, cam, 4)), gait.Facts{HeightM: r.HeightM})
	if err != nil {
		t.Fatal(err)
	}
	if b.Setting != gait.OverGround {
		t.Errorf("setting %s", b.Setting)
	}
	if got := 120 / b.StrideS; math.Abs(got-r.CadenceSPM) > 1 { // a few steps, ever smaller
		t.Errorf("cadence %.1f, true %.1f", got, r.CadenceSPM)
	}
}
