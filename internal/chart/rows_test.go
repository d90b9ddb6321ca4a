package chart

import (
	"math"
	"testing"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/quantity"
	"plumbstride/internal/words"
)

// Expected distances are hand computations: (value − middle) / SD.
func TestScale(t *testing.T) {
	nan := math.NaN()
	for _, tt := range []struct {
		name                 string
		low, high, sd, value float64
		at                   float64
		ok, standIn          bool
	}{
		{"in the middle", 165, 185, 10, 175, 0, true, false},
		{"at the upper edge", 165, 185, 10, 185, 1, true, false},
		{"two below", 165, 185, 5, 165, -2, true, false},
		{"open below", nan, 8, 4, 8, 1, true, false},
		{"open below, deep inside", nan, 8, 4, 0, -1, true, false},
		{"open above", 3, nan, 2, 3, -1, true, false},
		{"no spread", 10, 14, 0, 14, 1, true, true},
		{"no spread known", 10, 14, nan, 16, 2, true, true},
		{"open, no spread", nan, 8, 0, 3, 0, false, false},
		{"no ends", nan, nan, 2, 3, 0, false, false},
		{"ends exchanged", 8, 3, 2, 3, 0, false, false},
		{"endless", math.Inf(-1), 3, 2, 3, 0, false, false},
	} {
		s, ok := scaleOf(&card.Band{Low: card.Number(tt.low), High: card.Number(tt.high), PopulationSD: card.Number(tt.sd)})
		if ok != tt.ok || s.standIn != tt.standIn {
			t.Errorf("%s: ok %v, stand-in %v", tt.name, ok, s.standIn)
			continue
		}
		if ok && math.Abs(s.at(tt.value)-tt.at) > 1e-12 {
			t.Errorf("%s: at %v, want %v", tt.name, s.at(tt.value), tt.at)
		}
	}
	if _, ok := scaleOf(nil); ok {
		t.Error("no band has a scale")
	}
}

func TestRowsJoinTheTwoSides(t *testing.T) {
	m := func(name, unit string, side form.Side, v float64) card.Measure {
		return card.Measure{Name: name, Unit: unit, Side: side, Value: v, Low: v, High: v, Area: "landing"}
	}
	gs := groups(card.Card{Measures: []card.Measure{
		m("a", "cm", form.Right, 2), m("a", "cm", form.Left, 1), m("a", "deg", form.Left, 3),
		m("b", "cm", form.Both, 4), m("b", "cm", form.Both, 5), m("a", "cm", form.Left, 6),
		{Name: "c", Side: form.Mid, Area: "no such area"},
	}}, quantity.Metric, words.Book{})
	if len(gs) != 2 || gs[0].title != "Landing" || gs[1].title != "The run" {
		t.Fatalf("groups %+v", gs)
	}
	var got [][]form.Side
	for _, r := range gs[0].rows {
		var sides []form.Side
		for _, m := range r.marks {
			sides = append(sides, m.side)
		}
		got = append(got, sides)
	}
	want := [][]form.Side{{form.Left, form.Right}, {form.Left}, {form.Both}, {form.Both}, {form.Left}}
	if len(got) != len(want) {
		t.Fatalf("rows %v, want %v", got, want)
	}
	for i := range want {
		if len(got[i]) != len(want[i]) || got[i][0] != want[i][0] {
			t.Errorf("row %d: %v, want %v", i, got[i], want[i])
		}
	}
}
