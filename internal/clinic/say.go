package clinic

import (
	"strconv"
	"strings"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/quantity"
	"plumbstride/internal/words"
)

// Told is a report in the words of a language.
type Told struct {
	// Lead is what is said first.
	Lead  []string
	Areas []ToldArea
	// Drills and Lengths are what went with more change.
	Drills, Lengths []string
	// Read tells how to read it and what it can't tell.
	Read []string
}

// ToldArea is one area.
type ToldArea struct {
	Name  string
	Lines []string
}

// Tell puts the report into the words of b and the shop's units; drill gives a
// drill's title.
func (r Report) Tell(b words.Book, units quantity.Units, drill func(id string) string) Told {
	t := Told{Lead: []string{b.Say("Runners with a first check: %d. Nothing on this page names anybody, and no measure rests on fewer than %d runners.", r.Checked, Smallest)}}
	if len(r.Areas) == 0 {
		t.Lead = append(t.Lead, b.Say("Nothing can be told yet: in no area have %d runners or more begun to work.", Smallest))
	}
	for _, a := range r.Areas {
		t.Areas = append(t.Areas, ToldArea{card.Capital(b.Of(a.Area)), a.lines(b, units)})
	}
	for _, name := range r.TooFew {
		t.Lead = append(t.Lead, b.Say("%s: fewer than %d runners worked on it, so nothing is told.", card.Capital(b.Of(name)), Smallest))
	}
	for _, d := range r.Drills {
		line := b.Say("%s: %s SD more change in %d runners with it than in %d without.", drill(d.Drill), ranged(b, d.MoreSD, 2), d.With, d.Without)
		if d.Standing {
			line += " " + b.Say("More than chance with all drills counted together.")
		}
		t.Drills = append(t.Drills, line)
	}
	for _, l := range r.Lengths {
		t.Lengths = append(t.Lengths, b.Say("%d weeks: %s SD, %d runners.", l.Weeks, ranged(b, l.Change, 2), l.Change.N))
	}
	t.Read = []string{
		b.Say("Who is chosen for standing out would come nearer to the middle next time by chance alone. That part is worked out from all first checks and from how far a check varies by itself, and is taken off. “As seen” is before that."),
		b.Say("A change is no proof that the clinic made it: nobody was left without for comparison. What became of the same measure in those who worked on something else is told where they are enough."),
		b.Say("Those who come back may be those who practised. How many stayed away is told, and what is left if none of them had changed."),
		b.Say("Whoever is back although their day is still to come counts in the change, but not in how many came back."),
		b.Say("What went with more change may have been chosen for runners who change easily. It is no proof that the drill or the length did it."),
		b.Say("Change one thing at a time, and slowly. Whoever feels pain stops."),
		b.Say("Quicker steps, landing further back and work on the forefoot load the calf and the Achilles tendon more: a little, then more over weeks."),
		b.Say("Form that comes nearer to a band is no promise of fewer injuries or of faster running."),
		b.Say("Whoever has pain, a fresh injury or a question about health sees a doctor or a physiotherapist first. This is no medical device."),
	}
	return t
}

// lines are what is told of an area.
func (a Area) lines(b words.Book, units quantity.Units) []string {
	var out []string
	if a.Returned != nil {
		out = append(out, b.Say("%d began; the day to come back is over for %d of them, and %d of these came.", a.Started, *a.Due, *a.Back))
		out = append(out, b.Say("Came back: %s %%.", ranged(b, *a.Returned, 0)))
	} else {
		out = append(out, b.Say("%d began; the day to come back is over for fewer than %d of them.", a.Started, Smallest))
	}
	if a.Pooled == nil {
		out = append(out, b.Say("Fewer than %d can be compared so far: no change is told.", Smallest))
	}
	for _, c := range a.Changes {
		c = c.in(units)
		out = append(out, c.line(b))
		if c.Others != nil {
			out = append(out, b.Say("The same in %d who worked on something else: %s %s.", c.Others.N, ranged(b, *c.Others, c.digits()), b.Of(card.UnitSign(c.Measure.Unit))))
		}
	}
	if a.IfUnchanged != nil {
		out = append(out, b.Say("All measures together: %s SD toward the band; if none of those who stayed away had changed, %s SD.", ranged(b, *a.Pooled, 2), ranged(b, *a.IfUnchanged, 2)))
	}
	if a.InBand != nil {
		out = append(out, b.Say("Now more likely inside the band than outside: %s %%.", ranged(b, *a.InBand, 0)))
	}
	if a.Learnt != nil {
		out = append(out, b.Say("Learnt by the rule of the re-check: %s %% of %d whose checks lie three weeks or more apart.", ranged(b, *a.Learnt, 0), a.Learnt.N))
	}
	if a.Missing != nil {
		out = append(out, b.Say("Those who stayed away had stood further out at first by %s SD than those who came back.", ranged(b, *a.Missing, 2)))
	}
	if a.BeganInside >= Smallest {
		out = append(out, b.Say("%d began inside the band and are left out of the change.", a.BeganInside))
	}
	for i := range out {
		out[i] = strings.ReplaceAll(out[i], "  ", " ") // a share has no unit
	}
	return out
}

// in gives the change in the shop's units.
func (c Change) in(units quantity.Units) Change {
	scaled := func(e *Estimate) *Estimate {
		if e == nil {
			return nil
		}
		out := Estimate{N: e.N}
		out.Value, _ = units.Convert(e.Value, c.Measure.Unit)
		out.Low, _ = units.Convert(e.Low, c.Measure.Unit)
		out.High, _ = units.Convert(e.High, c.Measure.Unit)
		return &out
	}
	seen, own, others := scaled(&c.Seen), scaled(c.Own), scaled(c.Others)
	_, c.Measure.Unit = units.Convert(0, c.Measure.Unit)
	c.Seen, c.Own, c.Others = *seen, own, others
	return c
}

func (c Change) line(b words.Book) string {
	name, unit, digits := b.Of(c.Measure.Title), b.Of(card.UnitSign(c.Measure.Unit)), c.digits()
	if c.Own == nil {
		if c.More {
			return b.Say("%s, toward more: %s %s as seen in %d runners. How much of it is chance can't be told before %d first checks.", name, ranged(b, c.Seen, digits), unit, c.Seen.N, leastBackground)
		}
		return b.Say("%s, toward less: %s %s as seen in %d runners. How much of it is chance can't be told before %d first checks.", name, ranged(b, c.Seen, digits), unit, c.Seen.N, leastBackground)
	}
	if c.More {
		return b.Say("%s, toward more: %s %s in %d runners (as seen: %s).", name, ranged(b, *c.Own, digits), unit, c.Own.N, signed(b, c.Seen.Value, digits))
	}
	return b.Say("%s, toward less: %s %s in %d runners (as seen: %s).", name, ranged(b, *c.Own, digits), unit, c.Own.N, signed(b, c.Seen.Value, digits))
}

// digits is how finely a unit is told.
func (c Change) digits() int {
	switch c.Measure.Unit {
	case "ms", "%", "% leg length":
		return 0
	case "–", "in":
		return 2
	default:
		return 1
	}
}

// ranged is an estimate with its interval.
func ranged(b words.Book, e Estimate, digits int) string {
	if e.Low >= 0 && digits == 0 {
		return b.Say("%s (%s to %s)", plain(b, e.Value, 0), plain(b, e.Low, 0), plain(b, e.High, 0))
	}
	return b.Say("%s (%s to %s)", signed(b, e.Value, digits), signed(b, e.Low, digits), signed(b, e.High, digits))
}

func plain(b words.Book, v float64, digits int) string {
	return b.Figures(strconv.FormatFloat(v, 'f', digits, 64))
}

// signed writes a difference in the language's way.
func signed(b words.Book, v float64, digits int) string { return b.Figures(form.Signed(v, digits)) }
