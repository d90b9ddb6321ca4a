package cli

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"

	"plumbstride/internal/card"
	"plumbstride/internal/plan"
	"plumbstride/internal/quantity"
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
func planText(p plan.Plan, units quantity.Units, columns int) string {
	t := newTable(columns)
	t.units = units
	who := ""
	if p.Ask.Runner != "" {
		who = " for " + printable(p.Ask.Runner)
	}
	t.wrapped("", fmt.Sprintf("%d weeks of %s%s, from %s", len(p.Weeks), p.Ask.Area, who, p.Ask.Start.Words()))
	t.wrapped("", printable(p.Ask.Why))
	t.b.WriteString("\n")
	t.list("Read first", p.First)
	t.painRule(p)
	t.cadenceSteps(p)
	for _, w := range p.Weeks {
		t.week(p, w)
	}
	fmt.Fprintf(&t.b, "%s: film again\n", p.Recheck.Words())
	for _, line := range p.RecheckLines(units) {
		t.hanging("  – ", printable(line))
	}
	t.b.WriteString("\n")
	t.list("Drills left out", p.LeftOut)
	var rules, cautions []string
	for _, r := range p.Rules {
		rules = append(rules, fmt.Sprintf("%s [%s]", r.Text, r.Source))
	}
	for _, c := range p.Cautions {
		cautions = append(cautions, fmt.Sprintf("%s [%s]", c.Text, c.Source))
	}
	t.list("How this plan was made", rules)
	t.list("Take care", cautions)
	return t.b.String()
}

func (t *tableWriter) painRule(p plan.Plan) {
	t.b.WriteString("Pain, from 0 (none) to 10 (the worst imaginable)\n")
	for _, band := range p.Pain {
		at := fmt.Sprintf("%d to %d", band.Low, band.High)
		if band.Low == band.High {
			at = fmt.Sprint(band.Low)
		}
		t.hanging(fmt.Sprintf("  %-7s ", at), band.Do)
	}
	for _, line := range p.StopFor {
		t.hanging("  – ", line)
	}
	if len(p.Pain) > 0 {
		t.hanging("  ", "["+p.Pain[0].Source+"]")
	}
	t.b.WriteString("\n")
}

func (t *tableWriter) cadenceSteps(p plan.Plan) {
	t.b.WriteString("Cadence\n")
	if len(p.Steps) == 0 {
		t.wrapped("  ", p.NoSteps)
		t.b.WriteString("\n")
		return
	}
	t.hanging("  measured      ", fmt.Sprintf("%.0f ± %.1f steps/min", p.Ask.Cadence.StepsPerMin, 1.96*p.Ask.Cadence.SD))
	for _, s := range p.Steps {
		t.hanging(fmt.Sprintf("  from week %d   ", s.FromWeek),
			fmt.Sprintf("%d steps/min, +%.1f %%, +%.1f %% in all", s.StepsPerMin, s.RisePct, s.RiseInAllPct))
	}
	t.b.WriteString("\n  What such a change does at the same speed, on average\n")
	last := p.Steps[len(p.Steps)-1].RiseInAllPct
	for _, c := range p.WhatIf {
		if c.CadencePct < last-2.5 && c.CadencePct != 10 {
			continue
		}
		fmt.Fprintf(&t.b, "    cadence +%g %%\n", c.CadencePct)
		for _, effect := range c.Effects {
			fmt.Fprintf(&t.b, "      %-34s %s\n", effect.Title, effect)
		}
		break
	}
	for _, note := range plan.WhatIfNotes() {
		t.hanging("    – ", note)
	}
	t.b.WriteString("\n")
}

func (t *tableWriter) week(p plan.Plan, w plan.Week) {
	fmt.Fprintf(&t.b, "Week %d, from %s: %d min of running\n", w.Number, w.Start.Words(), w.RunMin)
	t.hanging("  Think of: ", printable(w.Cue))
	for _, s := range w.Sessions {
		lines := append([]string{s.Title() + "."}, s.Lines(p.Ask.Cadence, t.units)...)
		t.hanging(fmt.Sprintf("  %-15s ", s.Date.Words()), printable(strings.Join(lines, " ")))
	}
	for _, d := range w.Apart {
		t.hanging("  Besides: ", printable(fmt.Sprintf("%s, twice this week on days without practice, %d min.", d.Title, d.Minutes)))
	}
	t.b.WriteString("\n")
}

// drillText writes one drill's page as text.
func drillText(d plan.Drill, columns int) string {
	t := newTable(columns)
	fmt.Fprintf(&t.b, "%s (%s)\n", printable(d.Title), d.ID)
	t.hanging("  ", fmt.Sprintf("%s, stage %d, %s, %d min", card.Capital(d.Area), d.Stage, whenWords(d.When), d.Minutes))
	t.b.WriteString("\n")
	t.wrapped("", printable(d.Purpose))
	t.b.WriteString("\n")
	t.list("How", d.How)
	t.list("How much", []string{d.Dose})
	t.list("Think of", []string{d.Cue})
	t.list("What it feels like", []string{d.Feel})
	t.list("What often goes wrong", d.Mistakes)
	notFor := d.NotFor
	if d.Loads {
		notFor = append(notFor[:len(notFor):len(notFor)], "It loads calf, Achilles tendon and forefoot: leave it when they are sore, and begin with half.")
	}
	t.list("Not for", notFor)
	t.list("How well it is backed", []string{fmt.Sprintf("%s: %s [%s]", card.Capital(d.Evidence.Level), d.Evidence.Says, d.Evidence.Source)})
	t.list("The drawing", []string{d.Picture.Alt})
	t.list("Take care", []string{"Pain means stop. Not a medical device: see a doctor or physiotherapist with pain that stays or comes back."})
	return t.b.String()
}

func whenWords(when string) string {
	return map[string]string{"before": "before a run", "within": "within a run", "apart": "on days without practice"}[when]
}
