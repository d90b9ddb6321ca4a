package card

import (
	"plumbstride/internal/form"
	"plumbstride/internal/measure"
)

// SplitBehind gives the part of a card that was seen from the side, and the
// part from behind as a card of its own; ok is false without a second clip,
// and side is then the card itself.
func SplitBehind(c Card) (side, behind Card, ok bool) {
	if c.Behind == nil {
		return c, Card{}, false
	}
	side, b := c, c.Behind
	behind = Card{
		Program: c.Program, Made: c.Made, Kind: c.Kind, Runner: c.Runner, Clip: b.Clip,
		Priority: Priority{Why: b.Says}, Networks: b.Networks, Notes: b.Notes,
	}
	side.Behind, side.Measures, side.Refused, side.Pictures = nil, nil, nil, nil
	for _, m := range c.Measures {
		if m.View == string(form.ViewBack) {
			behind.Measures = append(behind.Measures, m)
		} else {
			side.Measures = append(side.Measures, m)
		}
	}
	names := map[string]bool{}
	for _, d := range measure.Table() {
		names[d.Name] = names[d.Name] || d.View == form.ViewBack
	}
	for _, r := range c.Refused {
		if names[r.Name] {
			behind.Refused = append(behind.Refused, r)
		} else {
			side.Refused = append(side.Refused, r)
		}
	}
	for _, p := range c.Pictures {
		if p.View == form.ViewBack {
			behind.Pictures = append(behind.Pictures, p)
		} else {
			side.Pictures = append(side.Pictures, p)
		}
	}
	return side, behind, true
}
