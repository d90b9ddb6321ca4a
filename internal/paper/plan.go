package paper

import (
	"fmt"
	"io"
	"time"

	"plumbstride/internal/card"
	"plumbstride/internal/chart"
	"plumbstride/internal/paper/fonts"
	"plumbstride/internal/plan"
	"plumbstride/internal/quantity"
	"plumbstride/internal/words"
)

// PlanOptions say how a plan is shown. Drills are those that the plan uses;
// Program and Made stand at the foot.
type PlanOptions struct {
	Page    Page
	Units   quantity.Units
	Words   words.Book
	Drills  []plan.Drill
	Program string
	Made    time.Time
}

// planContent is what a plan says, in the reader's language, before any
// layout.
type planContent struct {
	Name, When, Lead, Why string
	First                 []string
	Steps                 []item
	NoSteps               string
	WhatIf                []plan.Change
	WhatIfNotes           []string
	WhatIfSources         []item
	Weeks                 []planWeek
	Recheck               string
	RecheckLines          []string
	Pain                  []item
	PainSource            string
	StopFor               []string
	Drills                []planDrill
	LeftOut               []string
	Rules, Cautions       []sourcedText
	Foot                  string
}

type planWeek struct {
	Title, Cue string
	Sessions   []planSession
	Apart      []string
}

type planSession struct {
	Day, Title string
	Lines      []string
	Practice   bool
}

// planDrill is one drill in the reader's language.
type planDrill struct {
	Title, Facts, Purpose, Dose, Cue, Feel string
	How, Mistakes, NotFor                  []string
	Evidence, Source                       string
	figure                                 chart.Drawing
	id                                     string
}

type sourcedText struct{ Text, Source string }

func newPlanContent(m chart.Measurer, p plan.Plan, o PlanOptions) planContent {
	b := o.Words
	last := p.Weeks[len(p.Weeks)-1]
	t := planContent{
		Name: card.Clean(p.Ask.Runner, nameLimit),
		When: b.Say("%s to %s", b.Date(p.Ask.Start.Time()), b.Date(last.Start.Plus(6).Time())),
		Lead: b.Say("%d weeks for one thing: %s", len(p.Weeks), b.Of(p.Ask.Area)),
		Why:  bound(b.Of(card.Clean(p.Ask.Why, textLimit))), NoSteps: b.Of(p.NoSteps), WhatIf: p.WhatIf,
		Recheck: b.Date(p.Recheck.Time()), RecheckLines: b.Each(p.RecheckLines(o.Units)),
		StopFor: b.Each(p.StopFor),
		Foot:    b.Say("Not a medical device: this plan gives no diagnosis and takes no clinician's place. Made by %s on %s.", card.Clean(o.Program, 40), b.Date(o.Made)),
	}
	if t.Name == "" {
		t.Name = b.Say("Running plan")
	}
	for _, lists := range []struct {
		to   *[]string
		from []string
	}{{&t.First, p.First}, {&t.LeftOut, p.LeftOut}} {
		for _, text := range lists.from {
			*lists.to = append(*lists.to, b.Of(card.Clean(text, 2400)))
		}
	}
	t.cadence(p, b)
	for _, w := range p.Weeks {
		t.Weeks = append(t.Weeks, newPlanWeek(p, w, o))
	}
	for _, band := range p.Pain {
		at := fmt.Sprintf("%d–%d", band.Low, band.High)
		if band.Low == band.High {
			at = fmt.Sprint(band.Low)
		}
		t.Pain = append(t.Pain, item{at, b.Of(band.Do)})
		t.PainSource = b.Of(band.Source)
	}
	for _, d := range o.Drills {
		t.Drills = append(t.Drills, newPlanDrill(m, d, b))
	}
	for _, r := range p.Rules {
		t.Rules = append(t.Rules, sourcedText{b.Of(r.Text), b.Of(r.Source)})
	}
	for _, c := range p.Cautions {
		t.Cautions = append(t.Cautions, sourcedText{b.Of(c.Text), b.Of(c.Source)})
	}
	return t
}

// cadence tells the steps from the runner's own cadence.
func (t *planContent) cadence(p plan.Plan, b words.Book) {
	if len(p.Steps) == 0 {
		return
	}
	c := p.Ask.Cadence
	t.Steps = []item{{b.Say("measured"), bound(b.Say("%.0f ± %.1f steps/min", c.StepsPerMin, 1.96*c.SD))}}
	for _, s := range p.Steps {
		t.Steps = append(t.Steps, item{
			b.Say("from week %d", s.FromWeek),
			bound(b.Say("%d steps/min, %+.1f %%, in all %+.1f %%", s.StepsPerMin, s.RisePct, s.RiseInAllPct)),
		})
	}
	t.WhatIfNotes, t.WhatIfSources = b.Each(plan.WhatIfNotes()), whatIfSources(p.WhatIf, b)
}

// whatIfSources tells where each expected change comes from.
func whatIfSources(changes []plan.Change, b words.Book) []item {
	var out []item
	if len(changes) > 0 {
		for _, e := range changes[0].Effects {
			out = append(out, item{b.Of(e.Title) + ":", b.Of(e.Source) + ". " + b.Of(e.Note)})
		}
	}
	return out
}

func newPlanWeek(p plan.Plan, w plan.Week, o PlanOptions) planWeek {
	b := o.Words
	out := planWeek{
		Title: b.Say("Week %d, from %s: %d min of running", w.Number, b.DayMonth(w.Start.Time()), w.RunMin),
		Cue:   b.Of(card.Clean(w.Cue, textLimit)),
	}
	for _, s := range w.Sessions {
		line := planSession{Day: b.DayMonth(s.Date.Time()), Title: b.Of(s.Title()), Practice: s.Practice}
		for _, text := range s.Lines(p.Ask.Cadence, o.Units) {
			line.Lines = append(line.Lines, bound(b.Of(card.Clean(text, textLimit))))
		}
		out.Sessions = append(out.Sessions, line)
	}
	for _, d := range w.Apart {
		out.Apart = append(out.Apart, b.Say("%s, twice this week on days without practice, %d min.", b.Of(card.Clean(d.Title, 60)), d.Minutes))
	}
	return out
}

func newPlanDrill(m chart.Measurer, d plan.Drill, b words.Book) planDrill {
	figures := d.Figures()
	for i := range figures {
		figures[i].Caption = b.Of(figures[i].Caption)
	}
	return planDrill{
		Title:   b.Of(d.Title),
		Facts:   b.Say("stage %d, %s, %d min", d.Stage, b.Of(d.WhenWords()), d.Minutes),
		Purpose: b.Of(d.Purpose), Dose: b.Of(d.Dose), Cue: b.Of(d.Cue), Feel: b.Of(d.Feel),
		How: b.Each(d.How), Mistakes: b.Each(d.Mistakes), NotFor: b.Each(d.NotForWords()),
		Evidence: b.Say("%s: %s", card.Capital(b.Of(d.Evidence.LevelWords())), b.Of(d.Evidence.Says)), Source: b.Of(d.Evidence.Source),
		figure: chart.Figures(m, b.Of(d.Title), b.Of(d.Picture.Alt), figures), id: d.ID,
	}
}

// PlanPDF writes a plan as sheets of A4 or Letter. The same plan and options
// give the same bytes.
func PlanPDF(w io.Writer, p plan.Plan, o PlanOptions) error {
	o.Page = Options{Page: o.Page}.normal().Page
	set, err := fonts.Load()
	if err != nil {
		return err
	}
	f := planFlow(set, p, o)
	return f.write(w, set, documentOf{
		title:   o.Words.Say("Running plan") + ": " + card.Clean(p.Ask.Runner, nameLimit),
		subject: o.Words.Of(p.Ask.Area), program: o.Program, language: string(o.Words.Language()), made: o.Made,
	})
}

// planFlow lays the sheets out.
func planFlow(set *fonts.Set, p plan.Plan, o PlanOptions) *flow {
	t, b := newPlanContent(set, p, o), o.Words
	f := newFlow(set, o.Page)
	const size = 9.0
	when := chart.Set(set, f.left+f.wide, f.y+12, t.When, chart.Sans, 8, chart.End, chart.Quiet)
	f.add(chart.Set(set, f.left, f.y+12, chart.Shorten(set, chart.Serif, 15, f.wide-when.Width-20, t.Name), chart.Serif, 15, chart.Start, chart.Text), when)
	f.gap(22)
	f.rule()
	f.gap(8)
	f.paragraph(t.Lead, chart.SansMedium, 9, chart.Accent)
	f.gap(2)
	f.paragraph(t.Why, chart.Serif, 14.5, chart.Text)
	if len(t.First) > 0 {
		f.heading(b.Say("Read first"), 30)
		for _, text := range t.First {
			f.bullet(text, size)
		}
	}
	f.gap(14)
	f.drawing(chart.Weeks(set, p, chart.PlanOptions{Width: f.wide, Text: 8.2, Words: b}))
	f.pain(set, p, t, b, size)
	f.steps(set, t, b, size)
	f.weeks(t, b, size)
	f.heading(b.Say("Film again on %s", t.Recheck), 30)
	for _, text := range t.RecheckLines {
		f.bullet(text, size)
	}
	f.drills(t, b, size)
	f.heading(b.Say("How this plan was made"), 40)
	for _, r := range t.Rules {
		f.sourced(r.Text, r.Source, size)
	}
	f.heading(b.Say("Take care"), 40)
	for _, c := range t.Cautions {
		f.sourced(c.Text, c.Source, size)
	}
	f.feet(t.Foot)
	return f
}

func (f *flow) pain(set *fonts.Set, p plan.Plan, t planContent, b words.Book, size float64) {
	f.heading(b.Say("Pain, from 0 (none) to 10 (the worst imaginable)"), 60)
	f.drawing(chart.PainScale(set, p.Pain, chart.PlanOptions{Width: f.wide, Text: 8.6, Words: b}))
	f.gap(4)
	for _, band := range t.Pain {
		f.entry(band.Head, band.Text, 34, size)
	}
	for _, text := range t.StopFor {
		f.bullet(text, size)
	}
	f.paragraph(t.PainSource, chart.Sans, 0.84*size, chart.Quiet)
}

func (f *flow) steps(set *fonts.Set, t planContent, b words.Book, size float64) {
	f.heading(b.Say("Cadence"), 60)
	if len(t.Steps) == 0 {
		f.paragraph(t.NoSteps, chart.Sans, size, chart.Text)
		return
	}
	for _, s := range t.Steps {
		f.entry(s.Head, s.Text, 90, size)
	}
	plot := chart.WhatIf(set, t.WhatIf, chart.WhatIfOptions{Width: f.wide, Text: 7.8, Words: b})
	f.keep(plot.Height + 34)
	f.gap(8)
	f.paragraph(b.Say("What quicker steps do at the same speed"), chart.SansMedium, size, chart.Text)
	f.gap(6)
	f.drawing(plot)
	for _, text := range t.WhatIfNotes {
		f.bullet(text, size)
	}
	for _, s := range t.WhatIfSources {
		f.paragraph(s.Head+" "+s.Text, chart.Sans, 0.84*size, chart.Quiet)
	}
}

func (f *flow) weeks(t planContent, b words.Book, size float64) {
	f.heading(b.Say("Week by week"), 90)
	for i, w := range t.Weeks {
		if i > 0 {
			f.gap(7)
		}
		f.keep(4 * 1.36 * size)
		f.paragraph(w.Title, chart.SansMedium, size, chart.Text)
		f.paragraph(b.Say("Think of: %s", w.Cue), chart.SerifItalic, size+1.5, chart.Text)
		f.gap(2)
		for _, s := range w.Sessions {
			f.entry(s.Day, joined(append([]string{s.Title + "."}, s.Lines...)), 62, size)
		}
		for _, text := range w.Apart {
			f.entry(b.Say("Besides"), text, 62, size)
		}
	}
}

func joined(lines []string) string {
	text := ""
	for i, line := range lines {
		if i > 0 {
			text += " "
		}
		text += line
	}
	return text
}

func (f *flow) drills(t planContent, b words.Book, size float64) {
	if len(t.Drills)+len(t.LeftOut) == 0 {
		return
	}
	f.heading(b.Say("The drills"), 150)
	for i, d := range t.Drills {
		if i > 0 {
			f.gap(12)
		}
		f.keep(150)
		f.paragraph(d.Title, chart.Serif, 12, chart.Text)
		f.paragraph(d.Facts, chart.Sans, 0.84*size, chart.Quiet)
		f.gap(4)
		scale := min(0.8, f.wide/d.figure.Width)
		f.keep(scale * d.figure.Height)
		f.place(d.figure, f.left, scale)
		f.gap(scale*d.figure.Height + 3)
		f.paragraph(d.Purpose, chart.Sans, size, chart.Text)
		f.gap(3)
		for n, how := range d.How {
			f.entry(fmt.Sprintf("%d", n+1), how, 14, size)
		}
		for _, e := range d.entries(b) {
			f.entry(e.Head, e.Text, 90, size)
		}
		f.lines(f.left+90, chart.Wrap(f.m, chart.Sans, 0.84*size, f.wide-90, d.Source), chart.Sans, 0.84*size, 1.12*size, chart.Quiet)
	}
	for _, text := range t.LeftOut {
		f.bullet(b.Say("Left out: %s", text), size)
	}
}

// entries are what is said of a drill besides how it goes.
func (d planDrill) entries(b words.Book) []item {
	return []item{
		{b.Say("How much"), d.Dose}, {b.Say("Think of"), d.Cue}, {b.Say("It feels like"), d.Feel},
		{b.Say("Often goes wrong"), joined(d.Mistakes)}, {b.Say("Not for"), joined(d.NotFor)}, {b.Say("Backed by"), d.Evidence},
	}
}
