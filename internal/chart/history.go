package chart

import (
	"math"
	"strconv"
	"strings"
	"time"

	"plumbstride/internal/words"
)

// Dated is one value of a measure with its 95 % interval, in the measure's
// own unit, and when it was taken.
type Dated struct {
	At               time.Time
	Value, Low, High float64
}

// The history's size, in the units of a phone's page.
const (
	historyWidth, historyHeight = 320.0, 116.0
	historyText                 = 11.0
)

// History draws one measure over time, the earliest first: a dot a check at
// its day, its 95 % interval as a whisker, and a line between them that is no
// promise, in the words of b. title says what it is. Without points the drawing is empty.
func History(m Measurer, title string, points []Dated, b words.Book) Drawing {
	d := Drawing{Width: historyWidth, Height: historyHeight, Title: title, Desc: b.Say("Checks: %d", len(points))}
	if len(points) == 0 {
		return d
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range points {
		low, high = min(low, p.Low, p.Value), max(high, p.High, p.Value)
	}
	if high-low < 1e-9 {
		low, high = low-1, high+1
	}
	const right, top, bottom = historyWidth - 26, 12.0, historyHeight - 26
	left := 46.0 // more where a number needs it
	tick := func(v float64) string { return b.Figures(shortNumber(v, high-low)) }
	for _, v := range []float64{low, high} {
		left = max(left, m.Width(Sans, historyText, tick(v))+12)
	}
	y := func(v float64) float64 { return bottom - (v-low)/(high-low)*(bottom-top) }
	first, span := points[0].At, points[len(points)-1].At.Sub(points[0].At).Hours()
	x := func(i int) float64 {
		if span < 1 { // within an hour days say nothing: one beside the other
			return left + (right-left)*(float64(i)+0.5)/float64(len(points))
		}
		return left + (right-left)*points[i].At.Sub(first).Hours()/span
	}
	for _, v := range []float64{low, high} {
		d.Add(Segment{X1: left - 8, Y1: y(v), X2: historyWidth, Y2: y(v), Stroke: Stroke{Ink: Rule, Width: 0.7}},
			Set(m, left-12, y(v)+0.35*historyText, tick(v), Sans, historyText, End, Quiet))
	}
	for i := range points[:len(points)-1] {
		d.Add(Segment{X1: x(i), Y1: y(points[i].Value), X2: x(i + 1), Y2: y(points[i+1].Value), Stroke: Stroke{Ink: Thread, Width: 1}})
	}
	for i, p := range points {
		d.Add(Segment{X1: x(i), Y1: y(p.Low), X2: x(i), Y2: y(p.High), Stroke: Stroke{Ink: Text, Width: 1.2, Round: true}},
			Circle{X: x(i), Y: y(p.Value), R: 3.6, Fill: Accent})
	}
	begin := Set(m, left-8, historyHeight-6, b.ShortDate(first), Sans, historyText, Start, Quiet)
	d.Add(begin)
	if last := points[len(points)-1].At; span >= 1 {
		d.Add(Set(m, historyWidth, historyHeight-6, b.ShortDate(last), Sans, historyText, End, Quiet))
	}
	return d
}

// shortNumber writes a tick with as many digits as its span deserves.
func shortNumber(v, span float64) string {
	digits := 0
	switch {
	case span < 0.5:
		digits = 2
	case span < 20:
		digits = 1
	}
	return strings.Replace(strconv.FormatFloat(v, 'f', digits, 64), "-", "−", 1)
}
