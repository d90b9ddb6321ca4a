package chart

import (
	"math"
	"strconv"
	"time"

	"plumbstride/internal/words"
)

// PracticeWeek is one week of a runner's practice.
type PracticeWeek struct {
	Monday time.Time
	// Cadence is steps a minute at equal speed with its 95 % interval; not
	// Known where it can't be told.
	Cadence Dated
	Known   bool
	// Low and High are the target's band, 0 without one.
	Low, High float64
	// InBand, Planned and Running are minutes.
	InBand, Planned, Running float64
}

// The size of both drawings, in the units of a phone's page.
const (
	practiceWidth               = 340.0
	practiceHeight              = 180.0
	practiceText                = 11.0
	practiceLeft, practiceRight = 40.0, practiceWidth - 8
	practiceTop, practiceBottom = 26.0, practiceHeight - 24
)

// weekAt is the middle of a week's place, and how wide it is.
func weekAt(weeks []PracticeWeek, i int) (x, width float64) {
	first, last := weeks[0].Monday, weeks[len(weeks)-1].Monday
	places := math.Round(last.Sub(first).Hours()/(7*24)) + 1
	width = (practiceRight - practiceLeft) / places
	at := math.Round(weeks[i].Monday.Sub(first).Hours() / (7 * 24))
	return practiceLeft + width*(at+0.5), width
}

// PracticeCadence draws cadence at equal speed week by week: a dot with its
// 95 % interval as a whisker, over the target's band where there is one.
func PracticeCadence(m Measurer, weeks []PracticeWeek, b words.Book) Drawing {
	d := Drawing{Width: practiceWidth, Height: practiceHeight, Title: b.Say("Cadence at equal speed, by week"), Desc: b.Say("Weeks: %d; each dot with its 95 %% interval.", len(weeks))}
	low, high := math.Inf(1), math.Inf(-1)
	for _, w := range weeks {
		if w.Known {
			low, high = min(low, w.Cadence.Low, w.Cadence.Value), max(high, w.Cadence.High, w.Cadence.Value)
		}
		if w.Low > 0 {
			low, high = min(low, w.Low), max(high, w.High)
		}
	}
	if math.IsInf(low, 0) {
		return d
	}
	step := tickStep(high-low, 4)
	low, high = math.Floor(low/step)*step, math.Ceil(high/step)*step
	if high <= low {
		high = low + step
	}
	y := func(v float64) float64 { return practiceBottom - (v-low)/(high-low)*(practiceBottom-practiceTop) }
	for i, w := range weeks {
		if x, width := weekAt(weeks, i); w.Low > 0 {
			d.Add(rect(x-width/2, y(w.High), x+width/2, y(w.Low), Shade))
		}
	}
	practiceAxis(&d, m, b.Say("steps/min"), low, high, step, y, b)
	for i, w := range weeks {
		if x, _ := weekAt(weeks, i); w.Known {
			d.Add(Segment{X1: x, Y1: y(w.Cadence.Low), X2: x, Y2: y(w.Cadence.High), Stroke: Stroke{Ink: Text, Width: 1.2, Round: true}},
				Circle{X: x, Y: y(w.Cadence.Value), R: 3.8, Fill: Accent})
		}
	}
	practiceDates(&d, m, weeks, b)
	return d
}

// PracticeMinutes draws the minutes in the target's band week by week as
// bars, and what the plan asked for as a line across each.
func PracticeMinutes(m Measurer, weeks []PracticeWeek, b words.Book) Drawing {
	d := Drawing{Width: practiceWidth, Height: practiceHeight, Title: b.Say("Minutes in the band, by week"), Desc: b.Say("Weeks: %d; the line across a bar is what the plan asked for.", len(weeks))}
	high := 0.0
	for _, w := range weeks {
		high = max(high, w.InBand, w.Planned)
	}
	if len(weeks) == 0 {
		return d
	}
	step := max(5, tickStep(high, 4))
	high = max(step, math.Ceil(high/step)*step)
	y := func(v float64) float64 { return practiceBottom - v/high*(practiceBottom-practiceTop) }
	practiceAxis(&d, m, b.Say("minutes"), 0, high, step, y, b)
	for i, w := range weeks {
		x, width := weekAt(weeks, i)
		half := min(9, 0.32*width)
		if w.InBand > 0 {
			d.Add(rect(x-half, y(w.InBand), x+half, practiceBottom, Thread))
		}
		if w.Planned > 0 {
			d.Add(Segment{X1: x - 1.5*half, Y1: y(w.Planned), X2: x + 1.5*half, Y2: y(w.Planned), Stroke: Stroke{Ink: Accent, Width: 2, Round: true}})
		}
	}
	practiceDates(&d, m, weeks, b)
	return d
}

// tickStep is a round step that divides a span in so many or fewer.
func tickStep(span float64, most int) float64 {
	for _, s := range []float64{1, 2, 5, 10, 20, 30, 60, 120, 300, 600} {
		if span <= s*float64(most) {
			return s
		}
	}
	return math.Ceil(span / float64(most))
}

// practiceAxis draws the ticks with their numbers, and the unit above them.
func practiceAxis(d *Drawing, m Measurer, unit string, low, high, step float64, y func(float64) float64, b words.Book) {
	d.Add(Set(m, 0, 11, unit, Sans, practiceText, Start, Quiet))
	for v := low; v <= high+step/100; v += step {
		d.Add(Segment{X1: practiceLeft, Y1: y(v), X2: practiceRight, Y2: y(v), Stroke: Stroke{Ink: Rule, Width: 0.7}},
			Set(m, practiceLeft-6, y(v)+0.35*practiceText, b.Figures(strconv.FormatFloat(v, 'f', -1, 64)), Sans, practiceText, End, Quiet))
	}
}

// practiceDates writes the first and the last week's Monday below.
func practiceDates(d *Drawing, m Measurer, weeks []PracticeWeek, b words.Book) {
	d.Add(Set(m, practiceLeft, practiceHeight-6, b.ShortDate(weeks[0].Monday), Sans, practiceText, Start, Quiet))
	if len(weeks) > 1 {
		d.Add(Set(m, practiceRight, practiceHeight-6, b.ShortDate(weeks[len(weeks)-1].Monday), Sans, practiceText, End, Quiet))
	}
}
