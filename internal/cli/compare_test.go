package cli

import (
	"fmt"
	"math"
	"testing"
	"time"

	"plumbstride/internal/card"
	"plumbstride/internal/judge"
	"plumbstride/internal/quantity"
	"plumbstride/internal/recheck"
	"plumbstride/internal/words"
)

// Whatever comes out of two checks is told in each language: every area, in
// its band or far out of it before and after, and checks that are unlike in
// every way that is known.
func TestComparisonTextIsTranslated(t *testing.T) {
	rows := judge.Rows()
	at := time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC)
	made := func(off float64, weeks int, spoil func(*card.Card)) card.Card {
		c := judged(rows, func(int) float64 { return off }, nil, false)
		c.Made = at.AddDate(0, 0, 7*weeks)
		c.Networks = []card.Network{{Name: "full", SHA256: "a"}}
		if spoil != nil {
			spoil(&c)
		}
		return c
	}
	var all []recheck.Comparison
	outcomes := map[recheck.Outcome]bool{}
	add := func(before, after card.Card, o recheck.Options) {
		c, err := recheck.Of(before, after, o)
		if err != nil {
			t.Fatal(err)
		}
		outcomes[c.Planned.Outcome] = true
		all = append(all, c)
	}
	areas := append(card.AreaNames(), "")
	for _, area := range areas {
		for _, offs := range [][2]float64{{2, 2.1}, {2, -1}, {2, 1}, {2, 3.5}, {-1, -1}, {0.05, 0.04}} {
			add(made(offs[0], 0, nil), made(offs[1], 8, nil), recheck.Options{Area: area})
		}
	}
	practice := &recheck.Practice{CadenceSPM: 175, SD: 1, SpeedMS: 2.8, From: at, To: at.AddDate(0, 0, 40)}
	add(made(2, 0, nil), made(-1, 8, nil), recheck.Options{Area: judge.Cadence, Practice: practice})
	for i, spoil := range []func(*card.Card){
		func(c *card.Card) { c.Kind = card.Standing }, func(c *card.Card) { c.Clip.Samples = 5 }, func(c *card.Card) { c.Clip.Gait = "walking" },
		func(c *card.Card) { c.Clip.View = "back" }, func(c *card.Card) { c.Clip.Setting = "treadmill" }, func(c *card.Card) { c.Networks = nil },
		func(c *card.Card) { c.Networks = []card.Network{{Name: "heavy", SHA256: "b"}} }, func(c *card.Card) { c.Clip.Facing = "right" },
		func(c *card.Card) { c.Runner.HeightM = 1.8 }, func(c *card.Card) { c.Clip.SpeedMS = 3.3 }, func(c *card.Card) { c.Clip.SpeedMS = card.Number(math.NaN()) },
		func(c *card.Card) { c.Measures = c.Measures[:2] }, func(c *card.Card) { c.Made = at.Add(time.Hour) }, func(c *card.Card) { c.Measures[0].Name = "xyz" },
	} {
		add(made(2, 0, nil), made(1, 8, spoil), recheck.Options{Area: judge.Cadence, OtherShoes: i%2 == 0})
		if i != 12 {
			add(made(1, 0, spoil), made(2, 8, nil), recheck.Options{Area: judge.Landing})
		}
	}
	for _, want := range []recheck.Outcome{recheck.LearntIt, recheck.Reached, recheck.Nearer, recheck.Further, recheck.Unmoved, recheck.Blind, recheck.NotComparable, recheck.Nothing} {
		if !outcomes[want] {
			t.Errorf("no comparison came to %q", want)
		}
	}
	for _, l := range []words.Language{words.Spanish, words.German} {
		b, err := words.In(l)
		if err != nil {
			t.Fatal(err)
		}
		seen := map[string]bool{}
		for _, c := range all {
			left := leftover(comparisonText(c.In(b), quantity.Metric, 0, b))
			if left != "" && !seen[left] {
				seen[left] = true
				t.Errorf("%s, %s:\n%s", l, fmt.Sprint(c.Planned.Area, " ", c.Planned.Outcome), left)
			}
		}
	}
}
