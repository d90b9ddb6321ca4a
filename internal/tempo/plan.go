package tempo

import (
	"bytes"
	"encoding/json"
	"unicode/utf8"

	"plumbstride/internal/form"
)

// Version is the version of a plan's shape.
const Version = 1

// Plan is a tempo track before it is sound: parts that follow each other
// without a gap. Its JSON is what live.js plays.
type Plan struct {
	Version int    `json:"version"`
	Title   string `json:"title"`
	// Pattern is the pattern in words that ParsePattern reads.
	Pattern string `json:"pattern"`
	Parts   []Part `json:"parts"`
	// Cautions are sentences that must stand wherever the plan is played.
	Cautions []string `json:"cautions"`
}

// Kind is what happens in a part.
type Kind string

// The kinds of part.
const (
	// Steps: each step sounds, left and right differently.
	Steps Kind = "steps"
	// CountIn: as Steps, but softer; it leads into the steps that follow.
	CountIn Kind = "count-in"
	// Chime: one signal of gentle tones.
	Chime Kind = "signal"
	// Quiet: nothing sounds; the runner keeps the cadence alone.
	Quiet Kind = "quiet"
)

// Part is a stretch of a plan. Cadence goes from From to To on a straight
// line over time. A part of steps right behind another carries its beat on;
// behind anything else it begins at once with a left step.
type Part struct {
	Kind Kind `json:"kind"`
	// MS is the length in milliseconds.
	MS     int64   `json:"ms"`
	From   Cadence `json:"from,omitempty"`
	To     Cadence `json:"to,omitempty"`
	Signal Signal  `json:"signal,omitempty"`
}

// Signal names a signal of gentle tones.
type Signal string

// The signals.
const (
	Start Signal = "start" // the track begins
	End   Signal = "end"   // the track ends
	Next  Signal = "next"  // the next rung of a ladder follows
	Off   Signal = "off"   // the tempo falls silent: keep it alone
	On    Signal = "on"    // the tempo comes back
)

// What a plan may hold; the shortest parts leave room for their sounds.
const (
	maxParts     = 5000
	maxPlanMS    = maxLengthMS + 10*60_000 // with signals and count-ins
	minSignalMS  = 1500
	minQuietMS   = 500
	maxText      = 600
	maxCautions  = 20
	maxPlanBytes = 1 << 20
)

// LengthMS is the length of the whole track in milliseconds.
func (p Plan) LengthMS() int64 {
	var ms int64
	for _, part := range p.Parts {
		ms += part.MS
	}
	return ms
}

// DecodePlan reads a plan's JSON, of at most a mebibyte, and holds it to
// Valid. Errors are form.Errors of code usage.
func DecodePlan(b []byte) (Plan, error) {
	if len(b) > maxPlanBytes {
		return Plan{}, form.UsageError("the plan has more than %d bytes", maxPlanBytes)
	}
	var p Plan
	dec := json.NewDecoder(bytes.NewReader(b))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&p); err != nil {
		return Plan{}, form.UsageError("this is not a tempo plan: %w", err)
	}
	if dec.More() {
		return Plan{}, form.UsageError("there is something behind the tempo plan's end")
	}
	return p, p.Valid()
}

// Valid tells what is wrong with a plan from elsewhere, as a form.Error of
// code usage. What Make gives is valid.
func (p Plan) Valid() error {
	switch {
	case p.Version != Version:
		return form.UsageError("the tempo plan is of version %d, and this program plays version %d", p.Version, Version)
	case len(p.Parts) == 0 || len(p.Parts) > maxParts:
		return form.UsageError("a tempo plan has between 1 and %d parts, not %d", maxParts, len(p.Parts))
	case len(p.Cautions) > maxCautions:
		return form.UsageError("a tempo plan has at most %d cautions", maxCautions)
	}
	for _, text := range append([]string{p.Title, p.Pattern}, p.Cautions...) {
		if len(text) > maxText || !utf8.ValidString(text) {
			return form.UsageError("the title, the pattern and each caution of a tempo plan are text of at most %d bytes", maxText)
		}
	}
	total := int64(0)
	for i, part := range p.Parts {
		if err := part.valid(); err != nil {
			return form.UsageError("part %d of the tempo plan: %w", i+1, err)
		}
		if total += part.MS; total > maxPlanMS {
			return form.UsageError("the tempo plan is longer than %d minutes", maxPlanMS/60_000)
		}
	}
	return nil
}

func (p Part) valid() error {
	if p.MS < 1 || p.MS > maxPlanMS {
		return form.UsageError("its length of %d ms is not between 1 ms and %d ms", p.MS, maxPlanMS)
	}
	inRange := func(c Cadence) bool { return c >= MinCadence && c <= MaxCadence }
	sounds := p.Kind == Steps || p.Kind == CountIn
	switch {
	case sounds && (!inRange(p.From) || !inRange(p.To)):
		return form.UsageError("its cadences are not between %s and %s", MinCadence, MaxCadence)
	case !sounds && (p.From != 0 || p.To != 0):
		return form.UsageError("a part of kind %.20q has no cadence", string(p.Kind))
	case p.Kind != Chime && p.Signal != "":
		return form.UsageError("a part of kind %.20q has no signal", string(p.Kind))
	}
	switch p.Kind {
	case Steps, CountIn:
	case Quiet:
		if p.MS < minQuietMS {
			return form.UsageError("a quiet part lasts %d ms at least", minQuietMS)
		}
	case Chime:
		if _, ok := soundOf(p.Signal); !ok {
			return form.UsageError("%.20q is not a signal", string(p.Signal))
		}
		if p.MS < minSignalMS {
			return form.UsageError("a signal lasts %d ms at least", minSignalMS)
		}
	default:
		return form.UsageError("%.20q is not a kind of part", string(p.Kind))
	}
	return nil
}
