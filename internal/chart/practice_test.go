package chart

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"plumbstride/internal/words"
)

// TestPracticeKeepsOrder: whatever the weeks, all stays within the drawings,
// a higher cadence stands higher, a bar is as long as its minutes, a dot lies
// on its whisker, and a week that isn't known has no dot.
func TestPracticeKeepsOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
		var weeks []PracticeWeek
		knownWeeks := 0
		for range rapid.IntRange(1, 30).Draw(t, "weeks") {
			v := rapid.Float64Range(140, 200).Draw(t, "cadence")
			half := rapid.Float64Range(0, 15).Draw(t, "half")
			w := PracticeWeek{Monday: at, Known: rapid.Bool().Draw(t, "known"), Cadence: Dated{Value: v, Low: v - half, High: v + half},
				InBand: rapid.Float64Range(0, 400).Draw(t, "in band"), Planned: rapid.Float64Range(0, 200).Draw(t, "planned")}
			if rapid.Bool().Draw(t, "target") {
				w.Low, w.High = 160, 168
			}
			if w.Known {
				knownWeeks++
			}
			weeks = append(weeks, w)
			at = at.AddDate(0, 0, 7*rapid.IntRange(1, 3).Draw(t, "on"))
		}
		for name, d := range map[string]Drawing{"cadence": PracticeCadence(even{}, weeks, words.Book{}), "minutes": PracticeMinutes(even{}, weeks, words.Book{})} {
			for _, item := range d.Items {
				if b := item.Box(); b.X1 < -1 || b.X2 > d.Width+1 || b.Y1 < -1 || b.Y2 > d.Height+1 {
					t.Fatalf("%s: %+v leaves the drawing", name, item)
				}
			}
			if svg := d.SVG("p"); strings.Contains(svg, "NaN") || strings.Contains(svg, "Inf") {
				t.Fatalf("%s: numbers that are none", name)
			}
		}
		var dots []Circle
		for _, item := range PracticeCadence(even{}, weeks, words.Book{}).Items {
			if c, ok := item.(Circle); ok {
				dots = append(dots, c)
			}
		}
		if len(dots) != knownWeeks {
			t.Fatalf("%d dots for %d weeks that are known", len(dots), knownWeeks)
		}
		k := 0
		var last *PracticeWeek
		for i := range weeks {
			if !weeks[i].Known {
				continue
			}
			if last != nil && (dots[k].X <= dots[k-1].X || weeks[i].Cadence.Value > last.Cadence.Value+1e-6 && dots[k].Y >= dots[k-1].Y) {
				t.Fatalf("week %d stands wrong: %+v after %+v", i, dots[k], dots[k-1])
			}
			last, k = &weeks[i], k+1
		}
	})
}
