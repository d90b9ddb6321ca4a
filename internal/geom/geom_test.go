package geom

import (
	"math"
	"testing"
)

// Winter, Biomechanics and Motor Control of Human Movement, Table A.1 frame
// 36 (walking; centimetres): thigh 17.77° forward of vertical, shank 1.53°,
// knee flexion 16.24°.
func TestWinterFrame36(t *testing.T) {
	hip, knee, ankle := Vec{118.78, 81.63}, Vec{128.32, 51.86}, Vec{129.46, 9.10}
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"thigh", -Lean(knee, hip), 17.77},
		{"shank", -Lean(ankle, knee), 1.53},
		{"knee flexion", Flexion(hip, knee, ankle), 16.24},
	} {
		if math.Abs(c.got-c.want) > 0.005 {
			t.Errorf("%s: got %.4f°, want %.2f°", c.name, c.got, c.want)
		}
	}
}

func TestSigns(t *testing.T) {
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"straight leg", Flexion(Vec{0, 2}, Vec{0, 1}, Vec{0, 0}), 0},
		{"shank turned back is flexion", Flexion(Vec{0, 2}, Vec{0, 1}, Vec{-1, 1}), 90},
		{"shank turned forward is hyperextension", Flexion(Vec{0, 2}, Vec{0, 1}, Vec{1, 0}), -45},
		{"leaning forward", Lean(Vec{0, 0}, Vec{1, 1}), 45},
		{"toes up", Slope(Vec{0, 0}, Vec{1, 1}), 45},
		{"wrap", Wrap(190), -170},
		{"wrap back", Wrap(-190), 170},
	} {
		if math.Abs(c.got-c.want) > 1e-9 {
			t.Errorf("%s: got %v, want %v", c.name, c.got, c.want)
		}
	}
}

// The craniovertebral angle, at C7 between the horizontal and the line to the
// tragus (definition from memory; Yip et al. 2008, doi
// 10.1016/j.math.2006.11.002, for its sense: smaller = head further forward),
// worked by hand: 8 cm in front and 10 above 51.34°, 10 and 12 50.19°, 10 and
// 10 45°. It is the same for a runner who faces left and in a picture whose y
// runs down, once these are turned into X forward and Y up.
func TestCraniovertebralAngle(t *testing.T) {
	for _, c := range []struct{ ahead, above, want float64 }{{8, 10, 51.34}, {10, 12, 50.19}, {10, 10, 45}} {
		for _, facing := range []float64{1, -1} { // +1 = to the right of the picture
			c7 := [2]float64{300, 200} // pixels, y down
			tragus := [2]float64{300 + facing*c.ahead, 200 - c.above}
			upright := func(p [2]float64) Vec { return Vec{facing * p[0], -p[1]} }
			if got := Slope(upright(c7), upright(tragus)); math.Abs(got-c.want) > 0.005 {
				t.Errorf("%g ahead, %g above, facing %+g: %.3f°, want %.2f°", c.ahead, c.above, facing, got, c.want)
			}
		}
	}
	if !(Slope(Vec{0, 0}, Vec{12, 10}) < Slope(Vec{0, 0}, Vec{8, 10})) {
		t.Error("a head further forward must have the smaller angle")
	}
}

// The synthetic standing figure whose centre of mass package body checks
// (metres): ear, shoulder, hip, knee and ankle on one vertical, so trunk, leg
// and head lean 0° and the knee is straight; foot and forearm by hand.
func TestStandingFigure(t *testing.T) {
	ear, shoulder, elbow, wrist := Vec{0, 1.66}, Vec{0, 1.45}, Vec{0, 1.12}, Vec{0.05, 0.87}
	hip, knee, ankle, toe := Vec{0, 0.93}, Vec{0, 0.50}, Vec{0, 0.07}, Vec{0.14, 0}
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"trunk", Lean(hip, shoulder), 0},
		{"head", Lean(shoulder, ear), 0},
		{"leg", Lean(ankle, hip), 0},
		{"knee", Flexion(hip, knee, ankle), 0},
		{"ankle to toe", Slope(ankle, toe), -26.5651},
		{"forearm to the vertical", Lean(elbow, wrist), 168.6901},
		{"elbow, the other way than a knee", Flexion(shoulder, elbow, wrist), -11.3099},
		{"shank's share of the leg", knee.Sub(ankle).Norm() / hip.Sub(ankle).Norm(), 0.5},
	} {
		if math.Abs(c.got-c.want) > 1e-4 {
			t.Errorf("%s: %.4f, want %.4f", c.name, c.got, c.want)
		}
	}
}
