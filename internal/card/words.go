package card

import (
	"slices"
	"strings"

	"plumbstride/internal/form"
	"plumbstride/internal/measure"
	"plumbstride/internal/words"
)

// In gives the card with everything that is told on it in a book's language:
// titles, classes, units, notes, reasons, verdict, cautions and pictures. Names that
// the program goes by (of measures, areas, settings) stay. The card itself is
// left alone.
func (c Card) In(b words.Book) Card {
	if b.Language() == words.English {
		return c
	}
	c.Measures = slices.Clone(c.Measures)
	for i := range c.Measures {
		m := &c.Measures[i]
		m.Title, m.Class, m.Note = b.Of(m.Heading()), b.Of(m.Class), b.Of(m.Note)
		m.Classes = inLanguage(m.Classes, b)
		if m.Band != nil {
			band := *m.Band
			band.Source = b.Of(band.Source)
			m.Band = &band
		}
	}
	c.Refused = slices.Clone(c.Refused)
	for i := range c.Refused {
		c.Refused[i].Reason = b.Of(c.Refused[i].Reason)
	}
	c.Areas = slices.Clone(c.Areas)
	for i := range c.Areas {
		c.Areas[i].Why = b.Of(c.Areas[i].Why)
	}
	c.Priority.Why = b.Of(c.Priority.Why)
	c.Notes, c.Cautions = b.Each(c.Notes), b.Each(c.Cautions)
	if c.Behind != nil {
		behind := *c.Behind
		behind.Says, behind.Notes = b.Of(behind.Says), b.Each(behind.Notes)
		c.Behind = &behind
	}
	c.Pictures = slices.Clone(c.Pictures)
	for i := range c.Pictures {
		c.Pictures[i].Title, c.Pictures[i].Moment = b.Of(c.Pictures[i].Title), b.Of(c.Pictures[i].Moment)
	}
	return c
}

// Heading is the measure's title, its name in words where it has none.
func (m Measure) Heading() string {
	if m.Title != "" {
		return m.Title
	}
	return Capital(m.Name)
}

// inLanguage gives the classes by their names in a language.
func inLanguage(classes map[string]float64, b words.Book) map[string]float64 {
	out := make(map[string]float64, len(classes))
	for name, p := range classes {
		out[b.Of(name)] = p
	}
	return out
}

// In gives a value as people of a language read it.
func (s Shown) In(b words.Book) Shown {
	s.Value, s.PlusMinus, s.Unit = b.Figures(s.Value), b.Figures(s.PlusMinus), b.Of(s.Unit)
	s.Band = b.Figures(s.Band)
	if low, high, ok := strings.Cut(s.Band, " to "); ok && b.Language() != words.English {
		s.Band = low + " … " + high // as short as the English, for the same column
	}
	return s
}

// GroupRefusalsIn is GroupRefusals for a card that is in a book's language:
// what was not measured is named in it too.
func GroupRefusalsIn(c Card, b words.Book) []Unmeasured {
	groups := GroupRefusals(c)
	for i := range groups {
		groups[i].What = b.Each(groups[i].What)
	}
	return groups
}

// TitleIn is what a measure is called in a language, by its name and unit.
func TitleIn(name, unit string, b words.Book) string {
	if d, ok := measure.Find(name, unit); ok {
		return b.Of(d.Title)
	}
	if d, ok := measure.FindStanding(name, unit); ok {
		return b.Of(d.Title)
	}
	return b.Of(Capital(Words(name)))
}

// SideIn is the side's word in a language, "" for both.
func SideIn(s form.Side, b words.Book) string {
	if s != form.Left && s != form.Right {
		return ""
	}
	return b.Of(s.String())
}
