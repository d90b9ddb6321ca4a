package accelerometry

import (
	"errors"
	"fmt"
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/signal"
)

// Place is where the sensor was worn.
type Place string

// The places that matter: contact and flight are known only at the small of
// the back, near the body's centre of mass.
const (
	NotStated Place = ""
	Back      Place = "back"
	Elsewhere Place = "elsewhere"
)

// Finding is what a recording tells.
type Finding struct {
	// Gait is what fills more of the recording: Running or Walking.
	Gait Gait
	// RunningS and WalkingS are the seconds of either.
	RunningS, WalkingS float64
	Measures           []form.Measure
	Refused            []form.Refusal
	Notes              []string
}

// Analyse tells gait, steps and times from a recording. Errors are
// form.Errors where nobody walks or runs in it.
func Analyse(rec Recording, worn Place) (Finding, error) {
	sections, missing := rec.sections()
	if missing > 0.5 {
		return Finding{}, form.ClipError("%.0f %% of the recording's time is missing or in pieces shorter than %.0f s: keep the sensor's programme awake while it records", 100*missing, shortestS)
	}
	f := Finding{Notes: append([]string{}, rec.Notes...)}
	if missing > 0.005 {
		f.Notes = append(f.Notes, fmt.Sprintf("%.1f %% of the recording's time is missing; only whole stretches were read.", 100*missing))
	}
	var walks, runs []bout
	for _, s := range sections {
		for _, b := range bouts(s) {
			if b.gait == Running {
				runs = append(runs, b)
				f.RunningS += b.seconds()
			} else {
				walks = append(walks, b)
				f.WalkingS += b.seconds()
			}
		}
	}
	if len(walks)+len(runs) == 0 {
		return Finding{}, nobody(sections)
	}
	f.Gait = Walking
	if f.RunningS >= f.WalkingS || f.RunningS >= 20 {
		f.Gait = Running
		f.run(rec, worn, runs)
	} else {
		f.walk(walks)
	}
	f.mixed(walks, runs)
	return f, nil
}

// nobody says why there are no steps.
func nobody(sections []section) error {
	liveliest := 0.0
	for _, s := range sections {
		_, sd := signal.MeanSD(signal.LowPass(s.up, s.rateHz, 10))
		liveliest = math.Max(liveliest, sd)
	}
	if liveliest < stillG {
		return form.ClipError("the sensor lay still: it must be worn on the body while its wearer runs or walks")
	}
	return form.ClipError("no steps are found: what moves here has not the even beat of feet, or is riding or shaking. Wear the sensor tightly, and run or walk steadily for 10 seconds or more")
}

// mixed says what of the other gait there was.
func (f *Finding) mixed(walks, runs []bout) {
	count := func(bs []bout) float64 {
		n := 0.0
		for _, b := range bs {
			n += b.steps()
		}
		return n
	}
	switch {
	case f.Gait == Running && len(walks) > 0 && f.WalkingS > 3:
		f.Notes = append(f.Notes, fmt.Sprintf("%.0f s of walking (about %.0f steps) are in the recording; they are left out.", f.WalkingS, count(walks)))
	case f.Gait == Walking && len(runs) > 0:
		f.Notes = append(f.Notes, fmt.Sprintf("%.0f s of running are in the recording, too little to go by.", f.RunningS))
	}
}

// countSteps makes the measure of the number of steps: one step may be missed
// or won at each end of a bout, and one in a hundred between.
func countSteps(bs []bout) form.Measure {
	n, var0 := 0.0, 0.0
	for _, b := range bs {
		k := b.steps()
		n += k
		var0 += 2*1.2*1.2 + 0.01*k*0.01*k
	}
	return form.With95("step_count", form.Both, "steps", math.Round(n), math.Sqrt(var0), int(math.Round(n)))
}

// byBeat is the cadence by the windows' steps alone.
func byBeat(name string, bs []bout) (form.Measure, error) {
	var rates []float64
	steps := 0.0
	for _, b := range bs {
		steps += b.steps()
		for _, w := range b.windows {
			rates = append(rates, 60/w.stepS)
		}
	}
	cadence, spread := signal.MeanSD(rates)
	if math.IsNaN(spread) || spread > 0.1*cadence {
		return form.Measure{}, errors.New("the beat is too uneven to count by")
	}
	// Windows overlap eight times.
	sd := math.Max(spread/math.Sqrt(math.Max(float64(len(rates))/(windowS/hopS), 1)), 0.003*cadence)
	return form.With95(name, form.Both, "steps/min", cadence, sd, int(math.Round(steps))), nil
}

// walk gives what is told of walking.
func (f *Finding) walk(bs []bout) {
	f.Measures = append(f.Measures, countSteps(bs))
	if m, err := byBeat("walking_cadence", bs); err != nil {
		f.refuse(err.Error(), "walking_cadence")
	} else {
		f.Measures = append(f.Measures, m)
	}
	f.refuse("this is walking, not running", "cadence", "contact_time", "flight_time", "duty_factor", "step_time_asymmetry")
}

// contactOffsetS is how much longer than above 5 % of body weight on a force
// plate the contact by landmarks comes out, and twoOffsetS that by pulse and
// edges, seconds; methodSD and twoSD are what is left, each trial held against
// the others (docs/accelerometer.md has the
// numbers; TestContactAgainstForce finds them again).
const (
	contactOffsetS, methodSD = 0.015, 0.0095
	twoOffsetS, twoSD        = 0.0075, 0.0125
	// Where upright is known from gravity alone, the trunk's lean leaks in.
	leaningOffsetS, leaningSD = 0.0275, 0.015
)

// pooled gathers the bouts' steps.
type pooled struct {
	intervals [][]float64 // per bout, seconds
	check     []float64   // steps' lengths by autocorrelation, one a bout
	span      float64
	steps     int
	runs      []strides
	contacts  []stance
}

// strides are a running bout's accelerations with the rises of its steps.
type strides struct {
	up, forward   []float64 // g; forward may be nil
	rateHz, stepS float64
	crossings     []float64 // samples
}

// run gives the measures of running.
func (f *Finding) run(rec Recording, worn Place, bs []bout) {
	f.Measures = append(f.Measures, countSteps(bs))
	var p pooled
	for _, b := range bs {
		p.add(b)
	}
	f.Notes = append(f.Notes, p.stances()...)
	cadence, err := p.cadence()
	if err != nil && worn != Back && !rec.Upright { // on an arm or a leg the beat alone may be clear
		cadence, err = byBeat("cadence", bs)
		cadence.Note = "by the beat alone: single steps are not clear where the sensor is worn"
		p.contacts = nil
	}
	if err != nil {
		f.refuse(err.Error(), "cadence", "contact_time", "flight_time", "duty_factor", "step_time_asymmetry")
		return
	}
	f.Measures = append(f.Measures, cadence)
	f.contact(rec, worn, p)
	f.refuse(tooEven, "step_time_asymmetry")
}

// tooEven is why the sides are not compared: on a force plate's 16 trials the
// feet differed by 5 % on average, the trunk's rises by half of that
// (TestTrunkIsTooEven).
const tooEven = "the trunk goes more evenly than the feet, so a sensor tells it too small; film it"

func (f *Finding) refuse(why string, names ...string) {
	for _, n := range names {
		f.Refused = append(f.Refused, form.Refusal{Name: n, Side: form.Both, Reason: why})
	}
}

// add finds a bout's steps.
func (p *pooled) add(b bout) {
	s := b.section
	up := b.cut(s.up)
	stepS := refine(up, s.rateHz, b.stepS())
	crossings := rises(up, s.rateHz, stepS)
	if len(crossings) < 4 {
		return
	}
	var intervals []float64
	for i := 1; i < len(crossings); i++ {
		intervals = append(intervals, (crossings[i]-crossings[i-1])/s.rateHz)
	}
	p.intervals = append(p.intervals, intervals)
	p.check = append(p.check, stepS)
	p.span += (crossings[len(crossings)-1] - crossings[0]) / s.rateHz
	p.steps += len(intervals)
	run := strides{up: up, rateHz: s.rateHz, stepS: stepS, crossings: crossings}
	if s.forward != nil {
		run.forward = b.cut(s.forward)
	}
	p.runs = append(p.runs, run)
}

// stances estimates every bout's contact, with the fore–aft axis as it
// points; the notes say where that isn't as its column's name has it.
func (p *pooled) stances() (notes []string) {
	way := p.bearing()
	for _, r := range p.runs {
		forward := r.forward
		switch {
		case way == unclear:
			forward = nil
		case way == backward:
			forward = reversed(forward)
		}
		p.contacts = append(p.contacts, contactTimes(r.up, forward, r.rateHz, r.crossings))
	}
	switch {
	case len(p.runs) == 0 || p.runs[0].forward == nil:
	case way == unclear:
		notes = append(notes, "Which way the forward axis points can't be told, for no braking and pushing off shows in it with each step: contact time goes by the vertical alone.")
	case way == backward:
		notes = append(notes, "The forward axis points backwards, for with each step it speeds up first and brakes later: its sign was turned.")
	}
	return notes
}

// bearing is the way the bouts' fore–aft axis points by the votes of their
// steps, three quarters of which must agree; unclear without such an axis.
func (p *pooled) bearing() bearing {
	votes, all := 0, 0
	for _, r := range p.runs {
		if r.forward == nil {
			return unclear
		}
		votes += int(bearingOf(r.up, r.forward, r.rateHz, r.stepS, r.crossings)) * len(r.crossings)
		all += len(r.crossings)
	}
	switch {
	case 2*votes > all:
		return ahead
	case 2*votes < -all:
		return backward
	}
	return unclear
}

// refine finds the step's length within 8 % of a first guess from the
// autocorrelation one stride later, at the full rate, over 20 s at most.
func refine(up []float64, rateHz, guessS float64) float64 {
	if n := int(20 * rateHz); len(up) > n {
		up = up[(len(up)-n)/2:][:n]
	}
	v := signal.LowPass(up, rateHz, riseHz)
	r := repeats(v, int(2.2*guessS*rateHz)+2)
	best, lag := -1.0, 2*guessS*rateHz
	for k := int(2 * 0.92 * guessS * rateHz); k <= int(2*1.08*guessS*rateHz) && k+1 < len(r); k++ {
		if k > 0 && r[k] > best && r[k] >= r[k-1] && r[k] >= r[k+1] {
			shift := 0.0
			if curve := r[k-1] - 2*r[k] + r[k+1]; curve < 0 {
				shift = (r[k-1] - r[k+1]) / (2 * curve)
			}
			best, lag = r[k], float64(k)+shift
		}
	}
	return lag / rateHz / 2
}

// crossingSD is how well one rise through body weight is found, seconds.
const crossingSD = 0.0085

// cadence is 60 / mean step time; the autocorrelation must agree.
func (p *pooled) cadence() (form.Measure, error) {
	var sum, check float64
	n := 0
	for i, intervals := range p.intervals {
		for _, d := range intervals {
			if d > 0.65*p.check[i] && d < 1.45*p.check[i] {
				sum += d
				n++
			}
		}
		check += p.check[i] * float64(len(intervals))
	}
	if n < 6 {
		return form.Measure{}, fmt.Errorf("too few even steps are found (%d); run steadily for 10 seconds or more", n)
	}
	value, other := 60*float64(n)/sum, 60*float64(p.steps)/check
	limit := 0.02 * math.Max(1, 8/float64(n))
	if math.Abs(value/other-1) > limit || float64(n) < 0.8*float64(p.steps) {
		return form.Measure{}, fmt.Errorf("two independent ways of counting disagree (%.1f and %.1f steps/min): the sensor may sit loosely, or the run is uneven", value, other)
	}
	sd := value * crossingSD * math.Sqrt2 * math.Sqrt(float64(len(p.intervals))) / p.span
	return form.With95("cadence", form.Both, "steps/min", value, math.Max(sd, 0.05), n), nil
}
