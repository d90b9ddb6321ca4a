package clip

import (
	"math"
	"slices"
	"sort"
	"strings"
)

// timeline is when each picture is shown, in ticks of the stream's time base,
// ascending, without repeats.
type timeline struct {
	ticks []int64
	// byOrder says that the file holds no presentation times (as AVI with
	// reordered pictures): the k-th picture out of the decoder is shown at
	// ticks[k], whatever time the decoder guesses for it.
	byOrder bool
}

// newTimeline takes the packets of one stream in file order. Packets that are
// not shown (cut away by an edit list) or hold nothing do not count.
// rate is the average frame rate, used only where the file has neither
// times nor durations; tick is the time base in s.
func newTimeline(packets []packet, rate, tick float64) timeline {
	shown := make([]packet, 0, len(packets))
	allPTS, allDTS, allDuration := true, true, true
	for _, p := range packets {
		if strings.Contains(p.Flags, "D") || p.Size.Known && p.Size.Value == 0 {
			continue
		}
		shown = append(shown, p)
		allPTS = allPTS && p.PTS.Known
		allDTS = allDTS && p.DTS.Known
		allDuration = allDuration && p.Duration.Known && p.Duration.Value > 0
	}
	t := timeline{ticks: make([]int64, 0, len(shown)), byOrder: !allPTS}
	var sum int64
	for k, p := range shown {
		switch {
		case allPTS:
			t.ticks = append(t.ticks, p.PTS.Value)
		case allDTS:
			t.ticks = append(t.ticks, p.DTS.Value)
		case allDuration:
			t.ticks = append(t.ticks, sum)
			if sum < math.MaxInt64-p.Duration.Value {
				sum += p.Duration.Value
			}
		case rate > 0 && tick > 0 && float64(k)/rate/tick < 1<<62:
			t.ticks = append(t.ticks, int64(math.Round(float64(k)/rate/tick)))
		}
	}
	slices.Sort(t.ticks)
	t.ticks = slices.Compact(t.ticks)
	return t
}

// seconds gives the times since the first picture, for a tick of so many
// seconds. Times that are a steady rate rounded to a coarse tick (Matroska's
// milliseconds) are put back on the steady rate: every one lies within its
// rounding, a tick at most, of a straight line, and the rounding
// would be a tenth of a step at 120 Hz.
func (t timeline) seconds(tick float64) []float64 {
	times := make([]float64, len(t.ticks))
	if len(times) == 0 {
		return times
	}
	step, steady := steadyStep(t.ticks)
	for k, v := range t.ticks {
		if steady {
			times[k] = float64(k) * step * tick
		} else {
			times[k] = since(v, t.ticks[0]) * tick
		}
	}
	return times
}

// since is later − earlier, also where that is more than an int64 holds.
func since(later, earlier int64) float64 { return float64(uint64(later) - uint64(earlier)) }

// steadyStep fits ticks[k] = a + b·k by least squares and gives b if the ticks
// are a steady rate rounded: steps of two neighbouring whole numbers, and
// every tick within one tick of the line.
func steadyStep(ticks []int64) (float64, bool) {
	n := len(ticks)
	if n < 8 {
		return 0, false
	}
	mid := float64(n-1) / 2
	shortest, longest := math.Inf(1), 0.0
	var sxy, sxx, sy float64
	for k, v := range ticks {
		dx := float64(k) - mid
		sxy += dx * since(v, ticks[0])
		sxx += dx * dx
		sy += since(v, ticks[0])
		if k > 0 {
			step := since(v, ticks[k-1])
			shortest, longest = min(shortest, step), max(longest, step)
		}
	}
	if longest-shortest != 1 {
		return 0, false // not steady, or steady as it is
	}
	b := sxy / sxx
	a := sy/float64(n) - b*mid
	for k, v := range ticks {
		if math.Abs(since(v, ticks[0])-a-b*float64(k)) > 1 {
			return 0, false
		}
	}
	return b, true
}

// medianStep is the median time between successive pictures, s; 0 for fewer
// than two.
func medianStep(times []float64) float64 {
	if len(times) < 2 {
		return 0
	}
	steps := make([]float64, len(times)-1)
	for i := range steps {
		steps[i] = times[i+1] - times[i]
	}
	sort.Float64s(steps)
	n := len(steps)
	return (steps[(n-1)/2] + steps[n/2]) / 2
}

// variable tells whether any step differs from the median by more than a
// tenth of it.
func variable(times []float64, median float64) bool {
	for i := 1; i < len(times); i++ {
		if math.Abs(times[i]-times[i-1]-median) > median/10 {
			return true
		}
	}
	return false
}

// nearest gives the index of the tick nearest to at (in ticks, not
// necessarily whole) and how far it is off.
func (t timeline) nearest(at float64) (int, float64) {
	k := sort.Search(len(t.ticks), func(i int) bool { return float64(t.ticks[i]) >= at })
	if k == len(t.ticks) || k > 0 && at-float64(t.ticks[k-1]) <= float64(t.ticks[k])-at {
		k--
	}
	return k, math.Abs(float64(t.ticks[k]) - at)
}
