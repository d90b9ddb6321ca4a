package tempo

import (
	"fmt"
	"strconv"
	"strings"

	"plumbstride/internal/form"
	"plumbstride/internal/quantity"
)

// Shape is the kind of a pattern.
type Shape string

// The shapes.
const (
	// Steady is one cadence all the way.
	Steady Shape = "steady"
	// StepUp begins at the runner's own cadence and rises to the target in
	// equal steps, each held for an equal time.
	StepUp Shape = "step-up"
	// Ladder is for a class on the spot: rising cadences that the coach
	// chooses, with a signal and a count-in between them.
	Ladder Shape = "ladder"
	// OnOff plays the tempo and falls silent in turns.
	OnOff Shape = "on-off"
	// Fading cuts the run into equal parts, each of which begins with the
	// tempo on; the share of it that is on falls evenly from part to part.
	Fading Shape = "fading"
)

// Pattern is a pattern as the coach words it. Fields that the shape doesn't
// use are zero; so are those that are left to Make.
type Pattern struct {
	Shape Shape
	// Count is the number of rises of StepUp, or of parts of Fading.
	Count int
	// GlideMS is how long StepUp takes to go from one cadence to the next;
	// -1 where it isn't stated.
	GlideMS int64
	// Rungs are the cadences of Ladder, and EachMS how long each lasts.
	Rungs  []Cadence
	EachMS int64
	// OnMS and OffMS are the turns of OnOff.
	OnMS, OffMS int64
	// FirstPct and LastPct are the shares of Fading's first and last part
	// with the tempo on, in per cent.
	FirstPct, LastPct int
}

// The limits of patterns; common practice, no source.
const (
	maxPatternBytes = 300
	maxRises        = 30 // from the lowest cadence to the highest it takes 26
	maxFadingParts  = 24
	maxRungs        = 20
	minTurnMS       = 10_000 // an on or off turn, a rung, a step's plateau
	maxTurnMS       = 60 * 60_000
	maxGlideMS      = 5 * 60_000
)

// Words is what a pattern may look like, for messages and help.
const Words = `"steady", "step-up", "step-up in 3 steps gliding 30s", "ladder 150 160 170 each 40s", "on-off 2min on 1min off", "fading", "fading in 5 parts from 100% to 20%"`

// ParsePattern reads a pattern in words:
//
//	steady
//	step-up [in COUNT steps] [gliding TIME]
//	ladder CADENCE CADENCE… [each TIME]
//	on-off TIME on TIME off
//	fading [in COUNT parts] [from SHARE% to SHARE%]
//
// A TIME is like 90s or 1min30s, without blanks. What can't be read is a
// form.Error of code usage.
func ParsePattern(text string) (Pattern, error) {
	if len(text) > maxPatternBytes {
		return Pattern{}, form.UsageError("the pattern is longer than %d letters", maxPatternBytes)
	}
	w := &wordReader{all: text, rest: strings.Fields(strings.ToLower(strings.ReplaceAll(text, ",", " ")))}
	p := Pattern{Shape: Shape(w.next())}
	switch p.Shape {
	case Steady:
	case StepUp:
		p.GlideMS = -1
		w.stepUp(&p)
	case Ladder:
		w.ladder(&p)
	case OnOff:
		p.OnMS = w.time(minTurnMS, maxTurnMS)
		w.want("on")
		p.OffMS = w.time(minTurnMS, maxTurnMS)
		w.want("off")
	case Fading:
		p.FirstPct, p.LastPct = 100, 20
		w.fading(&p)
	default:
		w.fail("the pattern %q is not known; write one like %s", text, Words)
	}
	if len(w.rest) > 0 {
		w.fail("%q in the pattern %q can't be read; write one like %s", w.rest[0], text, Words)
	}
	if w.err != nil {
		return Pattern{}, w.err
	}
	return p, nil
}

// UnmarshalText reads a pattern from a command's words, as ParsePattern.
func (p *Pattern) UnmarshalText(b []byte) (err error) {
	*p, err = ParsePattern(string(b))
	return err
}

// String gives the words that ParsePattern reads; "" for no pattern.
func (p Pattern) String() string {
	s := string(p.Shape)
	switch p.Shape {
	case StepUp:
		if p.Count > 0 {
			s += fmt.Sprintf(" in %d steps", p.Count)
			if p.Count == 1 {
				s = string(p.Shape) + " in 1 step"
			}
		}
		if p.GlideMS >= 0 {
			s += " gliding " + span(p.GlideMS)
		}
	case Ladder:
		for _, c := range p.Rungs {
			s += " " + c.String()
		}
		if p.EachMS > 0 {
			s += " each " + span(p.EachMS)
		}
	case OnOff:
		s += fmt.Sprintf(" %s on %s off", span(p.OnMS), span(p.OffMS))
	case Fading:
		if p.Count > 0 {
			s += fmt.Sprintf(" in %d parts", p.Count)
		}
		s += fmt.Sprintf(" from %d%% to %d%%", p.FirstPct, p.LastPct)
	}
	return s
}

// span writes milliseconds the way quantity.Duration reads them.
func span(ms int64) string {
	minutes, rest := ms/60_000, decimal(ms%60_000)
	switch {
	case minutes == 0:
		return rest + "s"
	case rest == "0":
		return fmt.Sprintf("%dmin", minutes)
	default:
		return fmt.Sprintf("%dmin%ss", minutes, rest)
	}
}

// wordReader takes a pattern's words one by one and keeps the first error.
type wordReader struct {
	all  string
	rest []string
	err  error
}

func (w *wordReader) fail(format string, args ...any) {
	if w.err == nil {
		w.err = form.UsageError(format, args...)
	}
}

func (w *wordReader) next() string {
	if len(w.rest) == 0 {
		return ""
	}
	word := w.rest[0]
	w.rest = w.rest[1:]
	return word
}

func (w *wordReader) peek() string {
	if len(w.rest) == 0 {
		return ""
	}
	return w.rest[0]
}

// want takes a word that must stand here.
func (w *wordReader) want(words ...string) {
	got := w.next()
	for _, word := range words {
		if got == word {
			return
		}
	}
	w.fail("the pattern %q wants %q where it has %q; write one like %s", w.all, words[0], got, Words)
}

func (w *wordReader) count(low, high int) int {
	word := w.next()
	n, err := strconv.Atoi(word)
	if err != nil || n < low || n > high {
		w.fail("the pattern %q wants a whole number from %d to %d where it has %q", w.all, low, high, word)
	}
	return n
}

func (w *wordReader) time(lowMS, highMS int64) int64 {
	word := w.next()
	if word == "" {
		w.fail("the pattern %q ends where a time should stand, like 90s", w.all)
		return 0
	}
	s, err := quantity.Duration(word)
	if err != nil {
		w.fail("in the pattern: %w", err)
		return 0
	}
	if s < float64(lowMS)/1000 || s > float64(highMS)/1000 {
		w.fail("%s in the pattern is not between %s and %s", word, span(lowMS), span(highMS))
		return 0
	}
	return int64(1000*s + 0.5)
}

func (w *wordReader) share() int {
	word := w.next()
	n, err := strconv.Atoi(strings.TrimSuffix(word, "%"))
	if err != nil || !strings.HasSuffix(word, "%") || n < 0 || n > 100 {
		w.fail("the pattern %q wants a share from 0%% to 100%% where it has %q", w.all, word)
	}
	return n
}

func (w *wordReader) stepUp(p *Pattern) {
	if w.peek() == "in" {
		w.next()
		p.Count = w.count(1, maxRises)
		w.want("steps", "step")
	}
	if w.peek() == "gliding" {
		w.next()
		p.GlideMS = w.time(0, maxGlideMS)
	}
}

func (w *wordReader) fading(p *Pattern) {
	if w.peek() == "in" {
		w.next()
		p.Count = w.count(2, maxFadingParts)
		w.want("parts")
	}
	if w.peek() == "from" {
		w.next()
		p.FirstPct = w.share()
		w.want("to")
		p.LastPct = w.share()
	}
	if p.FirstPct <= p.LastPct {
		w.fail("a fading track goes from more to less, and %d%% to %d%% doesn't", p.FirstPct, p.LastPct)
	}
}

func (w *wordReader) ladder(p *Pattern) {
	for w.peek() != "" && w.peek() != "each" {
		c, err := ParseCadence(w.next())
		if err != nil {
			w.fail("in the pattern: %w", err)
			return
		}
		if n := len(p.Rungs); n > 0 && c <= p.Rungs[n-1] {
			w.fail("a ladder rises, and %s does not lie above %s", c, p.Rungs[n-1])
		}
		p.Rungs = append(p.Rungs, c)
	}
	if len(p.Rungs) < 2 || len(p.Rungs) > maxRungs {
		w.fail("a ladder has from 2 to %d cadences, like: ladder 150 160 170 each 40s", maxRungs)
	}
	if w.peek() == "each" {
		w.next()
		p.EachMS = w.time(minTurnMS, maxTurnMS)
	}
}
