package chart

import (
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/words"
)

// Mean is the mean of a group with its 95 % interval.
type Mean struct {
	Title            string
	Value, Low, High float64
	// N is how many it rests on.
	N int
}

// meansText is the size of the type of Means, in the unit of its width.
const meansText = 11.0

// Means hangs the means of groups as bobs beside one plumb line, which stands
// at no change: distances are in standard deviations between runners, whiskers
// are 95 % intervals. The height follows from the rows.
func Means(m Measurer, title string, rows []Mean, width float64, b words.Book) Drawing {
	d := Drawing{Width: width, Title: title}
	reach := 0.5
	for _, r := range rows {
		reach = math.Max(reach, math.Max(math.Abs(r.Low), math.Abs(r.High)))
	}
	reach = math.Min(2, math.Ceil(2*reach)/2)
	const left, right, high = 12.0, 12.0, 46.0
	line := width / 2
	x := func(v float64) float64 { return line + v/reach*(width-left-right)/2 }
	y := 1.6 * meansText
	d.Add(Set(m, left, meansText, b.Say("← away from the band"), Sans, 0.9*meansText, Start, Quiet),
		Set(m, width-right, meansText, b.Say("toward it →"), Sans, 0.9*meansText, End, Quiet))
	bottom := y + high*float64(len(rows))
	for v := -reach; v <= reach+1e-9; v += 0.5 {
		ink := Stroke{Ink: Rule, Width: 0.6}
		if math.Abs(v) < 1e-9 {
			ink = Stroke{Ink: Accent, Width: 1.4}
		}
		for i := range rows { // beside the words, not through them
			top := y + high*float64(i) + 1.5*meansText
			d.Add(Segment{X1: x(v), Y1: top, X2: x(v), Y2: top + high - 2*meansText, Stroke: ink})
		}
		d.Add(Set(m, x(v), bottom+1.2*meansText, decimalWords(b, v, 1, true), Sans, 0.9*meansText, Middle, Quiet))
	}
	for _, r := range rows {
		d.Add(Set(m, left, y+meansText, r.Title, SansMedium, meansText, Start, Text),
			Set(m, width-right, y+meansText, b.Say("%s (%s to %s), %d runners", decimalWords(b, r.Value, 2, true), decimalWords(b, r.Low, 2, true), decimalWords(b, r.High, 2, true), r.N), Sans, meansText, End, Text))
		middle := y + 2.6*meansText
		d.Add(whisker(x(r.Low), x(r.High), left, width-right, middle, 3, Stroke{Ink: Text, Width: 1.2, Round: true})...)
		at, beyond := x(math.Max(-reach, math.Min(reach, r.Value))), math.Abs(r.Value) > reach
		d.Add(bob(at, middle, 1.5*meansText, form.Both, Accent, beyond))
		y += high
	}
	d.Height = bottom + 1.6*meansText
	key := b.Say("Mean change toward the band, in standard deviations between runners, with its 95 %% interval. The line is no change.")
	for _, text := range Wrap(m, Sans, 0.9*meansText, width-left-right, key) {
		d.Height += 1.25 * meansText
		d.Add(Set(m, left, d.Height-0.3*meansText, text, Sans, 0.9*meansText, Start, Quiet))
	}
	d.Desc = key
	return d
}
