package tempo

import "math"

// Sound is one of the few sounds of a track.
type Sound uint8

// The sounds. Left and right steps differ in pitch and in overtones, not in
// the ear they come to, so that one earphone or a phone's speaker will do.
const (
	Left Sound = iota
	Right
	CountLeft
	CountRight
	StartSignal
	EndSignal
	NextSignal
	OffSignal
	OnSignal
	soundCount
)

// String gives the name by which live.js knows the sound.
func (s Sound) String() string {
	names := [soundCount]string{"left", "right", "count-left", "count-right", "start", "end", "next", "off", "on"}
	if s >= soundCount {
		panic("tempo: no such sound")
	}
	return names[s]
}

func soundOf(s Signal) (Sound, bool) {
	sound, ok := map[Signal]Sound{Start: StartSignal, End: EndSignal, Next: NextSignal, Off: OffSignal, On: OnSignal}[s]
	return sound, ok
}

// partial is one sine of a sound: frequency in Hz, share of the amplitude.
type partial struct{ hz, share float64 }

// tone is a stretch of a sound: sines that rise on a half cosine and die
// away. live.js has the same table and the same formula; a test compares.
type tone struct {
	fromMS, lengthMS float64
	attackMS         float64
	// decayMS is the time in which the sound falls to 1/e.
	decayMS float64
	// fadeMS is the half cosine at the very end that takes the rest away.
	fadeMS   float64
	partials []partial
}

// recipe is a sound: tones that don't overlap, scaled so that the largest
// sample is peak (1 is full scale).
type recipe struct {
	peak  float64
	tones []tone
}

// Peaks stay under −3 dBFS (0.708). The steps' attack of 4 ms is soft enough
// not to click and sharp enough to step on; signals are softer than steps.
const (
	stepPeak   = 0.6
	countPeak  = 0.3
	signalPeak = 0.35
)

func recipes() [soundCount]recipe {
	low := []partial{{740, 1}, {1480, 0.45}, {2220, 0.2}}
	high := []partial{{1175, 1}, {3243, 0.3}} // a struck bar's second mode: 2.76 times the first
	step := func(peak, decay float64, p []partial) recipe {
		return recipe{peak, []tone{{0, 90, 4, decay, 20, p}}}
	}
	chime := func(peak float64, hz ...float64) recipe {
		r := recipe{peak: peak}
		for i, f := range hz {
			r.tones = append(r.tones, tone{float64(i) * 330, 330, 40, 160, 120, []partial{{f, 1}, {2 * f, 0.2}}})
		}
		return r
	}
	const c5, e5, g5 = 523.25, 659.26, 783.99 // equal temperament, A4 = 440 Hz
	return [soundCount]recipe{
		Left:        step(stepPeak, 22, low),
		Right:       step(stepPeak, 18, high),
		CountLeft:   step(countPeak, 14, low[:1]),
		CountRight:  step(countPeak, 14, high[:1]),
		StartSignal: chime(signalPeak, c5, e5, g5),
		EndSignal:   chime(signalPeak, g5, e5, c5),
		NextSignal:  chime(signalPeak, g5, g5),
		OffSignal:   chime(signalPeak, e5, c5),
		OnSignal:    chime(signalPeak, c5, e5),
	}
}

// voices are the sounds as samples.
func voices() [soundCount][]int16 {
	var out [soundCount][]int16
	for i, r := range recipes() {
		out[i] = r.samples()
	}
	return out
}

// samples renders a recipe: for each tone, with t from its start,
//
//	e(t) = ½(1−cos(π·min(t/attack,1))) · exp(−t/decay) · ½(1−cos(π·min((length−t)/fade,1)))
//	x(t) = e(t) · Σ share·sin(2π·hz·t)
//
// scaled to the peak and rounded to 16 bits.
func (r recipe) samples() []int16 {
	last := r.tones[len(r.tones)-1]
	x := make([]float64, int((last.fromMS+last.lengthMS)*SampleRate/1000))
	largest := 0.0
	for _, tn := range r.tones {
		for i := int(math.Ceil(tn.fromMS * SampleRate / 1000)); i < len(x); i++ {
			t := float64(i)*1000/SampleRate - tn.fromMS
			if t >= tn.lengthMS {
				break
			}
			x[i] = tn.at(t)
			largest = max(largest, math.Abs(x[i]))
		}
	}
	out := make([]int16, len(x))
	for i, v := range x {
		out[i] = int16(math.Round(v / largest * r.peak * math.MaxInt16))
	}
	return out
}

func (tn tone) at(ms float64) float64 {
	ramp := func(x float64) float64 { return (1 - math.Cos(math.Pi*min(x, 1))) / 2 }
	sum := 0.0
	for _, p := range tn.partials {
		sum += p.share * math.Sin(2*math.Pi*p.hz*ms/1000)
	}
	return ramp(ms/tn.attackMS) * math.Exp(-ms/tn.decayMS) * ramp((tn.lengthMS-ms)/tn.fadeMS) * sum
}
