package accelerometry

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"plumbstride/internal/form"
	"plumbstride/internal/signal"
)

// Recording is what an accelerometer felt: specific force, gravity included,
// in g.
type Recording struct {
	// TimesS rise strictly and begin at 0.
	TimesS []float64
	// Axes are x, y and z in any orientation, or vertical (up positive) and
	// perhaps fore–aft, pointing either way, where Upright.
	Axes    [][]float64
	Upright bool
	// RateHz is the usual rate, 1 / the median step of time.
	RateHz float64
	// GravityG is the mean felt, g: near 1 where nothing is wrong.
	GravityG float64
	// Notes say what was assumed.
	Notes []string
}

// Limits of what can be read.
const (
	slowestRate = 25.0   // Hz: a step has then eight samples and more
	fastestRate = 5000.0 // Hz
	shortestS   = 4.0    // seconds: some eight steps
	// gravityLow and gravityHigh bound the mean that is taken for 1 g: sensors
	// are off by some per cent, clipped below 0 they feel up to 1.37 g.
	gravityLow, gravityHigh = 0.65, 1.5
	standardG               = 9.80665 // m/s²
)

// recording gives what was read in seconds and g.
func (t *table) recording() (Recording, error) {
	rec := Recording{Upright: t.layout.vertical >= 0, Notes: t.layout.notes}
	for k := range t.axes {
		rec.Axes = append(rec.Axes, t.values[k])
	}
	if err := rec.clock(t); err != nil {
		return Recording{}, err
	}
	return rec, rec.weigh(t)
}

// timeUnits are seconds a unit.
var timeUnits = map[string]float64{"s": 1, "sec": 1, "seconds": 1, "ms": 1e-3, "us": 1e-6, "µs": 1e-6, "ns": 1e-9}

// clock sets the times in seconds, and refuses those that can't be.
func (rec *Recording) clock(t *table) error {
	n := len(rec.Axes[0])
	if rate := t.options.RateHz; rate > 0 {
		if rate < slowestRate || rate > fastestRate {
			return rateError(rate)
		}
		rec.TimesS, rec.RateHz = make([]float64, n), rate
		for i := range rec.TimesS {
			rec.TimesS[i] = float64(i) / rate
		}
		return rec.longEnough()
	}
	if n < 3 {
		return form.ClipError("there are too few samples in the recording (%d); walk or run for 10 seconds or more", n)
	}
	if err := rec.inOrder(t); err != nil {
		return err
	}
	step := medianStep(rec.TimesS)
	unit, err := rec.timeUnit(t, step)
	if err != nil {
		return err
	}
	for i := range rec.TimesS {
		rec.TimesS[i] *= unit
	}
	rec.RateHz = 1 / (step * unit)
	if rec.RateHz < slowestRate || rec.RateHz > fastestRate {
		return rateError(rec.RateHz)
	}
	return rec.longEnough()
}

func rateError(rate float64) error {
	if rate > fastestRate {
		return form.ClipError("%.3g samples a second can't be: state the unit of the time (--time-unit s, ms, us or ns)", rate)
	}
	return form.ClipError("%.3g samples a second are too few to see steps: record at %g or more (most sensors have 50 or 100), or state the unit of the time (--time-unit s, ms, us or ns)", rate, slowestRate)
}

func (rec *Recording) longEnough() error {
	n := len(rec.TimesS)
	if long := rec.TimesS[n-1]; long < shortestS-0.5/rec.RateHz {
		return form.ClipError("the recording lasts %.1f s; walk or run for 10 seconds or more", long)
	}
	return nil
}

// inOrder keeps the first of samples with one time, and refuses times that
// run backwards.
func (rec *Recording) inOrder(t *table) error {
	first := t.times[0]
	kept, double := 0, 0
	for i, v := range t.times {
		if kept > 0 {
			last := rec.TimesS[kept-1]
			if v-first < last {
				return form.ClipError("the time runs backwards in line %d of the recording (column %d): is that the time's column, or was the clock set meanwhile? Cut the recording there", t.lines[i], t.layout.time+1)
			}
			if v-first == last {
				double++
				continue
			}
		}
		rec.TimesS = append(rec.TimesS, v-first)
		for _, axis := range rec.Axes {
			axis[kept] = axis[i]
		}
		kept++
	}
	if kept < 3 || double > len(t.times)/4 {
		return form.ClipError("%d of %d samples have the same time as the one before; is column %d the time? It may be rounded too coarsely: state --sample-rate, and leave the time's column out", double, len(t.times), t.layout.time+1)
	}
	if double > 0 {
		rec.Notes = append(rec.Notes, fmt.Sprintf("Samples left out, with the same time as the one before: %d.", double))
	}
	for k := range rec.Axes {
		rec.Axes[k] = rec.Axes[k][:kept]
	}
	return nil
}

func medianStep(times []float64) float64 {
	steps := make([]float64, len(times)-1)
	for i := range steps {
		steps[i] = times[i+1] - times[i]
	}
	return signal.Median(steps)
}

// timeUnit is the stated unit, the header's, or the one that makes the step
// a sensor's: no two make it so.
func (rec *Recording) timeUnit(t *table, step float64) (float64, error) {
	if t.options.TimeUnit != "" {
		return timeUnits[t.options.TimeUnit], nil
	}
	if t.layout.header != nil {
		_, unit := splitUnit(t.layout.header[t.layout.time])
		if s, ok := timeUnits[unit]; ok {
			return s, nil
		}
	}
	for _, unit := range []string{"s", "ms", "us", "ns"} {
		if rate := 1 / (step * timeUnits[unit]); rate > 1 && rate <= 1000 {
			if unit != "s" {
				rec.Notes = append(rec.Notes, fmt.Sprintf("The time was taken to be in %s, by the size of its steps.", unit))
			}
			return timeUnits[unit], nil
		}
	}
	return 0, form.ClipError("the time's steps of %.3g are those of no sensor in s, ms, us or ns: is column %d the time?", step, t.layout.time+1)
}

// gPerUnit are g a unit.
var gPerUnit = map[string]float64{
	"g": 1, "bw": 1, "m/s2": 1 / standardG, "m/s^2": 1 / standardG, "m/s²": 1 / standardG,
	"ms2": 1 / standardG, "mps2": 1 / standardG, "ms-2": 1 / standardG, "m/s/s": 1 / standardG,
}

// weigh sets the axes in g, and holds the mean against gravity: a sensor on a
// body that goes on steadily feels 1 g upwards on average.
func (rec *Recording) weigh(t *table) error {
	if rec.Upright {
		rec.standUp()
	}
	felt := rec.felt()
	unit := t.options.Unit
	if unit == "" && t.layout.header != nil {
		if _, u := splitUnit(t.layout.header[t.axes[0]]); gPerUnit[u] != 0 {
			unit = u
		}
	}
	stated := unit != ""
	if !stated {
		unit = "g"
		if f := felt / standardG; f > gravityLow && f < gravityHigh {
			unit = "m/s2"
			rec.Notes = append(rec.Notes, "The acceleration was taken to be in m/s², since gravity has that size in it.")
		}
	}
	rec.GravityG = felt * gPerUnit[strings.ToLower(unit)]
	switch g := rec.GravityG; {
	case g > gravityLow && g < gravityHigh:
	case g < 0.25 && (stated || felt < 0.25):
		return form.ClipError("the acceleration is %.2g %s on average, so gravity is not in it, or the unit is wrong: record the plain accelerometer, with gravity (not the linear acceleration), and state the unit (--acceleration-unit g, m/s2 or bw)", felt, unit)
	default:
		return form.ClipError("the acceleration is %.3g on average, which is %.2g g in %s where gravity is 1: is it another unit (--acceleration-unit g, m/s2 or bw), or another column (--columns)?", felt, g, unit)
	}
	scale := gPerUnit[strings.ToLower(unit)]
	for _, axis := range rec.Axes {
		for i := range axis {
			axis[i] *= scale
			if math.Abs(axis[i]) > 200 {
				return form.ClipError("there are accelerations of %.3g g in the recording, which nobody stands: look at the unit (--acceleration-unit) and the columns (--columns)", axis[i])
			}
		}
	}
	return nil
}

// swapped is how many times more of gravity the second axis must feel than
// the first to be the vertical one: a trunk leans by 30° at most.
const swapped = 1.7

// standUp puts the vertical axis first and upwards, by gravity, and notes
// what it changed.
func (rec *Recording) standUp() {
	if len(rec.Axes) > 1 && math.Abs(rec.mean(1)) > swapped*math.Abs(rec.mean(0)) {
		rec.Axes[0], rec.Axes[1] = rec.Axes[1], rec.Axes[0]
		rec.Notes = append(rec.Notes, "Gravity lies in the column that was named forward: it was taken for the vertical, and the other for forward.")
	}
	if rec.mean(0) < 0 {
		rec.Axes[0] = reversed(rec.Axes[0])
		rec.Notes = append(rec.Notes, "The vertical acceleration points down, by gravity: its sign was turned.")
	}
}

// reversed is a series with its sign turned.
func reversed(v []float64) []float64 {
	out := make([]float64, len(v))
	for i, x := range v {
		out[i] = -x
	}
	return out
}

// felt is the size of the mean acceleration, in the recording's unit: of the
// vertical alone where it is known, else the mean over pieces of a few
// seconds of the mean vector's length, since a body-worn sensor turns.
func (rec *Recording) felt() float64 {
	if rec.Upright {
		return math.Abs(rec.mean(0))
	}
	piece := max(int(3*rec.RateHz), 1)
	var sizes []float64
	for from := 0; from < len(rec.TimesS); from += piece {
		to := min(from+piece, len(rec.TimesS))
		sum := 0.0
		for _, axis := range rec.Axes {
			m := mean(axis[from:to])
			sum += m * m
		}
		sizes = append(sizes, math.Sqrt(sum))
	}
	return signal.Median(sizes)
}

func (rec *Recording) mean(axis int) float64 { return mean(rec.Axes[axis]) }

func mean(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}

// clipped is the share of samples that stay on the highest or lowest value of
// an axis three times and more in a row: a sensor at the end of its range.
func clipped(axis []float64) float64 {
	top, bottom := slices.Max(axis), slices.Min(axis)
	if top == bottom { // a dead axis
		return 0
	}
	high := plateaus(axis, top)
	low := 0
	if bottom < -0.5 { // a floor at 0 hides nothing that is needed
		low = plateaus(axis, bottom)
	}
	return float64(max(high, low)) / float64(len(axis))
}

// plateaus counts the samples at a level that come three and more in a row.
func plateaus(axis []float64, level float64) int {
	n, row := 0, 0
	for _, v := range axis {
		if math.Abs(v-level) > 1e-6*math.Abs(level) {
			row = 0
			continue
		}
		switch row++; {
		case row == 3:
			n += 3
		case row > 3:
			n++
		}
	}
	return n
}
