package tempo

import (
	"fmt"

	"plumbstride/internal/form"
)

// Ask is what the coach wants.
type Ask struct {
	// Target is the cadence to reach, and Own the runner's own, measured at
	// the speed of the run; 0 where they aren't stated. Ladder has neither.
	Target, Own Cadence
	// LengthMS is the length of the run: signals and count-ins at the
	// track's ends come on top. A ladder whose rungs have a length has none.
	LengthMS int64
	// Pattern may be zero: StepUp where Own is stated and lies below Target,
	// Steady elsewhere.
	Pattern Pattern
	// LargerSteps allows steps of more than MaxStepPct, by the coach's
	// decision.
	LargerSteps bool
}

// MaxStepPct is the largest change of cadence in one step, in per cent:
// common practice, no source. It is the smaller of the two changes of
// Heiderscheit et al. 2011 (doi 10.1249/MSS.0b013e3181ebedf4), and less than
// the 7.5 % that Willy et al. 2016 (doi 10.1111/sms.12413) had runners take
// on over eight sessions.
const MaxStepPct = 5

// The lengths of what a track is put together from.
const (
	startMS, nextMS, turnMS = 2000, 2000, 2000
	endMS                   = 3000
	leadSteps, nextSteps    = 8, 4
	usualGlideMS            = 15_000
	fadingPartMS            = 5 * 60_000 // as long as a part of Fading is, about
	minFadingPartMS         = 60_000
	shortestQuietMS         = 2*turnMS + 1000
)

// Make turns an ask into a plan. What can't be done is a form.Error of code
// usage with a sentence that says what to change.
func Make(ask Ask) (Plan, error) {
	ask = ask.settled()
	if err := ask.check(); err != nil {
		return Plan{}, err
	}
	b := &builder{}
	var err error
	p := ask.Pattern
	switch p.Shape {
	case Steady:
		b.open(ask.Target)
		b.steps(ask.Target, ask.Target, ask.LengthMS)
	case StepUp:
		err = b.stepUp(ask)
	case Ladder:
		err = b.ladder(ask)
	case OnOff:
		b.open(ask.Target)
		b.turns(ask.Target, onOffTurns(p, ask.LengthMS))
	case Fading:
		var turns []turn
		if turns, err = fadingTurns(&p, ask.LengthMS); err == nil {
			b.open(ask.Target)
			b.turns(ask.Target, turns)
		}
	default:
		panic("tempo: no such shape: " + string(p.Shape))
	}
	if err != nil {
		return Plan{}, err
	}
	b.signal(End, endMS)
	plan := Plan{Version: Version, Title: ask.title(), Pattern: p.String(), Parts: b.parts, Cautions: ask.cautions()}
	if err := plan.Valid(); err != nil {
		return Plan{}, fmt.Errorf("tempo: plan for %s: %w", plan.Pattern, err)
	}
	return plan, nil
}

// settled fills in what the ask leaves open.
func (a Ask) settled() Ask {
	if a.Pattern.Shape == "" {
		a.Pattern.Shape = Steady
		if a.Own != 0 && a.Own < a.Target {
			a.Pattern = Pattern{Shape: StepUp, GlideMS: -1}
		}
	}
	if a.Pattern.Shape != StepUp {
		return a
	}
	if a.Pattern.GlideMS < 0 {
		a.Pattern.GlideMS = usualGlideMS
	}
	if a.Pattern.Count == 0 && a.Own > 0 && a.Target > a.Own { // the fewest steps of at most 5 %
		a.Pattern.Count = int((100*int64(a.Target-a.Own) + MaxStepPct*int64(a.Own) - 1) / (MaxStepPct * int64(a.Own)))
	}
	return a
}

// check refuses what contradicts itself, is out of range, or steps too far.
func (a Ask) check() error {
	inRange := func(c Cadence) bool { return c >= MinCadence && c <= MaxCadence }
	onSpot := a.Pattern.Shape == Ladder
	switch {
	case onSpot && (a.Target != 0 || a.Own != 0):
		return form.UsageError("a ladder names its cadences itself; leave target and own cadence out")
	case onSpot && (a.LengthMS == 0) == (a.Pattern.EachMS == 0):
		return form.UsageError("a ladder needs either minutes for the whole or a time for each cadence (each 40s), and not both")
	case !onSpot && a.Target == 0:
		return form.UsageError("the target cadence is lacking; state it in steps a minute (--target 168)")
	case !onSpot && !inRange(a.Target), a.Own != 0 && !inRange(a.Own):
		return form.UsageError("a cadence is between %s and %s steps/min", MinCadence, MaxCadence)
	case !onSpot && a.LengthMS == 0:
		return form.UsageError("the length is lacking; state it in minutes (--minutes 20)")
	case a.LengthMS != 0 && (a.LengthMS < minLengthMS || a.LengthMS > maxLengthMS):
		return form.UsageError("a tempo track is between 0.5 and %d minutes long", maxMinutes)
	case a.Pattern.Shape == StepUp && a.Own == 0:
		return form.UsageError("a step-up begins at the runner's own cadence; state it (--from 160), measured at the speed of this run")
	case a.Pattern.Shape == StepUp && a.Own >= a.Target:
		return form.UsageError("a step-up rises, and the target %s does not lie above the runner's own %s; use steady", a.Target, a.Own)
	}
	if onSpot || a.Own == 0 {
		return nil
	}
	from := a.Own
	for _, to := range a.levels() {
		if err := a.stepAllowed(from, to); err != nil {
			return err
		}
		from = to
	}
	return nil
}

// levels are the cadences behind the runner's own: the target alone, or the
// equal steps of StepUp, rounded down to a tenth of a step a minute.
func (a Ask) levels() []Cadence {
	if a.Pattern.Shape != StepUp {
		return []Cadence{a.Target}
	}
	n := Cadence(a.Pattern.Count)
	out := make([]Cadence, n)
	for i := range n {
		out[i] = a.Own + (a.Target-a.Own)*(i+1)/n
		if i < n-1 {
			out[i] -= out[i] % 100
		}
	}
	return out
}

func (a Ask) stepAllowed(from, to Cadence) error {
	if a.LargerSteps || !larger(from, to) {
		return nil
	}
	change := float64(to-from) / float64(from) * 100
	if a.Pattern.Shape == StepUp {
		return form.UsageError("from %s to %s steps/min is a step of %+.1f %%, and a step is at most %d %%; use more steps, or --larger-steps if that is your decision", from, to, change, MaxStepPct)
	}
	nearest := from + from*MaxStepPct/100
	if to < from {
		nearest = from - from*MaxStepPct/100
	}
	return form.UsageError("from %s to %s steps/min is one step of %+.1f %%, and a step is at most %d %% (%s steps/min); choose a nearer target, a step-up in one run, or --larger-steps if that is your decision", from, to, change, MaxStepPct, nearest)
}

// larger tells whether a change is larger than MaxStepPct.
func larger(from, to Cadence) bool {
	d := to - from
	return 100*max(d, -d) > MaxStepPct*from
}

// builder puts parts behind each other.
type builder struct{ parts []Part }

func (b *builder) add(p Part) { b.parts = append(b.parts, p) }

func (b *builder) signal(s Signal, ms int64) { b.add(Part{Kind: Chime, MS: ms, Signal: s}) }

// open begins a track: a signal, and eight steps to fall in with.
func (b *builder) open(c Cadence) {
	b.signal(Start, startMS)
	b.countIn(c, leadSteps)
}

// countIn lasts for a number of steps, cut to the whole millisecond; the
// beat is carried on across the cut, so the steps stay even.
func (b *builder) countIn(c Cadence, steps int64) {
	b.add(Part{Kind: CountIn, MS: countInMS(c, steps), From: c, To: c})
}

func countInMS(c Cadence, steps int64) int64 { return steps * 60_000 * 1000 / int64(c) }

func (b *builder) steps(from, to Cadence, ms int64) {
	b.add(Part{Kind: Steps, MS: ms, From: from, To: to})
}

// stepUp holds each cadence for an equal time, of which the glide to it is
// the beginning; the last takes the milliseconds that are left over.
func (b *builder) stepUp(ask Ask) error {
	levels, glide := ask.levels(), ask.Pattern.GlideMS
	plateau := ask.LengthMS / int64(len(levels)+1)
	if plateau < glide+minTurnMS {
		return form.UsageError("%s is too short for %d cadences, each with a glide of %s and held for %s at least; make it longer, or the steps fewer", span(ask.LengthMS), len(levels)+1, span(glide), span(minTurnMS))
	}
	b.open(ask.Own)
	b.steps(ask.Own, ask.Own, plateau)
	from := ask.Own
	for i, to := range levels {
		hold := plateau - glide
		if i == len(levels)-1 {
			hold = ask.LengthMS - int64(len(levels))*plateau - glide
		}
		if glide > 0 {
			b.steps(from, to, glide)
		}
		b.steps(to, to, hold)
		from = to
	}
	return nil
}

// ladder plays each rung for an equal time, with a signal and four steps at
// the new cadence between them.
func (b *builder) ladder(ask Ask) error {
	rungs, each := ask.Pattern.Rungs, ask.Pattern.EachMS
	if each == 0 {
		between := int64(0)
		for _, c := range rungs[1:] {
			between += nextMS + countInMS(c, nextSteps)
		}
		if each = (ask.LengthMS - between) / int64(len(rungs)); each < minTurnMS {
			return form.UsageError("%s is too short for a ladder of %d cadences, each for %s at least", span(ask.LengthMS), len(rungs), span(minTurnMS))
		}
	}
	if each*int64(len(rungs)) > maxLengthMS {
		return form.UsageError("a tempo track is at most %d minutes long, and %d times %s is more", maxMinutes, len(rungs), span(each))
	}
	b.open(rungs[0])
	b.steps(rungs[0], rungs[0], each)
	for _, c := range rungs[1:] {
		b.signal(Next, nextMS)
		b.countIn(c, nextSteps)
		b.steps(c, c, each)
	}
	return nil
}
