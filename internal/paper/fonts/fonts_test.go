package fonts

import (
	"math"
	"strings"
	"testing"

	"plumbstride/internal/chart"
)

func load(t *testing.T) *Set {
	t.Helper()
	s, err := Load()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestCharactersOfACard(t *testing.T) {
	s := load(t)
	const needed = "±°−–—×≥≤·…“”‘’½²→←↑↓□%0123456789 ÀÉÎÕÜßçğıłøœşžđŘțÅæð Ọ̈Việt ΑΩαω АЯёґ"
	for f := range count {
		if got := s.Printable(chart.Font(f), needed); strings.Count(got, string(Missing)) != 1 {
			t.Errorf("font %d lacks characters: %s", f, got)
		}
	}
}

func TestFiguresOfTheSansAreTabular(t *testing.T) {
	s := load(t)
	for _, f := range []chart.Font{chart.Sans, chart.SansMedium} {
		for _, figure := range "123456789" {
			if a, b := s.Width(f, 1000, "0"), s.Width(f, 1000, string(figure)); math.Abs(a-b) > 0.1 {
				t.Errorf("font %d: 0 is %v wide, %c is %v", f, a, figure, b)
			}
		}
	}
}

// The expected widths come from the fonts' own hmtx tables, read with
// fonttools: n of Vollkorn Regular is 597 of 1000 units wide.
func TestWidth(t *testing.T) {
	s := load(t)
	if got := s.Width(chart.Serif, 10, "nn"); math.Abs(got-2*0.597*10) > 0.01 {
		t.Errorf("width %v, want %v", got, 2*0.597*10)
	}
	if s.Width(chart.Sans, 12, "") != 0 {
		t.Error("no text has a width")
	}
	if s.Width(chart.Sans, 12, "\U0001F3C3") != s.Width(chart.Sans, 12, "□") {
		t.Error("a missing character isn't as wide as its stand-in")
	}
}

func TestFilesStaySmall(t *testing.T) {
	for f := range count {
		if n := len(TrueType(chart.Font(f))); n > 400_000 {
			t.Errorf("font %d is %d bytes", f, n)
		}
	}
}
