package chart

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"plumbstride/internal/plan"
	"plumbstride/internal/words"
)

// PlanOptions say how a plan's drawings are set.
type PlanOptions struct {
	Width, Text float64
	Words       words.Book
}

// Weeks draws a plan at a glance: a row a week, a column a day, and each run
// as a bar as long as it lasts: easy running thin, drills light, practice
// dark where the beat is on and empty where it is off.
func Weeks(m Measurer, p plan.Plan, o PlanOptions) Drawing {
	w := &weeks{setter: setter{m, o.Text}, o: o, p: p}
	w.d.Width = o.Width
	w.d.Title = o.Words.Say("The plan at a glance")
	w.d.Desc = o.Words.Say("%d weeks, one row each, with a bar for each run: thin where it is run easily, light for drills, dark for practice with the beat on.", len(p.Weeks))
	w.left = math.Max(4.6*o.Text, m.Width(SansMedium, o.Text, o.Words.Say("Week %d", 8))+0.9*o.Text)
	w.right = o.Width - 5.0*o.Text
	w.column = (w.right - w.left) / 7
	for _, week := range p.Weeks {
		for _, s := range week.Sessions {
			w.longest = max(w.longest, s.RunMin)
		}
	}
	w.heads()
	for _, week := range p.Weeks {
		w.week(week)
	}
	w.key()
	w.d.Height = w.y
	return w.d
}

type weeks struct {
	setter
	o                   PlanOptions
	p                   plan.Plan
	d                   Drawing
	y                   float64
	left, right, column float64
	longest             int
}

// heads names the days over their columns.
func (w *weeks) heads() {
	base := w.y + w.size
	for i := range 7 {
		day, _, _ := strings.Cut(w.o.Words.Weekday(w.p.Ask.Start.Plus(i).Time()), " ")
		w.d.add(w.label(w.left+w.column*float64(i), base, day, Sans, 0.9, Start, Quiet, w.column))
	}
	w.d.add(w.label(w.o.Width, base, w.o.Words.Say("in all"), Sans, 0.9, End, Quiet, 4.6*w.size))
	w.y += 1.5 * w.size
}

func (w *weeks) week(week plan.Week) {
	height := 2.9 * w.size
	w.d.add(Segment{0, w.y, w.o.Width, w.y, Stroke{Ink: Rule, Width: 0.05 * w.size}})
	base := w.y + 1.75*w.size
	w.d.add(
		w.label(0, base, w.o.Words.Say("Week %d", week.Number), SansMedium, 1, Start, Text, w.left),
		w.label(w.o.Width, base, w.o.Words.Say("%d min", week.RunMin), Sans, 1, End, Text, 4.6*w.size))
	start := week.Start.Time()
	for _, s := range week.Sessions {
		day := int(math.Round(s.Date.Time().Sub(start).Hours() / 24))
		w.session(w.left+w.column*float64(day), w.y, s)
	}
	w.y += height
}

// session draws one run as a bar, its minutes above it.
func (w *weeks) session(x, y float64, s plan.Session) {
	per := (w.column - 0.7*w.size) / float64(max(1, w.longest))
	at, middle, high := x, y+1.9*w.size, 0.78*w.size
	w.d.add(w.label(x, y+1.15*w.size, strconv.Itoa(s.RunMin), Sans, 0.86, Start, Quiet, 0))
	easy := s.RunMin - s.DrillMin - s.PracticeMin
	first := (easy + 1) / 2
	if !s.Practice {
		first = s.RunMin
	}
	w.thin(at, middle, per*float64(first))
	at += per * float64(first)
	if s.Practice {
		at = w.box(at, middle, per*float64(s.DrillMin), high, Shade, Quiet)
		at = w.practice(at, middle, per, high, s)
		w.thin(at, middle, per*float64(easy/2))
	}
}

func (w *weeks) thin(x, y, width float64) {
	if width > 0 {
		w.d.add(rect(x, y-0.11*w.size, x+width, y+0.11*w.size, Thread))
	}
}

// box draws a part of a run and gives where it ends.
func (w *weeks) box(x, y, width, high float64, fill, edge Ink) float64 {
	if width <= 0 {
		return x
	}
	b := rect(x, y-high/2, x+width, y+high/2, fill)
	b.Stroke = Stroke{Ink: edge, Width: 0.05 * w.size}
	w.d.add(b)
	return x + width
}

// practice draws the practised part, filled for the share with the beat on;
// without a beat it is filled whole.
func (w *weeks) practice(x, y, per, high float64, s plan.Session) float64 {
	width := per * float64(s.PracticeMin)
	share := 1.0
	if s.Tempo != nil {
		share = float64(s.Tempo.SharePct) / 100
	}
	w.box(x, y, width, high, Page, Accent)
	if share > 0 {
		w.box(x, y, share*width, high, Accent, Accent)
	}
	return x + width
}

// key tells what the bars are made of.
func (w *weeks) key() {
	w.d.add(Segment{0, w.y, w.o.Width, w.y, Stroke{Ink: Rule, Width: 0.05 * w.size}})
	w.y += 1.5 * w.size
	x, wide, high := 0.0, 2.2*w.size, 0.78*w.size
	entry := func(draw func(x, y float64), text string) {
		width := w.m.Width(Sans, 0.9*w.size, text)
		if x > 0 && x+wide+0.5*w.size+width > w.o.Width {
			x, w.y = 0, w.y+1.4*w.size
		}
		draw(x, w.y-0.32*w.size)
		w.d.add(w.label(x+wide+0.5*w.size, w.y, text, Sans, 0.9, Start, Quiet, 0))
		x += wide + width + 2*w.size
	}
	beat, drills := false, false
	for _, week := range w.p.Weeks {
		for _, s := range week.Sessions {
			beat, drills = beat || s.Tempo != nil, drills || s.DrillMin > 0
		}
	}
	entry(func(x, y float64) { w.thin(x, y, wide) }, w.o.Words.Say("run easily"))
	if drills {
		entry(func(x, y float64) { w.box(x, y, wide, high, Shade, Quiet) }, w.o.Words.Say("drills"))
	}
	if beat {
		entry(func(x, y float64) { w.box(x, y, wide, high, Accent, Accent) }, w.o.Words.Say("practice, beat on"))
		entry(func(x, y float64) { w.box(x, y, wide, high, Page, Accent) }, w.o.Words.Say("practice, beat off"))
	} else {
		entry(func(x, y float64) { w.box(x, y, wide, high, Accent, Accent) }, w.o.Words.Say("practice"))
	}
	w.y += 0.6 * w.size
}

// PainScale draws the pain rule's numbers from 0 to 10 with its bands: the
// darker, the less running.
func PainScale(m Measurer, bands []plan.PainBand, o PlanOptions) Drawing {
	s := setter{m, o.Text}
	d := Drawing{Width: o.Width, Title: o.Words.Say("Pain, from 0 (none) to 10 (the worst imaginable)")}
	var desc []string
	cell := o.Width / 11
	high := 1.9 * o.Text
	inks := []struct{ fill, text Ink }{{Page, Text}, {Shade, Text}, {Thread, Text}, {Text, Page}}
	for i, b := range bands {
		ink := inks[min(i*len(inks)/max(1, len(bands)), len(inks)-1)]
		x1, x2 := cell*float64(b.Low), cell*float64(b.High+1)
		box := rect(x1+0.5, 0.5, x2-0.5, high, ink.fill)
		box.Stroke = Stroke{Ink: Text, Width: 0.06 * o.Text}
		d.add(box)
		for n := b.Low; n <= b.High; n++ {
			d.add(s.label(cell*(float64(n)+0.5), 0.68*high, strconv.Itoa(n), SansMedium, 1, Middle, ink.text, 0))
		}
		desc = append(desc, fmt.Sprintf("%d–%d: %s", b.Low, b.High, o.Words.Of(b.Do)))
	}
	d.Desc = strings.Join(desc, " ")
	d.Height = high + 1
	return d
}

// decimalWords writes a number with a sign, in the language's way; places −1
// is as many as it needs.
func decimalWords(b words.Book, v float64, places int, sign bool) string {
	text := strconv.FormatFloat(v, 'f', places, 64)
	if strings.Trim(text, "-0.") == "" {
		return strings.TrimPrefix(text, "-")
	}
	if sign && v > 0 {
		text = "+" + text
	}
	return b.Figures(strings.Replace(text, "-", "−", 1))
}
