package accelerometry

import (
	"math"
	"slices"

	"plumbstride/internal/signal"
)

// bout is a stretch of one gait within a section.
type bout struct {
	section section
	gait    Gait
	from    float64 // seconds from the section's start
	to      float64
	windows []window
}

func (b bout) seconds() float64 { return b.to - b.from }

// mergeS is how long a gait may be lost and still be the same bout: a turn,
// a stumble.
const mergeS = 2.5

// bouts joins windows of one gait, and follows the motion beyond the first
// and the last of them to where it dies down.
func bouts(s section) []bout {
	ws := windows(s)
	rms := activity(s)
	var out []bout
	for _, w := range ws {
		if w.gait == None {
			continue
		}
		if n := len(out); n > 0 && out[n-1].gait == w.gait && w.at-out[n-1].to <= mergeS {
			out[n-1].to = w.at
			out[n-1].windows = append(out[n-1].windows, w)
			continue
		}
		out = append(out, bout{section: s, gait: w.gait, from: w.at, to: w.at, windows: []window{w}})
	}
	out = slices.DeleteFunc(out, bout.rides)
	for i := range out {
		low, high := 0.0, s.seconds()
		if i > 0 {
			low = (out[i-1].to + out[i].from) / 2
		}
		if i+1 < len(out) {
			high = (out[i].to + out[i+1].from) / 2
		}
		out[i].reach(rms, s.rateHz, low, high)
	}
	return out
}

// rides tells whether a bout of "walking" lacks, by and large, what feet give.
func (b bout) rides() bool {
	var all []float64
	for _, w := range b.windows {
		all = append(all, w.feet)
	}
	return b.gait == Walking && signal.Median(all) < 1
}

// activity is the upward motion's size about every sample, over 0.8 s, g.
func activity(s section) []float64 {
	v := signal.LowPass(s.up, s.rateHz, 10)
	m := movingMean(v, int(1*s.rateHz))
	square := make([]float64, len(v))
	for i := range v {
		square[i] = (v[i] - m[i]) * (v[i] - m[i])
	}
	out := movingMean(square, int(0.4*s.rateHz))
	for i := range out {
		out[i] = math.Sqrt(math.Max(out[i], 0))
	}
	return out
}

// reach lengthens a bout by up to half a window either way, as long as the
// motion is at least 0.6 of the bout's, or shortens it to there.
func (b *bout) reach(rms []float64, rateHz, low, high float64) {
	size := func(at float64) float64 { return rms[min(max(int(at*rateHz), 0), len(rms)-1)] }
	var inside []float64
	for _, w := range b.windows {
		inside = append(inside, size(w.at))
	}
	least := 0.6 * signal.Median(inside)
	const step, mostReach = 0.02, windowS/2 + hopS
	for b.from+step < b.to && size(b.from) < least { // a window's middle may lie outside
		b.from += step
	}
	for b.to-step > b.from && size(b.to) < least {
		b.to -= step
	}
	for first := b.from; b.from-step >= low && first-b.from < mostReach && size(b.from-step) >= least; {
		b.from -= step
	}
	for last := b.to; b.to+step <= high && b.to-last < mostReach && size(b.to+step) >= least; {
		b.to += step
	}
	if b.from-low < 2*step {
		b.from = low
	}
	if high-b.to < 2*step {
		b.to = high
	}
}

// stepS is the usual length of a step in the bout, seconds.
func (b bout) stepS() float64 {
	var all []float64
	for _, w := range b.windows {
		all = append(all, w.stepS)
	}
	return signal.Median(all)
}

// steps counts a bout's steps: its time cut at the windows, each piece by its
// own step's length.
func (b bout) steps() float64 {
	n, at := 0.0, b.from
	for i, w := range b.windows {
		to := b.to
		if i+1 < len(b.windows) {
			to = (w.at + b.windows[i+1].at) / 2
		}
		n += (to - at) / w.stepS
		at = to
	}
	return n
}

// cut gives the bout's samples of a series of its section.
func (b bout) cut(v []float64) []float64 {
	from := max(int(b.from*b.section.rateHz), 0)
	to := min(int(b.to*b.section.rateHz)+1, len(v))
	return v[from:to]
}
