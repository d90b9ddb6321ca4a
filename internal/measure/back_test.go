package measure

import (
	"math"
	"math/rand/v2"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/geom"
	"plumbstride/internal/standin"
	"plumbstride/internal/track"
)

// uneven is a runner from behind whose sides differ.
func uneven(t *testing.T) (form.Track, standin.Truth, standin.Runner) {
	t.Helper()
	r := standin.DefaultRunner()
	r.PelvicDropDeg, r.KneeInDeg = standin.Pair{Left: 8, Right: 4}, standin.Pair{Left: 14, Right: 2}
	r.TrunkSideDeg, r.StepWidth, r.StepSpread = standin.Pair{Left: 1, Right: 4}, 0.05, 0.7
	cam := standin.BehindCamera()
	cam.YawDeg, cam.NoisePx = 4, 0.7
	tr, truth, err := standin.Track(r, cam, 8, rand.New(rand.NewPCG(3, 5)))
	if err != nil {
		t.Fatal(err)
	}
	return tr, truth, r
}

func fromBehind(t *testing.T, tr form.Track, facts gait.Facts) map[string]form.Measure {
	t.Helper()
	b, err := gait.Behind(track.Smooth(tr), facts)
	if err != nil {
		t.Fatal(err)
	}
	got, _ := Behind(b)
	out := map[string]form.Measure{}
	for _, m := range got {
		out[m.Name+" "+m.Unit+" "+m.Side.String()] = m
	}
	return out
}

// changed applies a change to every seen spot of a copy of the track.
func changed(tr form.Track, f func(*form.Spot)) form.Track {
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

// The sides' truths differ, and each is found on its own side.
func TestBackSides(t *testing.T) {
	tr, truth, r := uneven(t)
	got := fromBehind(t, tr, gait.Facts{HeightM: r.HeightM, SpeedMS: r.SpeedMS, Level: gait.Level{SD: 0.2, Known: true}})
	for _, want := range truth.Values {
		m, ok := got[want.Name+" "+want.Unit+" "+want.Side.String()]
		if !ok || want.Name == "cadence" {
			continue
		}
		t.Logf("%-24s %-5s %6.2f ± %.2f, true %6.2f", m.Name, m.Side, m.Value, 1.96*m.SD, want.Value)
		if want.Value < m.Low || want.Value > m.High {
			t.Errorf("%s %s: %.2f to %.2f %s, true %.2f", m.Name, m.Side, m.Low, m.High, m.Unit, want.Value)
		}
	}
	if d := got["pelvic_drop_difference deg both"]; d.Value < d.SD {
		t.Errorf("a pelvis that drops by 2° more over the left leg came out as %.1f to %.1f°", d.Low, d.High)
	}
}

// mirrored is a track's mirror image, with or without the sides' names
// exchanged.
func mirrored(tr form.Track, renamed bool) form.Track {
	out := changed(tr, func(s *form.Spot) { s.X = float64(tr.Width) - s.X })
	for i := range out.Frames {
		s := &out.Frames[i].Spots
		for p := form.Eye; p <= form.Toe && renamed; p++ {
			a, b := form.At(p, form.Left), form.At(p, form.Right)
			s[a], s[b] = s[b], s[a]
		}
	}
	return out
}

// A picture mirrored, with the sides' names exchanged, exchanges the sides
// and nothing else, to rounding: no side is looked at otherwise than the
// other. Mirrored without that, it is refused: left would be right.
func TestBackMirrored(t *testing.T) {
	tr, _, r := uneven(t)
	for name, facts := range map[string]gait.Facts{
		"level and speed unknown": {HeightM: r.HeightM},
		"speed known":             {HeightM: r.HeightM, SpeedMS: r.SpeedMS},
	} {
		t.Run(name, func(t *testing.T) {
			if _, err := gait.Behind(track.Smooth(mirrored(tr, false)), facts); err == nil {
				t.Error("a mirrored picture passed for one from behind")
			}
			was, is := fromBehind(t, tr, facts), fromBehind(t, mirrored(tr, true), facts)
			if len(was) != 13 || len(is) != len(was) {
				t.Fatalf("%d measures, mirrored %d", len(was), len(is))
			}
			for _, m := range was {
				sign := 1.0
				if m.Name == "pelvic_drop_difference" {
					sign = -1
				}
				o := is[m.Name+" "+m.Unit+" "+m.Side.Other().String()]
				const rounding = 1e-6
				if math.Abs(m.Value-sign*o.Value) > rounding || math.Abs(m.SD-o.SD) > rounding || m.N != o.N {
					t.Errorf("%s %s: %.9f ± %.9f in %d, mirrored %.9f ± %.9f in %d", m.Name, m.Side, m.Value, m.SD, m.N, o.Value, o.SD, o.N)
				}
			}
		})
	}
}

// A larger picture of the same changes nothing, and a clip of the same
// motion, slower, changes cadence alone.
func TestBackLargerAndSlower(t *testing.T) {
	tr, _, r := uneven(t)
	was := fromBehind(t, tr, gait.Facts{HeightM: r.HeightM, SpeedMS: r.SpeedMS})
	const times = 1.25
	larger := changed(tr, func(s *form.Spot) { s.X, s.Y = times*s.X, times*s.Y })
	larger.Width, larger.Height = int(times*float64(tr.Width)), int(times*float64(tr.Height))
	slower := changed(tr, func(*form.Spot) {})
	slower.RateHz /= times
	for i := range slower.Frames {
		slower.Frames[i].Time *= times
	}
	for _, c := range []struct {
		name         string
		is           map[string]form.Measure
		cadence, off float64
	}{
		{"larger", fromBehind(t, larger, gait.Facts{HeightM: r.HeightM, SpeedMS: r.SpeedMS}), 1, 0.02},
		// What is told in seconds, as how long before mid-stance the body is
		// lowest, is another part of the stride.
		{"slower", fromBehind(t, slower, gait.Facts{HeightM: r.HeightM, SpeedMS: r.SpeedMS / times}), times, 0.5},
	} {
		t.Run(c.name, func(t *testing.T) {
			for k, m := range was {
				is := c.is[k]
				if m.Name == "cadence" {
					is.Value *= c.cadence
				}
				if math.Abs(m.Value-is.Value) > c.off*m.SD {
					t.Errorf("%s: %.3f ± %.3f, %s %.3f", k, m.Value, m.SD, c.name, is.Value)
				}
			}
		})
	}
}

// One run filmed by cameras that stand further and further off its line: the
// direction of view follows the camera, and what lies in the frontal plane
// stays, within what each interval allows.
func TestBackTurned(t *testing.T) {
	_, _, r := uneven(t)
	m, err := standin.NewMotion(r, 8, rand.New(rand.NewPCG(3, 5)))
	if err != nil {
		t.Fatal(err)
	}
	truth := m.Truth(form.Both)
	for _, yaw := range []float64{-9, -4, 0, 4, 9} {
		cam := standin.BehindCamera()
		cam.YawDeg, cam.NoisePx = yaw, 0.7
		facts := gait.Facts{HeightM: r.HeightM, SpeedMS: r.SpeedMS, Level: gait.Level{SD: 0.3, Known: true}}
		b, err := gait.Behind(track.Smooth(m.Track(cam, rand.New(rand.NewPCG(7, 5)))), facts)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(b.ViewDeg-yaw) > 1.96*b.ViewSD {
			t.Errorf("camera at %.0f°: found %.1f ± %.1f°", yaw, b.ViewDeg, b.ViewSD)
		}
		got, _ := Behind(b)
		for _, m := range got {
			want, ok := truth.Value(m.Name, m.Unit, m.Side)
			if !ok || want.Value < m.Low || want.Value > m.High {
				t.Errorf("camera at %.0f°: %s %s %.2f to %.2f %s, true %.2f", yaw, m.Name, m.Side, m.Low, m.High, m.Unit, want.Value)
			}
		}
	}
}

// A picture turned by 4° gives the same once the level is stated, and adds 4°
// to one side's drop and takes it from the other's where a wrong one is.
func TestBackRolled(t *testing.T) {
	tr, _, r := uneven(t)
	sin, cos := math.Sincos(geom.Radians(4))
	rolled := changed(tr, func(s *form.Spot) {
		x, y := s.X-640, s.Y-360
		s.X, s.Y = 640+x*cos-y*sin, 360+x*sin+y*cos
	})
	stated := func(deg float64) gait.Facts {
		return gait.Facts{HeightM: r.HeightM, Level: gait.Level{Deg: deg, SD: 0.3, Stated: true}}
	}
	was, is, wrong := fromBehind(t, tr, stated(0)), fromBehind(t, rolled, stated(4)), fromBehind(t, rolled, stated(0))
	for k, m := range was {
		if math.Abs(m.Value-is[k].Value) > 0.3*m.SD {
			t.Errorf("%s: %.2f, rolled %.2f", k, m.Value, is[k].Value)
		}
	}
	left, right := "pelvic_drop deg left", "pelvic_drop deg right"
	if l, r := wrong[left].Value-was[left].Value, wrong[right].Value-was[right].Value; math.Abs(l+r) > 0.2 || math.Abs(math.Abs(l)-4) > 0.4 {
		t.Errorf("a tilt of 4° that nobody knows of changed the drops by %.2f and %.2f°", l, r)
	}
}

// Dingenen et al. 2018 (doi 10.1016/j.ptsp.2018.06.009) found smallest
// detectable differences of 2.7 to 2.8° for pelvic drop and 1.3 to 2.3° for
// the trunk from two-dimensional video, marked by hand: a standard error of
// measurement of SDD/2.77. One camera without a known level can't be surer.
func TestBackNoSurerThanByHand(t *testing.T) {
	tr, _, r := uneven(t)
	got := fromBehind(t, tr, gait.Facts{HeightM: r.HeightM})
	for name, sdd := range map[string]float64{"pelvic_drop": 2.7, "trunk_side_lean": 1.3} {
		for _, s := range []string{"left", "right"} {
			if m := got[name+" deg "+s]; m.SD < sdd/2.7719 {
				t.Errorf("%s %s: sd %.2f°, by hand %.2f°", name, s, m.SD, sdd/2.7719)
			}
		}
	}
}

// From the networks' points no pelvic drop is given, and the reason says why.
func TestBackNetworkHips(t *testing.T) {
	tr, _, r := uneven(t)
	tr.Network = "heavy"
	b, err := gait.Behind(track.Smooth(tr), gait.Facts{HeightM: r.HeightM})
	if err != nil {
		t.Fatal(err)
	}
	got, refused := Behind(b)
	for _, m := range got {
		if m.Name == "pelvic_drop" || m.Name == "pelvic_drop_difference" {
			t.Errorf("%s came out as %.1f", m.Name, m.Value)
		}
	}
	n := 0
	for _, x := range refused {
		if x.Reason == errLevelHips.Error() {
			n++
		}
	}
	if n != 3 {
		t.Errorf("%d refusals name the hips: %v", n, refused)
	}
}

// A few steps' spread is as uncertain as Student's t says: 2.195 times wider
// than the normal distribution's at two degrees of freedom (4.303/1.96), 1.311
// at five (Abramowitz & Stegun, from memory).
func TestFewStepsFromBehind(t *testing.T) {
	for degrees, want := range map[int]float64{2: 4.3027, 3: 3.1824, 5: 2.5706, 10: 2.2281, 30: 2.0423} {
		if got := 1.959964 * student(degrees); math.Abs(got-want) > 0.01*want {
			t.Errorf("t(%d) = %.3f, want %.4f", degrees, got, want)
		}
	}
}
