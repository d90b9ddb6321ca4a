package recheck

import (
	"slices"
	"strings"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/quantity"
	"plumbstride/internal/words"
)

// Shown is a change as people read it, in the coach's units: both values and
// the difference with half of its 95 % interval, and the smallest change that
// would have shown. Star is "*" where it is more than chance with all
// counted together.
type Shown struct {
	Title, Side, Unit            string
	Before, After                string
	Difference, PlusMinus, Least string
	Verdict, Star                string
}

// Show writes a change in a book's language.
func (c Change) Show(units quantity.Units, b words.Book) Shown {
	of := func(v Value) string {
		return card.Show(card.Measure{Name: c.Name, Unit: c.Unit, Value: v.Value, SD: v.SD, Low: v.Low, High: v.High}, units).In(b).Value
	}
	d := card.Show(card.Measure{Name: c.Name, Unit: c.Unit, Value: c.Difference, SD: c.SD, Low: c.Low, High: c.High}, units).In(b)
	least := card.Show(card.Measure{Name: c.Name, Unit: c.Unit, Value: c.MDC95, SD: c.SD, Low: c.MDC95 - 1.96*c.SD, High: c.MDC95 + 1.96*c.SD}, units).In(b)
	s := Shown{
		Title: b.Of(c.Title), Side: card.SideIn(c.Side, b), Unit: d.Unit,
		Before: of(c.Before), After: of(c.After), Difference: d.Value, PlusMinus: d.PlusMinus, Least: least.Value,
		Verdict: c.Verdict.Words(b),
	}
	if c.Difference > 0 && strings.Trim(s.Difference, "0.,") != "" {
		s.Difference = "+" + s.Difference
	}
	if c.Stands && !c.Planned {
		s.Star = "*"
	}
	return s
}

// Words is a verdict for people.
func (v Verdict) Words(b words.Book) string {
	switch v {
	case Toward:
		return b.Say("toward its band")
	case Away:
		return b.Say("away from its band")
	case Different:
		return b.Say("changed")
	default:
		return b.Say("no change told")
	}
}

// Words is an outcome in two or three words, as a heading.
func (o Outcome) Words(b words.Book) string {
	switch o {
	case LearntIt:
		return b.Say("Held")
	case Reached:
		return b.Say("In its band now")
	case Nearer:
		return b.Say("Nearer to its band")
	case Further:
		return b.Say("Further from its band")
	case Unmoved:
		return b.Say("No change told from noise")
	case Blind:
		return b.Say("These clips can’t tell: film better")
	case NotComparable:
		return b.Say("Can’t be compared")
	default:
		return b.Say("Nothing was worked on")
	}
}

// Lead is the heading of a comparison: what was worked on, how it stands, and
// what comes next where the runner has moved on.
func (c Comparison) Lead(b words.Book) string {
	p := c.Planned
	if p.Area == "" {
		return p.Outcome.Words(b)
	}
	return b.Say("%s: %s", card.Capital(b.Of(p.Area)), b.Inside(p.Outcome.Words(b)))
}

// NextWords says what comes after what was worked on; "" where that stays.
func (c Comparison) NextWords(b words.Book) string {
	switch p := c.Planned; {
	case p.MovedOn && p.Next != nil:
		return b.Say("Moved on: next is %s. %s", b.Of(*p.Next), b.Of(p.NextSays))
	case p.MovedOn:
		return b.Say("Moved on. %s", b.Of(p.NextSays))
	case p.Area == "" && p.Next != nil:
		return b.Say("The second check puts first: %s. %s", b.Of(*p.Next), b.Of(p.NextSays))
	default:
		return ""
	}
}

// In gives the comparison with everything that is told in it in a book's
// language. Names that the program goes by stay.
func (c Comparison) In(b words.Book) Comparison {
	if b.Language() == words.English {
		return c
	}
	c.Unlike, c.Planned.Says = b.Of(c.Unlike), b.Of(c.Planned.Says)
	c.Notes, c.Cautions = b.Each(c.Notes), b.Each(c.Cautions)
	c.NotCompared = slices.Clone(c.NotCompared)
	for i := range c.NotCompared {
		c.NotCompared[i].Reason = b.Of(c.NotCompared[i].Reason)
	}
	return c
}

// Left are the measures that were not compared, by the reason why.
func (c Comparison) Left(b words.Book) []card.Unmeasured {
	like := card.Card{Refused: slices.CompactFunc(slices.Clone(c.NotCompared), func(x, y form.Refusal) bool { return x == y })}
	return card.GroupRefusalsIn(like, b)
}
