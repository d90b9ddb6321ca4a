package cli

import (
	"encoding"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbstride/internal/form"
)

func TestFlags(t *testing.T) {
	for _, tt := range []struct {
		name string
		flag encoding.TextUnmarshaler
		text string
		says string // part of the refusal; "" where the text is good
	}{
		{"height", new(heightFlag), "172cm", ""},
		{"height, bare", new(heightFlag), "172", "no unit"},
		{"a toddler", new(heightFlag), "99cm", "between 1 m and 2.3 m"},
		{"a giant", new(heightFlag), "172m", "between 1 m and 2.3 m"},
		{"mass", new(massFlag), "64kg", ""},
		{"a feather", new(massFlag), "1kg", "between 15 kg and 250 kg"},
		{"speed", new(speedFlag), "10km/h", ""},
		{"a car", new(speedFlag), "100km/h", "45 km/h"},
		{"incline", new(inclineFlag), "1%", ""},
		{"a wall", new(inclineFlag), "100%", "incline"},
		{"level", new(levelFlag), "-2", ""},
		{"level, auto", new(levelFlag), "AUTO", ""},
		{"lying down", new(levelFlag), "90deg", "turn the clip upright"},
		{"facing", new(facingFlag), "left", ""},
		{"facing, auto", new(facingFlag), "auto", ""},
		{"facing both", new(facingFlag), "both", "auto, left or right"},
		{"capture rate", new(rateFlag), "240", ""},
		{"capture rate, auto", new(rateFlag), "auto", ""},
		{"flip book", new(rateFlag), "2", "between 10 and 2000"},
		{"longest", new(spanFlag), "90s", ""},
		{"no length", new(spanFlag), "0s", "between 1s and 3600s"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			err := tt.flag.UnmarshalText([]byte(tt.text))
			switch {
			case tt.says == "" && err != nil:
				t.Errorf("%q is refused: %v", tt.text, err)
			case tt.says != "" && (err == nil || !strings.Contains(err.Error(), tt.says)):
				t.Errorf("%q: %v does not say %q", tt.text, err, tt.says)
			case tt.says != "" && form.CodeOf(err) != form.CodeUsage:
				t.Errorf("%q: code %q", tt.text, form.CodeOf(err))
			}
		})
	}
}

func TestJoinSigned(t *testing.T) {
	for _, tt := range []struct{ in, want string }{
		{"check a.mp4 --level -2", "check a.mp4 --level=-2"},
		{"check --incline -1% a.mp4", "check --incline=-1% a.mp4"},
		{"check --level --json", "check --level --json"},
		{"check --level", "check --level"},
		{"check -- --level -2", "check -- --level -2"},
		{"check --height -2", "check --height -2"},
	} {
		if diff := cmp.Diff(strings.Fields(tt.want), joinSigned(strings.Fields(tt.in))); diff != "" {
			t.Errorf("%s (-want +got):\n%s", tt.in, diff)
		}
	}
}

func TestSizeFlag(t *testing.T) {
	for text, want := range map[string]int64{"1GB": 1e9, "500MB": 5e8, "1.5 TB": 15e11, "2gb": 2e9} {
		var s sizeFlag
		if err := s.UnmarshalText([]byte(text)); err != nil || int64(s) != want {
			t.Errorf("%q: %d, %v", text, s, err)
		}
	}
	for _, text := range []string{"", "1", "GB", "-1GB", "NaNGB", "1e30TB", "ten GB", "1KB"} {
		var s sizeFlag
		if err := s.UnmarshalText([]byte(text)); err == nil {
			t.Errorf("%q is read as %d", text, s)
		}
	}
}
