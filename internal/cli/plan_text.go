package cli

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"

	"plumbstride/internal/card"
	"plumbstride/internal/plan"
	"plumbstride/internal/quantity"
	"plumbstride/internal/words"
)

// indented is a value as the one JSON object that --json prints.
func indented(v any) ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(v); err != nil {
		return nil, fmt.Errorf("writing JSON: %w", err)
	}
	return b.Bytes(), nil
}

// planText writes a plan as text, cautions and all. columns is the
// terminal's width, 0 where there is none.
func planText(p plan.Plan, units quantity.Units, columns int, b words.Book) string {
	t := newTable(columns)
	t.units, t.say = units, b
	if p.Ask.Runner != "" {
		t.wrapped("", b.Say("%d weeks of %s for %s, from %s", len(p.Weeks), b.Of(p.Ask.Area), printable(p.Ask.Runner), b.Weekday(p.Ask.Start.Time())))
	} else {
		t.wrapped("", b.Say("%d weeks of %s, from %s", len(p.Weeks), b.Of(p.Ask.Area), b.Weekday(p.Ask.Start.Time())))
	}
	t.wrapped("", printable(b.Of(p.Ask.Why)))
	t.b.WriteString("\n")
	t.list(b.Say("Read first"), b.Each(p.First))
	t.painRule(p)
	t.cadenceSteps(p)
	for _, w := range p.Weeks {
		t.week(p, w)
	}
	fmt.Fprintf(&t.b, "%s\n", b.Say("%s: film again", b.Weekday(p.Recheck.Time())))
	for _, line := range p.RecheckLines(units) {
		t.hanging("  – ", printable(b.Of(line)))
	}
	t.b.WriteString("\n")
	t.list(b.Say("Drills left out"), b.Each(p.LeftOut))
	var rules, cautions []string
	for _, r := range p.Rules {
		rules = append(rules, fmt.Sprintf("%s [%s]", b.Of(r.Text), b.Of(r.Source)))
	}
	for _, c := range p.Cautions {
		cautions = append(cautions, fmt.Sprintf("%s [%s]", b.Of(c.Text), b.Of(c.Source)))
	}
	t.list(b.Say("How this plan was made"), rules)
	t.list(b.Say("Take care"), cautions)
	return t.b.String()
}

func (t *tableWriter) painRule(p plan.Plan) {
	t.b.WriteString(t.say.Say("Pain, from 0 (none) to 10 (the worst imaginable)") + "\n")
	for _, band := range p.Pain {
		at := t.say.Say("%d to %d", band.Low, band.High)
		if band.Low == band.High {
			at = fmt.Sprint(band.Low)
		}
		t.hanging(fmt.Sprintf("  %-7s ", at), t.say.Of(band.Do))
	}
	for _, line := range p.StopFor {
		t.hanging("  – ", t.say.Of(line))
	}
	if len(p.Pain) > 0 {
		t.hanging("  ", "["+t.say.Of(p.Pain[0].Source)+"]")
	}
	t.b.WriteString("\n")
}

func (t *tableWriter) cadenceSteps(p plan.Plan) {
	t.b.WriteString(t.say.Say("Cadence") + "\n")
	if len(p.Steps) == 0 {
		t.wrapped("  ", t.say.Of(p.NoSteps))
		t.b.WriteString("\n")
		return
	}
	t.hanging(fmt.Sprintf("  %-13s ", t.say.Say("measured")), t.say.Say("%.0f ± %.1f steps/min", p.Ask.Cadence.StepsPerMin, 1.96*p.Ask.Cadence.SD))
	for _, s := range p.Steps {
		t.hanging(fmt.Sprintf("  %-13s ", t.say.Say("from week %d", s.FromWeek)),
			t.say.Say("%d steps/min, %+.1f %%, in all %+.1f %%", s.StepsPerMin, s.RisePct, s.RiseInAllPct))
	}
	fmt.Fprintf(&t.b, "\n  %s\n", t.say.Say("What such a change does at the same speed, on average"))
	last := p.Steps[len(p.Steps)-1].RiseInAllPct
	for _, c := range p.WhatIf {
		if c.CadencePct < last-2.5 && c.CadencePct != 10 {
			continue
		}
		fmt.Fprintf(&t.b, "    %s\n", t.say.Say("cadence %+g %%", c.CadencePct))
		for _, effect := range c.Effects {
			fmt.Fprintf(&t.b, "      %-34s %s\n", t.say.Of(effect.Title), t.say.Of(effect.String()))
		}
		break
	}
	for _, note := range plan.WhatIfNotes() {
		t.hanging("    – ", t.say.Of(note))
	}
	t.b.WriteString("\n")
}

func (t *tableWriter) week(p plan.Plan, w plan.Week) {
	fmt.Fprintf(&t.b, "%s\n", t.say.Say("Week %d, from %s: %d min of running", w.Number, t.say.Weekday(w.Start.Time()), w.RunMin))
	t.hanging("  ", printable(t.say.Say("Think of: %s", t.say.Of(w.Cue))))
	for _, s := range w.Sessions {
		lines := append([]string{t.say.Of(s.Title()) + "."}, t.say.Each(s.Lines(p.Ask.Cadence, t.units))...)
		t.hanging(fmt.Sprintf("  %-15s ", t.say.Weekday(s.Date.Time())), printable(strings.Join(lines, " ")))
	}
	for _, d := range w.Apart {
		t.hanging("  "+t.say.Say("Besides")+": ", printable(t.say.Say("%s, twice this week on days without practice, %d min.", t.say.Of(d.Title), d.Minutes)))
	}
	t.b.WriteString("\n")
}

// drillText writes one drill's page as text.
func drillText(d plan.Drill, columns int, b words.Book) string {
	t := newTable(columns)
	fmt.Fprintf(&t.b, "%s (%s)\n", printable(b.Of(d.Title)), d.ID)
	t.hanging("  ", fmt.Sprintf("%s, %s", card.Capital(b.Of(d.Area)), b.Say("stage %d, %s, %d min", d.Stage, b.Of(d.WhenWords()), d.Minutes)))
	t.b.WriteString("\n")
	t.wrapped("", printable(b.Of(d.Purpose)))
	t.b.WriteString("\n")
	t.list(b.Say("How"), b.Each(d.How))
	t.list(b.Say("How much"), []string{b.Of(d.Dose)})
	t.list(b.Say("Think of"), []string{b.Of(d.Cue)})
	t.list(b.Say("It feels like"), []string{b.Of(d.Feel)})
	t.list(b.Say("Often goes wrong"), b.Each(d.Mistakes))
	t.list(b.Say("Not for"), b.Each(d.NotForWords()))
	t.list(b.Say("Backed by"), []string{fmt.Sprintf("%s [%s]", b.Say("%s: %s", card.Capital(b.Of(d.Evidence.LevelWords())), b.Of(d.Evidence.Says)), b.Of(d.Evidence.Source))})
	t.list(b.Say("The drawing"), []string{b.Of(d.Picture.Alt)})
	t.list(b.Say("Take care"), []string{b.Say("Pain means stop. Not a medical device: see a doctor or physiotherapist with pain that stays or comes back.")})
	return t.b.String()
}
