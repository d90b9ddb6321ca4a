package cli

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/quantity"
	"plumbstride/internal/words"
)

// inventedCard is a card with one of everything; its runner and its numbers
// are invented.
func inventedCard() card.Card {
	unknown := card.Number(math.NaN())
	landing := "landing"
	return card.Card{
		Runner: card.Runner{Name: "Invented Runner", HeightM: 1.72, MassKg: 64},
		Clip: card.Clip{
			File: "clip\x1b[2J.mp4", Frames: 600, DurationS: 10, RateHz: 60, Setting: "treadmill",
			Facing: "left", View: "side", SpeedMS: 2.78, RollDeg: 0.4, YawDeg: unknown, MPerPx: 0.002, SlowedBy: 4,
		},
		Measures: []card.Measure{
			{Name: "cadence", Title: "Cadence", Area: "cadence", Unit: "steps/min", Value: 168.24, SD: 0.3, Low: 167.65, High: 168.83, N: 27,
				Band: &card.Band{Low: 165, High: 185, Source: "an invented table of cadences, long enough to be wrapped on a second line of the terminal"}},
			{Name: "duty_factor", Title: "Duty factor", Side: form.Left, Unit: "–", Value: 0.35, SD: 0.01, Low: 0.3304, High: 0.3696, N: 13},
			{Name: "landing_distance", Side: form.Right, Unit: "cm", Value: -0.01, SD: 1.1, Low: -2.166, High: 2.146, N: 13,
				Band: &card.Band{Low: unknown, High: 8, Source: "common practice, no source"}, Note: "the far arm was mirrored"},
			{Name: "foot_strike_angle", Title: "Foot strike angle", Side: form.Left, Unit: "deg", Value: 12.3, SD: 2, Low: 8.38, High: 16.22, N: 13, Class: "rearfoot", Note: "read from too few pictures"},
			{Name: "foot_strike_angle", Title: "Foot strike angle", Side: form.Right, Unit: "deg", Value: 10.3, SD: 2, Low: 6.38, High: 14.22, N: 13, Class: "rearfoot", Note: "read from too few pictures"},
		},
		Refused: []form.Refusal{
			{Name: "leg_stiffness", Reason: "the runner's mass was not stated"},
			{Name: "midstance_stack", Side: form.Left, Reason: "the far leg hides the near one"},
			{Name: "midstance_stack", Side: form.Right, Reason: "the far leg hides the near one"},
		},
		Areas: []card.Area{
			{Name: "landing", State: "look", Why: "The foot lands ahead of the body."},
			{Name: "symmetry", State: "unknown", Why: ""},
		},
		Priority: card.Priority{Area: &landing, Why: "The foot lands far ahead of the body. Land it closer, in small steps."},
		Notes:    []string{"Slow motion was recognised."},
		Cautions: []string{"Pain means stop."},
	}
}

// TestCardText compares the whole text of a card with its golden file.
func TestCardText(t *testing.T) {
	for _, units := range []quantity.Units{quantity.Metric, quantity.US} {
		t.Run(string(units), func(t *testing.T) {
			var b strings.Builder
			writeCard(&b, inventedCard(), units, 0, nil, words.Book{})
			golden(t, "card-"+string(units)+".txt", b.String())
		})
	}
}

// TestKnown: where the truth is known, it stands beside each measure.
func TestKnown(t *testing.T) {
	var b strings.Builder
	writeCard(&b, inventedCard(), quantity.US, 0, func(m card.Measure) (float64, bool) {
		return map[string]float64{"cadence": 168, "landing_distance": 2.54}[m.Name], m.Name != "duty_factor"
	}, words.Book{})
	golden(t, "card-known.txt", b.String())
}

// TestCardTextWidth holds running text within the width, so that nothing
// but a long row of the table is broken by a terminal.
func TestCardTextWidth(t *testing.T) {
	c := inventedCard()
	c.Measures = nil
	c.Cautions = []string{strings.Repeat("word ", 80)}
	for _, columns := range []int{0, 60, 80, 200} {
		var b strings.Builder
		writeCard(&b, c, quantity.Metric, columns, nil, words.Book{})
		limit := textWidth
		if columns > 0 {
			limit = min(limit, columns)
		}
		for line := range strings.Lines(b.String()) {
			if n := len([]rune(strings.TrimRight(line, "\n"))); n > limit {
				t.Errorf("%d columns: %d characters: %q", columns, n, line)
			}
		}
	}
}

// TestEmptyCard: a clip from which nothing was had is still a text.
func TestEmptyCard(t *testing.T) {
	var b strings.Builder
	writeCard(&b, card.Card{Priority: card.Priority{Why: "Film again, because no runner was seen."}}, quantity.Metric, 0, nil, words.Book{})
	if !strings.Contains(b.String(), "Film again") {
		t.Errorf("the reason is lost: %q", b.String())
	}
}

// golden compares text with testdata/golden/name, or writes it with -update.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", "golden", name)
	if *update {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s (-want +got; -update writes it anew):\n%s", path, diff)
	}
}

func TestBrief(t *testing.T) {
	for _, tt := range []struct{ in, want string }{
		{"common practice, no source", "common practice, no source"},
		{"Teng & Powers 2014 doi 10.2519/x (7.3 ± 3.6° (n = 40)); Souza 2016", "Teng & Powers 2014 doi 10.2519/x; Souza 2016"},
		{"from heel to ankle (from memory)", "from heel to ankle (from memory)"},
		{"four groups (271 to 284 ms; paper from memory)", "four groups (from memory)"},
		{"(all of it) ", ""},
		{"open (never closed", "open"},
	} {
		if got := brief(tt.in); got != tt.want {
			t.Errorf("brief(%q) = %q, want %q", tt.in, got, tt.want)
		}
	}
}
