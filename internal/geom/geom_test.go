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
