package chart

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"plumbstride/internal/words"
)

// even is a measurer of a font whose letters are all half as wide as high.
type even struct{}

func (even) Width(_ Font, size float64, text string) float64 {
	return 0.5 * size * float64(len([]rune(text)))
}

// TestHistoryKeepsOrder: a larger value stands higher, a later check further
// right, every dot lies on its whisker, and all stays within the drawing.
func TestHistoryKeepsOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 8).Draw(t, "checks")
		at := time.Date(2026, 3, 2, 19, 0, 0, 0, time.UTC)
		var points []Dated
		for range n {
			v := rapid.Float64Range(-200, 200).Draw(t, "value")
			half := rapid.Float64Range(0, 40).Draw(t, "half")
			points = append(points, Dated{At: at, Value: v, Low: v - half, High: v + half})
			at = at.Add(time.Duration(rapid.IntRange(0, 2000).Draw(t, "hours")) * time.Hour)
		}
		d := History(even{}, "Cadence", points, words.Book{})
		var dots []Circle
		for _, item := range d.Items {
			if c, ok := item.(Circle); ok {
				dots = append(dots, c)
			}
			if b := item.Box(); b.X1 < -1 || b.X2 > d.Width+1 || b.Y1 < 0 || b.Y2 > d.Height {
				t.Fatalf("%+v leaves the drawing", item)
			}
		}
		if len(dots) != n {
			t.Fatalf("%d dots for %d checks", len(dots), n)
		}
		for i := 1; i < n; i++ {
			if dots[i].X < dots[i-1].X {
				t.Fatalf("check %d stands before the one before it", i)
			}
			if points[i].Value > points[i-1].Value+1e-6 && dots[i].Y >= dots[i-1].Y {
				t.Fatalf("the larger value %v stands no higher than %v", points[i], points[i-1])
			}
		}
		if svg := d.SVG("h"); strings.Contains(svg, "NaN") || strings.Contains(svg, "Inf") {
			t.Fatal("a drawing with numbers that are none")
		}
	})
	if d := History(even{}, "Cadence", nil, words.Book{}); len(d.Items) != 0 {
		t.Error("something is drawn of nothing")
	}
}
