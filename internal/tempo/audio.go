package tempo

import "io"

// Audio gives a plan's samples in order, a piece at a time, so that an hour
// needs no more memory than a minute. It holds one event's worth of state
// for each step and is read once; make another for a second reading.
type Audio struct {
	events []Event
	voices [soundCount][]int16
	at     int64 // the next sample
	length int64
	rest   []int16 // what is left of the sound that is on
}

// NewAudio begins the audio of a plan: SampleRate, one channel, 16 bits. It
// panics when the plan is not valid.
func NewAudio(p Plan) *Audio {
	if err := p.Valid(); err != nil {
		panic("tempo: audio of a plan that is not valid: " + err.Error())
	}
	return &Audio{events: p.Events(), voices: voices(), length: p.Samples()}
}

// Read fills pcm with the next samples and gives how many; io.EOF once there
// are none left. One sound is on at a time: the next one ends it, so the
// peak is that of the loudest sound.
func (a *Audio) Read(pcm []int16) (n int, err error) {
	if a.at >= a.length {
		return 0, io.EOF
	}
	pcm = pcm[:min(int64(len(pcm)), a.length-a.at)]
	for n < len(pcm) {
		if len(a.events) > 0 && a.events[0].Sample <= a.at {
			a.rest = a.voices[a.events[0].Sound]
			a.events = a.events[1:]
			continue
		}
		piece := pcm[n:]
		if len(a.events) > 0 {
			piece = piece[:min(int64(len(piece)), a.events[0].Sample-a.at)]
		}
		m := copy(piece, a.rest)
		a.rest = a.rest[m:]
		clear(piece[m:])
		n += len(piece)
		a.at += int64(len(piece))
	}
	return n, nil
}
