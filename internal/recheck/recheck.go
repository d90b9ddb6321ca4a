package recheck

import (
	"fmt"
	"strings"
	"time"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/judge"
	"plumbstride/internal/quantity"
)

// Comparison is two checks of one runner beside one another: what
// `plumbstride compare --json` prints (its schema is
// docs/compare.schema.json).
type Comparison struct {
	Program string      `json:"program"`
	Made    time.Time   `json:"made"`
	Runner  card.Runner `json:"runner"`
	Before  Check       `json:"before"`
	After   Check       `json:"after"`
	// Unlike says why the two can't be compared at all; "" where they can.
	Unlike string `json:"unlike"`
	// Planned is what was worked on: the one comparison that was chosen before.
	Planned Planned `json:"planned"`
	// Changes are all measures that both checks have; NotCompared tells why
	// others are not among them.
	Changes     []Change       `json:"changes"`
	NotCompared []form.Refusal `json:"not_compared"`
	Notes       []string       `json:"notes"`
	Cautions    []string       `json:"cautions"`
}

// Check is what is told of one of the two.
type Check struct {
	Made     time.Time      `json:"made"`
	File     string         `json:"file"`
	Kind     card.Kind      `json:"kind" jsonschema:"enum=running,enum=standing,enum="`
	Setting  string         `json:"setting" jsonschema:"enum=treadmill,enum=over_ground,enum=on_the_spot,enum="`
	View     string         `json:"view" jsonschema:"enum=side,enum=front,enum=back,enum="`
	Facing   string         `json:"facing" jsonschema:"enum=left,enum=right,enum="`
	RateHz   float64        `json:"rate_hz"`
	SpeedMS  card.Number    `json:"speed_m_s"`
	Networks []card.Network `json:"networks"`
	// Priority is what that check put first; null for nothing.
	Priority *string `json:"priority" jsonschema:"nullable"`
}

// Options are what the coach knows beside the two checks.
type Options struct {
	// Area is what was worked on; "" for the first check's priority.
	Area string
	// OtherShoes: the runner wore other shoes in the second check.
	OtherShoes bool
	// Between are the checks between the two, in the order of time.
	Between []card.Card
	// Practice is what the runner's own recordings say; nil without any.
	Practice *Practice
	// Units are those of the sentences.
	Units quantity.Units
	// Program and Made are put into the comparison.
	Program string
	Made    time.Time
}

// Of compares two checks of one runner, the earlier one first. It is a
// form.Error where these can't be the two.
func Of(before, after card.Card, o Options) (Comparison, error) {
	if err := ofOne(before, after); err != nil {
		return Comparison{}, err
	}
	c := Comparison{
		Program: o.Program, Made: o.Made, Runner: after.Runner, Before: checkOf(before), After: checkOf(after),
		Changes: []Change{}, NotCompared: []form.Refusal{}, Notes: []string{},
	}
	c.Cautions = append([]string{}, after.Cautions...)
	if len(c.Cautions) == 0 {
		for _, one := range judge.Cautions() {
			c.Cautions = append(c.Cautions, one.Text)
		}
	}
	if c.Unlike = unlike(before, after); c.Unlike != "" {
		c.Planned = planned(before, after, terms{}, o, nil, nil)
		c.Planned.Outcome, c.Planned.Says = NotComparable, c.Unlike
		return c, nil
	}
	t := termsOf(before, after)
	if all, missing := changes(before, after, t); len(all)+len(missing) > 0 {
		if o.OtherShoes {
			all, missing = withoutShoes(all, missing)
		}
		c.Changes, c.NotCompared = append(c.Changes, all...), append(c.NotCompared, missing...)
	}
	c.Planned = planned(before, after, t, o, c.Changes, c.NotCompared)
	stand(c.Changes)
	c.Notes = append(c.Notes, t.notes...)
	c.Notes = append(c.Notes, c.caveats(o)...)
	return c, nil
}

// ofOne refuses what can't be an earlier and a later check of one runner.
func ofOne(before, after card.Card) error {
	b, a := strings.TrimSpace(before.Runner.Name), strings.TrimSpace(after.Runner.Name)
	switch {
	case b != "" && a != "" && !strings.EqualFold(b, a):
		return form.ClipError("these are checks of two people, %s and %s; only checks of one runner can be compared", b, a)
	case after.Made.Before(before.Made):
		return form.UsageError("the second check is older than the first; name the earlier one first")
	default:
		return nil
	}
}

func checkOf(c card.Card) Check {
	out := Check{
		Made: c.Made, File: c.Clip.File, Kind: c.Kind, Setting: c.Clip.Setting, View: c.Clip.View, Facing: c.Clip.Facing,
		RateHz: c.Clip.RateHz, SpeedMS: c.Clip.SpeedMS, Networks: c.Networks, Priority: c.Priority.Area,
	}
	if out.Networks == nil {
		out.Networks = []card.Network{}
	}
	return out
}

// shoeMeasures are what other shoes change by themselves: the foot's angle
// and what follows from it.
var shoeMeasures = map[string]bool{"foot_strike_angle": true, "contact_time": true, "flight_time": true, "duty_factor": true, "heel_landing_distance": true, "leg_stiffness": true}

// withoutShoes takes out what other shoes change by themselves.
func withoutShoes(all []Change, missing []form.Refusal) (kept []Change, _ []form.Refusal) {
	for _, c := range all {
		if shoeMeasures[c.Name] {
			missing = append(missing, form.Refusal{Name: c.Name, Side: c.Side, Reason: "other shoes change it by themselves"})
			continue
		}
		kept = append(kept, c)
	}
	return kept, missing
}

// caveats are what a reader must know of a comparison.
func (c Comparison) caveats(o Options) []string {
	var out []string
	others, told := 0, 0
	for _, one := range c.Changes {
		if !one.Planned {
			others++
			if one.Verdict != NoChange {
				told++
			}
		}
	}
	if others > 0 {
		out = append(out, fmt.Sprintf("One change was looked for; %d other values are shown beside it, and about one in twenty of such differs by chance alone. Those that are more than chance with all of them counted together are marked with a star.", others))
	}
	if c.Before.Kind != card.Standing && c.Before.View != "back" && !o.OtherShoes {
		out = append(out, "Both checks are taken as in the same shoes: other shoes change the landing by themselves.")
	}
	if c.Planned.Outcome == Reached || c.Planned.Outcome == Nearer {
		out = append(out, "What was worked on was chosen because it stood out, and what stands out comes nearer by chance more often than it goes away: a change that is barely more than noise is no proof. A third check tells.")
	}
	if told > 0 || c.Planned.Outcome != Nothing {
		out = append(out, "A change is no cause: what the runner did between the two checks may have made it, or something else.")
	}
	return out
}
