package tempo

import (
	"math"
	"math/big"
)

// SampleRate is samples a second of every track.
const SampleRate = 44100

// Times within a part are exact fractions. With t in milliseconds and
// cadence c in thousandths of a step a minute, 2·c·t counts steps in units
// of 1/unitsPerStep: a whole number for every whole millisecond, and
// (c0+c1)·t for a glide from c0 to c1 over t.
const unitsPerStep = 2 * 60_000 * 1000

// A millisecond is 44.1 samples: samplesNum/samplesDen.
const samplesNum, samplesDen = 441, 10

// signalLeadMS is the quiet before a signal's first tone.
const signalLeadMS = 200

// Event is one sound, and the sample, counted from the track's start, at
// which it begins.
type Event struct {
	Sample int64
	Sound  Sound
	// Part is the index of the part it belongs to.
	Part int
}

// Samples is the length of the whole track in samples, rounded to nearest.
func (p Plan) Samples() int64 { return sampleAt(p.LengthMS(), 1) }

// Events gives every sound of the plan in order. At a constant cadence r
// (steps a minute), step k of a part begins at sample
// round((t0 + k·60/r)·SampleRate), t0 being the part's start in seconds; in
// a glide from r0 to r1 over T it begins where the integral of the cadence,
// r0·t + (r1−r0)·t²/(2T), reaches k minutes' worth of steps, again rounded
// to the nearest sample, halves upwards. No error adds up: each sample
// number is computed from whole numbers.
func (p Plan) Events() []Event {
	var out []Event
	start, phase := int64(0), int64(0)
	for i, part := range p.Parts {
		switch part.Kind {
		case Steps, CountIn:
			if i == 0 || !p.Parts[i-1].steps() {
				phase = 0
			}
			out = part.appendSteps(out, i, start, phase)
			phase = (phase + part.advance()) % (2 * unitsPerStep) // two steps: the side is kept
		case Chime:
			sound, _ := soundOf(part.Signal)
			out = append(out, Event{sampleAt(start+signalLeadMS, 1), sound, i})
		}
		start += part.MS
	}
	return out
}

func (p Part) steps() bool { return p.Kind == Steps || p.Kind == CountIn }

// advance is how many units of a step the part moves the beat on.
func (p Part) advance() int64 { return int64(p.From+p.To) * p.MS }

// appendSteps adds the steps of a part that begins at a time (ms) with the
// beat at a phase (units); the part holds its first instant, not its last.
func (p Part) appendSteps(out []Event, index int, startMS, phase int64) []Event {
	end := phase + p.advance()
	for k := (phase + unitsPerStep - 1) / unitsPerStep; k*unitsPerStep < end; k++ {
		e := Event{Sound: p.sound(k), Part: index}
		if p.From == p.To {
			c2 := 2 * int64(p.From)
			e.Sample = sampleAt(c2*startMS+k*unitsPerStep-phase, c2)
		} else {
			e.Sample = p.glideSample(startMS, k*unitsPerStep-phase)
		}
		out = append(out, e)
	}
	return out
}

// sound is that of the k-th step of the beat: even steps are left.
func (p Part) sound(k int64) Sound {
	switch {
	case p.Kind == CountIn && k%2 == 0:
		return CountLeft
	case p.Kind == CountIn:
		return CountRight
	case k%2 == 0:
		return Left
	default:
		return Right
	}
}

// sampleAt rounds the time num/den (ms) to the nearest sample, halves
// upwards.
func sampleAt(num, den int64) int64 {
	return (2*samplesNum*num + samplesDen*den) / (2 * samplesDen * den)
}

// glideSample is the sample nearest to the time at which a glide has moved
// the beat on by delta units. A float64 gives the first guess; whole numbers
// decide.
func (p Part) glideSample(startMS, delta int64) int64 {
	b, a := 2*float64(p.From), float64(p.To-p.From)/float64(p.MS)
	tau := 2 * float64(delta) / (b + math.Sqrt(b*b+4*a*float64(delta))) // ms
	n := int64(math.Round((float64(startMS) + tau) * samplesNum / samplesDen))
	for p.passed(startMS, delta, n) {
		n--
	}
	for !p.passed(startMS, delta, n+1) {
		n++
	}
	return n
}

// passed tells whether the beat has moved on by more than delta units half a
// sample before sample n. With x = 5·(2n−1) − 441·start, in 1/441 ms, the
// beat there has moved by 2·c0·x/441 + (c1−c0)·x²/(441²·T).
func (p Part) passed(startMS, delta, n int64) bool {
	x := big.NewInt(samplesDen/2*(2*n-1) - samplesNum*startMS)
	moved := new(big.Int).Mul(x, big.NewInt(2*int64(p.From)*samplesNum))
	moved.Mul(moved, big.NewInt(p.MS))
	bent := new(big.Int).Mul(x, x)
	moved.Add(moved, bent.Mul(bent, big.NewInt(int64(p.To-p.From))))
	want := new(big.Int).Mul(big.NewInt(delta), big.NewInt(samplesNum*samplesNum))
	want.Mul(want, big.NewInt(p.MS))
	return moved.Cmp(want) > 0
}
