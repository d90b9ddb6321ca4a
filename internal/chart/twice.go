package chart

import (
	"fmt"
	"math"
	"strings"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/recheck"
)

// Twice draws two checks beside one plumb line: each measure's first value as
// a hollow bob, the second as a full one under it, each with its 95 %
// interval, in standard deviations between runners from the middle of the
// band. What was worked on comes first, in the accent; what changed by more
// than noise is dark, the rest pale. Measures without a band have no bobs.
// The comparison is in the words' language already.
func Twice(c recheck.Comparison, m Measurer, o PlumbOptions) Drawing {
	t := &twice{plumb{setter: setter{m, o.Text}, o: o, row: o.Row}}
	gs := t.groups(c)
	t.span = 2
	for _, g := range gs {
		for _, r := range g.rows {
			for _, at := range []float64{r.before.at, r.after.at} {
				if finite(at) {
					t.span = math.Min(math.Max(t.span, math.Ceil(math.Abs(at)+0.3)), 4)
				}
			}
		}
	}
	t.d.Title, t.d.Desc = o.Words.Say("Both checks beside one plumb line"), t.describe(gs)
	t.columns()
	t.head()
	for _, g := range gs {
		t.group(g)
	}
	t.foot()
	return t.finish()
}

// twice is a chart of two checks while it is laid out.
type twice struct{ plumb }

// pair is one measure in both checks.
type pair struct {
	title         string
	shown         recheck.Shown
	ink           Ink
	before, after mark
	bandLow       float64
	bandHigh      float64
}

// pairs are those of an area.
type pairs struct {
	title string
	ink   Ink
	rows  []pair
}

// groups puts what was worked on first, then the areas in their order. Of a
// measure in two units the first is drawn.
func (t *twice) groups(c recheck.Comparison) []pairs {
	b := t.o.Words
	var out []pairs
	drawn := map[string]bool{}
	add := func(title string, ink Ink, belongs func(recheck.Change) bool) {
		g := pairs{title: title, ink: ink}
		for _, one := range c.Changes {
			key := one.Name + one.Side.String()
			if !belongs(one) || drawn[key] {
				continue
			}
			drawn[key] = true
			g.rows = append(g.rows, t.pair(one))
		}
		if len(g.rows) > 0 {
			out = append(out, g)
		}
	}
	add(b.Say("Worked on"), Accent, func(one recheck.Change) bool { return one.Planned })
	for _, name := range card.AreaNames() {
		add(card.Capital(b.Of(name)), Text, func(one recheck.Change) bool { return one.Area == name })
	}
	add(b.Say("The run"), Text, func(recheck.Change) bool { return true })
	return out
}

func (t *twice) pair(c recheck.Change) pair {
	s := c.Show(t.o.Units, t.o.Words)
	p := pair{title: card.Clean(s.Title, 60), shown: s, ink: Quiet, bandLow: math.NaN(), bandHigh: math.NaN()}
	if s.Side != "" && !t.o.Narrow {
		p.title += ", " + s.Side
	}
	switch {
	case c.Planned:
		p.ink = Accent
	case c.Verdict != recheck.NoChange:
		p.ink = Text
	}
	of := func(v recheck.Value) mark {
		mk := mark{side: form.Both, at: math.NaN(), low: math.NaN(), high: math.NaN()}
		if s, ok := scaleOf(v.Band); ok && finite(v.Value) {
			mk.at, mk.low, mk.high = s.at(v.Value), s.at(v.Low), s.at(v.High)
		}
		return mk
	}
	p.before, p.after = of(c.Before), of(c.After)
	if s, ok := scaleOf(c.After.Band); ok {
		p.bandLow, p.bandHigh = s.at(float64(c.After.Band.Low)), s.at(float64(c.After.Band.High))
		if math.IsNaN(p.bandLow) {
			p.bandLow = math.Inf(-1)
		}
		if math.IsNaN(p.bandHigh) {
			p.bandHigh = math.Inf(1)
		}
	}
	return p
}

// columns divides the width.
func (t *twice) columns() {
	w, size := t.o.Width, t.o.Text
	if t.o.Narrow {
		t.line, t.left, t.right = w/2, 2*size, w-2*size
		return
	}
	t.line = PlumbAt * w
	t.left, t.right = t.line-0.155*w, t.line+0.155*w
	t.stub, t.titles = 0.8*size, t.left-1.7*size
	t.values = [2]float64{t.right + 0.9*size, t.right + 8.6*size}
}

func (t *twice) head() {
	const scale = 0.86
	base := t.centred(t.row/2, scale)
	t.texts = append(t.texts,
		t.label(t.left, base, t.o.Words.Say("← lower"), Sans, scale, Start, Quiet, 0),
		t.label(t.right, base, t.o.Words.Say("higher →"), Sans, scale, End, Quiet, 0))
	if !t.o.Narrow {
		t.texts = append(t.texts,
			t.label(t.values[0], base, t.o.Words.Say("before → after"), Sans, scale, Start, Quiet, 7.4*t.size),
			t.label(t.values[1], base, t.o.Words.Say("difference"), Sans, scale, Start, Quiet, 0))
	}
	t.y = t.row
}

// groupWide is the width that an area's name may take.
func (t *twice) groupWide() float64 {
	if t.o.Narrow {
		return t.o.Width/2 - t.size
	}
	return t.left - 0.6*t.size
}

// group draws an area's beam, its name, and its rows.
func (t *twice) group(g pairs) {
	beam := t.beam(t.y + 1.7*t.size)
	t.texts = append(t.texts, t.label(0, beam-0.45*t.size, g.title, SerifItalic, 1.36, Start, g.ink, t.groupWide()))
	t.y = beam + 0.3*t.size
	for _, r := range g.rows {
		if t.o.Narrow {
			t.narrowPair(r)
		} else {
			t.widePair(r, beam)
		}
	}
	t.y += 0.3 * t.row
}

func (t *twice) widePair(r pair, beam float64) {
	height := 1.35 * t.row
	middle := t.y + height/2
	base := t.centred(middle, 1)
	t.texts = append(t.texts, t.label(t.stub, base, r.title, Sans, 1, Start, Text, t.titles))
	t.texts = append(t.texts, t.label(t.values[0], base, r.shown.Before+" → "+r.shown.After, Sans, 1, Start, Text, 7.4*t.size))
	t.texts = append(t.texts, t.label(t.values[1], base, difference(r.shown), Sans, 1, Start, r.ink, t.o.Width-t.values[1]))
	t.hangBoth(r, middle, height, beam)
	t.y += height
}

// narrowPair sets the title and the unit on one line, the numbers on the next
// and the plot under them.
func (t *twice) narrowPair(r pair) {
	base := t.y + 1.2*t.size
	half := t.o.Width/2 - 0.4*t.size
	t.texts = append(t.texts, t.label(0, base, r.title, SansMedium, 1, Start, Text, half),
		t.label(t.o.Width, base, r.shown.Side, Sans, 0.88, End, Quiet, half))
	base += 1.5 * t.size
	t.texts = append(t.texts,
		t.label(0, base, r.shown.Before+" → "+r.shown.After, Sans, 1, Start, Text, half-2*t.size),
		t.label(t.o.Width, base, difference(r.shown), Sans, 1, End, r.ink, half+2*t.size))
	t.y = base + 0.5*t.size
	if finite(r.before.at) || finite(r.after.at) {
		height := 1.7 * t.row
		t.hangBoth(r, t.y+height/2, height, t.y)
		t.y += height
	}
	t.y += 0.6 * t.size
}

func difference(s recheck.Shown) string {
	return strings.TrimSpace(s.Difference+" ± "+s.PlusMinus+" "+s.Unit) + s.Star
}

// hangBoth draws the band, the hollow bob above and the full one below.
func (t *twice) hangBoth(r pair, middle, height, beam float64) {
	if math.IsNaN(r.bandLow) {
		return
	}
	low, high := max(t.x(r.bandLow), t.left), min(t.x(r.bandHigh), t.right)
	if low < high {
		t.shades = append(t.shades, rect(low, middle-height/2, high, middle+height/2, Shade))
	}
	for i, mk := range []mark{r.before, r.after} {
		if !finite(mk.at) {
			continue
		}
		y := middle + []float64{-0.25, 0.25}[i]*height
		h := min(0.46*height, 1.05*t.size)
		x := min(max(t.x(mk.at), t.left), t.right)
		t.lines = append(t.lines, Segment{x, beam, x, y - h/2, Stroke{Ink: Thread, Width: 0.05 * t.size}})
		t.marks = append(t.marks, whisker(t.x(mk.low), t.x(mk.high), t.left, t.right, y-0.12*h, 0.1*t.row, Stroke{Ink: r.ink, Width: 0.09 * t.size})...)
		t.marks = append(t.marks, bob(x, y, h, form.Both, r.ink, i == 0))
	}
}

// foot draws the axis, the big bob and what the marks mean.
func (t *twice) foot() {
	const scale = 0.8
	axis := t.beam(t.y) + 0.6*t.row
	hair := Stroke{Ink: Quiet, Width: 0.06 * t.size}
	t.lines = append(t.lines, Segment{t.left, axis, t.right, axis, hair})
	for k := -int(t.span); k <= int(t.span); k++ {
		x := t.x(float64(k))
		t.lines = append(t.lines, Segment{x, axis, x, axis + 0.3*t.size, hair})
		text := strings.Replace(fmt.Sprintf("%+d", k), "-", "−", 1)
		switch k {
		case 0:
		case int(t.span):
			t.texts = append(t.texts, t.label(x+0.5*t.size, axis+1.25*t.size, t.o.Words.Say("%s SD", text), Sans, scale, End, Quiet, 0))
		default:
			t.texts = append(t.texts, t.label(x, axis+1.25*t.size, text, Sans, scale, Middle, Quiet, 0))
		}
	}
	big := min(1.7*t.row, 2.7*t.size)
	t.plumbLine(axis + 0.55*t.row)
	t.marks = append(t.marks, bob(t.line, axis+0.5*t.row+big/2, big, form.Both, Accent, false))
	bottom := axis + 0.5*t.row + big
	left := t.o.Words.Say("Hollow: the first check. Full: the second. Whisker and ±: the 95 %% interval. Shaded: the band, from its middle in standard deviations (SD) between runners.")
	right := t.o.Words.Say("Pale: no change told from noise. A star: more than chance with all counted together. The difference holds the runner’s own variation from day to day.")
	if t.o.Narrow {
		y := t.caption(0, bottom+0.6*t.size, t.o.Width, left)
		t.y = t.caption(0, y+0.4*t.size, t.o.Width, right)
		return
	}
	top := axis - 0.35*t.row
	t.y = max(bottom, t.caption(0, top, t.left-1.4*t.size, left), t.caption(t.values[0], top, t.o.Width-t.values[0], right))
}

// describe tells the chart in words.
func (t *twice) describe(gs []pairs) string {
	b := t.o.Words
	var out []string
	n := 0
	for _, g := range gs {
		for _, r := range g.rows {
			n++
			if r.ink != Quiet {
				out = append(out, r.title+" "+difference(r.shown)+" ("+r.shown.Verdict+")")
			}
		}
	}
	text := b.Say("Measures in both checks: %d, each as two bobs beside a plumb line that marks the middle of its band.", n)
	if len(out) > 0 {
		text += " " + b.Say("Worked on, or changed: %s.", strings.Join(out, "; "))
	}
	return text
}
