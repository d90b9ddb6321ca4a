package form

import "testing"

func TestSigned(t *testing.T) {
	for _, c := range []struct {
		v      float64
		places int
		want   string
	}{
		{0, 1, "0.0"}, {0.04, 1, "0.0"}, {-0.04, 1, "0.0"}, {0.06, 1, "+0.1"}, {-0.06, 1, "−0.1"}, {0.4, 0, "0"}, {-0.4, 0, "0"}, {1.6, 0, "+2"}, {-12.34, 2, "−12.34"},
	} {
		if got := Signed(c.v, c.places); got != c.want {
			t.Errorf("%g to %d places: %q, want %q", c.v, c.places, got, c.want)
		}
	}
}
