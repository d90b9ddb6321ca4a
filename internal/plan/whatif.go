package plan

import (
	"fmt"
	"math"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
)

// Effect is what one quantity is expected to do when cadence changes at the
// same speed.
type Effect struct {
	// Quantity is the measure's name, or "step_length".
	Quantity string `json:"quantity"`
	Title    string `json:"title"`
	// Kind is "exact" (arithmetic), "estimate" (a published size) or
	// "direction" (published without a size that can be used: no number).
	Kind string `json:"kind" jsonschema:"enum=exact,enum=estimate,enum=direction"`
	// Direction is "falls" or "rises".
	Direction string `json:"direction" jsonschema:"enum=falls,enum=rises"`
	// Change is the expected change and Low..High its 95 % interval, in Unit;
	// null where there is none. "%" is of the runner's own value.
	Change card.Number `json:"change"`
	Low    card.Number `json:"low"`
	High   card.Number `json:"high"`
	Unit   string      `json:"unit"`
	Source string      `json:"source"`
	Note   string      `json:"note"`
}

// Change is one row of what-if: a change of cadence and its effects.
type Change struct {
	// CadencePct is the change of cadence, percent; StepsPerMin the new one.
	CadencePct  float64  `json:"cadence_pct"`
	StepsPerMin float64  `json:"steps_per_min"`
	Effects     []Effect `json:"effects"`
}

// slope is a published mean of before and after, with their SDs, in n people
// at a change of cadence of pct.
type slope struct {
	quantity, title, unit      string
	before, beforeSD           float64
	after, afterSD, n, pct     float64
	percentOfBefore            bool
	source, otherSource, notes string
}

// slopes are the sizes that were published.
func slopes() []slope {
	wang := "Wang et al. 2020 doi 10.7717/peerj.9813 (24 men, 12 weeks at +7.5 %)"
	derived := "The interval is derived from the two published SDs as if before and after were independent, which makes it wider; carried to other changes in proportion."
	return []slope{
		{"knee_flexion_peak", "Deepest knee bend in stance", "deg", 38.6, 5.0, 36.5, 5.5, 24, 7.5, false,
			wang, "Anderson et al. 2022 doi 10.1186/s40798-022-00504-0 (37 studies: falls, SMD 0.66, 0.40 to 0.92)", derived},
		{"vertical_oscillation", "Bounce", "%", 7.7, 1.0, 6.9, 0.8, 24, 7.5, true,
			wang, "Heiderscheit et al. 2011 doi 10.1249/MSS.0b013e3181ebedf4 (45 runners: falls)", derived},
		{"foot_strike_angle", "Foot angle at contact", "deg", 18.27, 5.59, 13.74, 2.82, 24, 7.5, false,
			wang, "Anderson et al. 2022 doi 10.1186/s40798-022-00504-0 (falls, SMD 0.62, 0.34 to 0.90)",
			derived + " In men who landed on the heel; says nothing of others."},
	}
}

// t975at23 is the 97.5 % point of Student's t with 23 degrees of freedom, for
// the 24 people of Wang et al. 2020.
const t975at23 = 2.0687

// at is the slope's effect at a change of cadence of pct:
//
//	change = (after − before)·pct/pct₀,  interval ± t·√((s₁² + s₂²)/n)·pct/pct₀
func (s slope) at(pct float64) Effect {
	k := pct / s.pct
	if s.percentOfBefore {
		k *= 100 / s.before
	}
	change := (s.after - s.before) * k
	half := math.Abs(t975at23 * math.Sqrt((s.beforeSD*s.beforeSD+s.afterSD*s.afterSD)/s.n) * k)
	return Effect{
		Quantity: s.quantity, Title: s.title, Kind: "estimate", Direction: falls(change),
		Change: card.Number(change), Low: card.Number(change - half), High: card.Number(change + half),
		Unit: s.unit, Source: s.source + "; " + s.otherSource, Note: s.notes,
	}
}

func falls(change float64) string {
	if change < 0 {
		return "falls"
	}
	return "rises"
}

// WhatIf gives what changes of cadence by +5, +7.5 and +10 % are expected to
// do at the same speed, for a runner whose cadence is stepsPerMin, from
// published sizes; the runner's own response may differ. stepsPerMin must be
// positive.
func WhatIf(stepsPerMin float64) []Change {
	if !(stepsPerMin > 0) {
		panic("plan: a cadence that is not positive")
	}
	var changes []Change
	for _, pct := range []float64{5, 7.5, 10} {
		c := Change{CadencePct: pct, StepsPerMin: stepsPerMin * (1 + pct/100)}
		c.Effects = []Effect{stepLength(pct), landingDistance(stepsPerMin, pct), kneeAtContact()}
		for _, s := range slopes() {
			c.Effects = append(c.Effects, s.at(pct))
		}
		changes = append(changes, c)
	}
	return changes
}

// WhatIfFor gives what a card should say about quicker steps: something only
// where a plan for its priority would raise the cadence.
func WhatIfFor(c card.Card) []Change {
	ask, err := FromCard(c, "")
	if err != nil || ask.Cadence == nil || !(ask.Cadence.StepsPerMin > 0 && ask.Cadence.SD > 0) {
		return nil
	}
	ask.Weeks = minWeeks
	if steps, _ := stepUps(ask); len(steps) == 0 {
		return nil
	}
	return WhatIf(ask.Cadence.StepsPerMin)
}

// stepLength is arithmetic: at a speed v the step is 60·v/cadence, so that it
// changes by 1/(1 + pct/100) − 1 whatever the speed.
func stepLength(pct float64) Effect {
	change := card.Number(100 * (1/(1+pct/100) - 1))
	return Effect{
		Quantity: "step_length", Title: "Step length", Kind: "exact", Direction: falls(float64(change)),
		Change: change, Low: change, High: change, Unit: "%",
		Source: "arithmetic: step length = 60 · speed / cadence", Note: "Exact at the same speed.",
	}
}

// landingDistance is −5.9 % for each 5 strides/min, that is 10 steps/min,
// more (Lieberman et al. 2015), in proportion.
func landingDistance(stepsPerMin, pct float64) Effect {
	nan := card.Number(math.NaN())
	change := -5.9 * stepsPerMin * pct / 100 / 10
	return Effect{
		Quantity: "landing_distance", Title: "Foot ahead of the body at contact", Kind: "estimate", Direction: falls(change),
		Change: card.Number(change), Low: nan, High: nan, Unit: "%",
		Source: "Lieberman et al. 2015 doi 10.1242/jeb.125500 (14 runners at 3.0 m/s: −5.9 % for each 5 strides/min)",
		Note:   "Measured there from the hip, not from the centre of mass. No interval was seen, so none is given.",
	}
}

func kneeAtContact() Effect {
	nan := card.Number(math.NaN())
	return Effect{
		Quantity: "knee_flexion_contact", Title: "Knee bend at contact", Kind: "direction", Direction: "rises",
		Change: nan, Low: nan, High: nan, Unit: "deg",
		Source: "Heiderscheit et al. 2011 doi 10.1249/MSS.0b013e3181ebedf4, from memory (direction only)",
		Note:   "A size was not seen, so no number is given.",
	}
}

// WhatIfNotes are what must be said beside.
func WhatIfNotes() []string {
	return []string{
		"These are means of groups. A runner may respond more, less or the other way.",
		"Quicker steps feel harder at first (Anderson et al. 2022 doi 10.1186/s40798-022-00504-0: perceived exertion, SMD −0.49), and move load to other parts; whether they change the number of injuries is not known (same source).",
	}
}

// String writes an effect in a few words: "−4.8 %", "−10.4 % (−17.4 to −3.4)",
// "rises, size not known".
func (e Effect) String() string {
	minus := func(v card.Number) string { return form.Signed(float64(v), 1) }
	unit := e.Unit
	if unit == "deg" {
		unit = "°"
	}
	switch {
	case !e.Change.Known():
		return e.Direction + ", size not known"
	case e.Kind == "exact":
		return minus(e.Change) + " " + unit + " (exact)"
	case !e.Low.Known():
		return minus(e.Change) + " " + unit + " (interval not known)"
	default:
		return fmt.Sprintf("%s %s (%s to %s)", minus(e.Change), unit, minus(e.Low), minus(e.High))
	}
}
