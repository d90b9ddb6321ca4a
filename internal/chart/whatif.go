package chart

import (
	"math"

	"plumbstride/internal/plan"
	"plumbstride/internal/words"
)

// WhatIfOptions say how a what-if plot is set: its width and the size of its
// type, in one unit, and whether titles stand above their marks.
type WhatIfOptions struct {
	Width, Text float64
	Narrow      bool
	Words       words.Book
}

// WhatIf draws what changes of cadence are expected to do at the same speed:
// for each quantity a mark a change, its 95 % interval as a whisker, and the
// number beside it. Quantities of one unit share an axis. A diamond is exact,
// a full dot an estimate with its interval, a hollow one an estimate without.
func WhatIf(m Measurer, changes []plan.Change, o WhatIfOptions) Drawing {
	p := &whatIf{setter: setter{m, o.Text}, o: o, changes: changes}
	p.d.Width = o.Width
	p.d.Title = o.Words.Say("What quicker steps do at the same speed")
	p.layOut()
	for _, unit := range []string{"%", "deg"} {
		p.group(unit)
	}
	p.known()
	p.d.Height = p.y
	return p.d
}

type whatIf struct {
	setter
	o           WhatIfOptions
	changes     []plan.Change
	d           Drawing
	y           float64
	left, right float64 // of the plot
	value       float64 // right edge of the column of numbers
	low, high   float64 // of the axis
}

func (p *whatIf) layOut() {
	p.left, p.value = 0.34*p.o.Width, p.o.Width
	if p.o.Narrow {
		p.left = 0.14 * p.o.Width
	}
	p.right = p.o.Width - 11.6*p.o.Text
}

// group draws the quantities of one unit under one axis.
func (p *whatIf) group(unit string) {
	var rows []int
	p.low, p.high = 0, 0
	for i, e := range p.changes[0].Effects {
		if e.Unit != unit || !e.Change.Known() {
			continue
		}
		rows = append(rows, i)
		for _, c := range p.changes {
			for _, v := range []float64{float64(c.Effects[i].Change), float64(c.Effects[i].Low), float64(c.Effects[i].High)} {
				if finite(v) {
					p.low, p.high = math.Min(p.low, v), math.Max(p.high, v)
				}
			}
		}
	}
	if len(rows) == 0 {
		return
	}
	step := 5.0
	if unit == "deg" {
		step = 2
	}
	p.low, p.high = step*math.Floor(p.low/step), math.Max(1.1*p.high, 0.4*step)
	top := p.y
	before := len(p.d.Items)
	p.axis(unit, step)
	for _, i := range rows {
		p.quantity(i)
	}
	p.grid(before, top+1.6*p.size, step)
	p.y += 1.3 * p.size
}

func (p *whatIf) x(v float64) float64 {
	return p.left + (p.right-p.left)*(v-p.low)/(p.high-p.low)
}

// axis writes the ticks over the group.
func (p *whatIf) axis(unit string, step float64) {
	base := p.y + p.size
	sign := "%"
	if unit == "deg" {
		sign = "°"
	}
	every := step
	if (p.high-p.low)/step > 8 {
		every = 2 * step
	}
	for v := 0.0; v >= p.low; v -= every {
		text := decimalWords(p.o.Words, v, 0, false)
		if v == 0 {
			text = p.o.Words.Say("now")
		}
		p.d.add(p.label(p.x(v), base, text, Sans, 0.86, Middle, Quiet, 0))
	}
	p.d.add(p.label(p.value, base, map[string]string{
		"%": p.o.Words.Say("change, %% of now"), "°": p.o.Words.Say("change, degrees"),
	}[sign], Sans, 0.86, End, Quiet, p.value-p.x(0)-p.size))
	p.y += 1.9 * p.size
}

// grid puts hairlines and the line of no change behind what was drawn.
func (p *whatIf) grid(before int, top, step float64) {
	front := append([]Item(nil), p.d.Items[before:]...)
	p.d.Items = p.d.Items[:before]
	for v := -step; v >= p.low; v -= step {
		p.d.add(Segment{p.x(v), top, p.x(v), p.y, Stroke{Ink: Rule, Width: 0.05 * p.size}})
	}
	p.d.add(Segment{p.x(0), top - 0.3*p.size, p.x(0), p.y, Stroke{Ink: Accent, Width: 0.12 * p.size}})
	p.d.add(front...)
}

// quantity draws one quantity: its title, and a line a change.
func (p *whatIf) quantity(i int) {
	title := p.o.Words.Of(p.changes[0].Effects[i].Title)
	leading := 1.5 * p.size
	if p.o.Narrow {
		p.d.add(p.label(0, p.y+p.size, title, SansMedium, 1, Start, Text, p.o.Width))
		p.y += 1.5 * p.size
	} else {
		for n, line := range Clamp(p.m, SansMedium, p.size, p.left-5.2*p.size, 3, title) {
			p.d.add(p.label(0, p.y+p.size+1.25*p.size*float64(n), line, SansMedium, 1, Start, Text, 0))
		}
	}
	for _, c := range p.changes {
		p.mark(c.CadencePct, c.Effects[i], p.y+0.75*p.size)
		p.y += leading
	}
	p.y += 0.5 * p.size
}

// mark draws one change at a height.
func (p *whatIf) mark(pct float64, e plan.Effect, y float64) {
	base := y + 0.35*p.size
	p.d.add(p.label(p.left-0.8*p.size, base, decimalWords(p.o.Words, pct, -1, true)+" %", Sans, 0.86, End, Quiet, 0))
	x := p.x(float64(e.Change))
	r := 0.3 * p.size
	line := Stroke{Ink: Text, Width: 0.11 * p.size}
	switch {
	case e.Kind == "exact":
		p.d.add(Path{Fill: Text, Ops: []Op{
			{Do: 'M', X: x - r, Y: y}, {Do: 'L', X: x, Y: y - r}, {Do: 'L', X: x + r, Y: y}, {Do: 'L', X: x, Y: y + r}, {Do: 'Z'},
		}})
	case e.Low.Known():
		p.d.add(Segment{p.x(float64(e.Low)), y, p.x(float64(e.High)), y, line}, Circle{X: x, Y: y, R: r, Fill: Text})
	default:
		p.d.add(Circle{X: x, Y: y, R: r, Fill: Page, Stroke: line})
	}
	unit := " %"
	if e.Unit == "deg" {
		unit = "°"
	}
	text := decimalWords(p.o.Words, float64(e.Change), 1, true) + unit
	if e.Low.Known() && e.Kind != "exact" {
		text = p.o.Words.Say("%s (%s to %s)", text, decimalWords(p.o.Words, float64(e.Low), 1, true), decimalWords(p.o.Words, float64(e.High), 1, true))
	}
	p.d.add(p.label(p.value, base, text, Sans, 0.86, End, Text, p.value-p.right-p.size*0.4))
}

// known names what is known by its direction alone, and tells the marks.
func (p *whatIf) known() {
	var lines []string
	for _, e := range p.changes[0].Effects {
		if !e.Change.Known() {
			says := "%s falls; by how much was not seen."
			if e.Direction == "rises" {
				says = "%s rises; by how much was not seen."
			}
			lines = append(lines, p.o.Words.Say(says, p.o.Words.Of(e.Title)))
		}
	}
	key := p.o.Words.Say("Diamond: exact. Dot and whisker: mean of a group and its 95 % interval. Hollow: no interval was seen published.")
	lines = append(lines, key)
	p.d.Desc = key
	for _, text := range lines {
		for _, line := range Wrap(p.m, Sans, 0.86*p.size, p.o.Width, text) {
			p.d.add(p.label(0, p.y+0.86*p.size, line, Sans, 0.86, Start, Quiet, 0))
			p.y += 1.2 * p.size
		}
	}
	p.y += 0.2 * p.size
}
