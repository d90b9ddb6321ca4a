package quantity

import (
	"math"
	"strconv"
	"strings"
	"unicode"

	"plumbstride/internal/form"
)

// The exact sizes of the customary units: international yard and pound
// agreement of 1959 (1 ft = 0.3048 m, 1 lb = 0.45359237 kg).
const (
	metresPerInch = 0.0254
	metresPerFoot = 0.3048
	metresPerMile = 1609.344
	kgPerPound    = 0.45359237
	kgPerStone    = 14 * kgPerPound
)

// unit is one way to write a unit, and its size in the SI unit of its kind.
// follower is what a last number without a unit means after this unit
// ("5'8" is 5 feet 8 inches); 0 where it means nothing.
type unit struct {
	word     string
	size     float64
	follower float64
}

// kind is one kind of quantity: its word for messages, an example of each
// way to write it, and its units.
type kind struct {
	word     string
	examples string
	units    []unit
}

var lengthKind = kind{"length", "172cm, 1.72m, 68in or 5ft8in", []unit{
	{word: "mm", size: 0.001},
	{word: "cm", size: 0.01},
	{word: "m", size: 1, follower: 0.01},
	{word: "in", size: metresPerInch}, {word: "inch", size: metresPerInch}, {word: "inches", size: metresPerInch},
	{word: "\"", size: metresPerInch}, {word: "″", size: metresPerInch}, {word: "”", size: metresPerInch}, {word: "''", size: metresPerInch},
	{word: "ft", size: metresPerFoot, follower: metresPerInch}, {word: "feet", size: metresPerFoot, follower: metresPerInch},
	{word: "foot", size: metresPerFoot, follower: metresPerInch}, {word: "'", size: metresPerFoot, follower: metresPerInch},
	{word: "′", size: metresPerFoot, follower: metresPerInch}, {word: "’", size: metresPerFoot, follower: metresPerInch},
}}

var massKind = kind{"mass", "64kg, 141lb or 10st1lb", []unit{
	{word: "kg", size: 1},
	{word: "lb", size: kgPerPound}, {word: "lbs", size: kgPerPound},
	{word: "st", size: kgPerStone, follower: kgPerPound},
}}

var durationKind = kind{"duration", "90s or 1min30s", []unit{
	{word: "s", size: 1}, {word: "sec", size: 1},
	{word: "m", size: 60, follower: 1}, {word: "min", size: 60, follower: 1},
}}

// speedKind holds the plain speeds; a pace (time for a distance) is read by
// pace.
var speedKind = kind{"speed", "10km/h, 2.8m/s, 6.2mph, 6:00/km or 9:30/mile", []unit{
	{word: "km/h", size: 1 / 3.6}, {word: "kmh", size: 1 / 3.6}, {word: "kph", size: 1 / 3.6},
	{word: "m/s", size: 1},
	{word: "mph", size: metresPerMile / 3600}, {word: "mi/h", size: metresPerMile / 3600},
}}

// Length reads a length and gives metres: "172cm", "1.72m", "1m72", "68in",
// "5ft8in", "5'8\"". A length is never negative.
func Length(text string) (metres float64, err error) { return lengthKind.sum(text) }

// Mass reads a mass and gives kilograms: "64kg", "141lb", "10st1lb".
func Mass(text string) (kg float64, err error) { return massKind.sum(text) }

// Duration reads a span of time and gives seconds: "90s", "2min", "1m30s".
func Duration(text string) (seconds float64, err error) { return durationKind.sum(text) }

// Speed reads a speed or a pace and gives metres per second: "10km/h",
// "2.8m/s", "6.2mph", "6:00/km", "9:30/mile".
func Speed(text string) (metresPerSecond float64, err error) {
	if minutes, distance, ok := strings.Cut(clean(text), "/"); ok {
		if metres, known := paceDistance[distance]; known {
			return pace(text, minutes, metres)
		}
	}
	return speedKind.sum(text)
}

// paceDistance is the length in metres of what a pace is given for.
var paceDistance = map[string]float64{
	"km": 1000, "mile": metresPerMile, "mi": metresPerMile,
}

// pace reads "6:00", "6:00min" or "6min" as the time for a distance.
func pace(text, minutes string, metres float64) (float64, error) {
	minutes = strings.TrimSuffix(minutes, "min")
	whole, sixtieths, colon := strings.Cut(minutes, ":")
	m, rest, ok := number(whole)
	if !ok || rest != "" {
		return 0, speedKind.unread(text)
	}
	seconds := 60 * m
	if colon {
		s, rest, ok := number(sixtieths)
		if !ok || rest != "" || s >= 60 || len(sixtieths) < 2 {
			return 0, speedKind.unread(text)
		}
		seconds += s
	}
	if seconds == 0 {
		return 0, speedKind.unread(text)
	}
	return metres / seconds, nil
}

// Percent reads a share: "1%", "-1.5 %". It gives 1 for one per cent.
func Percent(text string) (percent float64, err error) {
	sign, body := signed(clean(text))
	value, rest, ok := number(body)
	switch {
	case !ok:
		return 0, form.UsageError("%q is not a percentage; write, for instance, 1%%", text)
	case rest == "":
		return 0, form.UsageError("%q has no unit; write, for instance, 1%%", text)
	case rest != "%":
		return 0, form.UsageError("%q is not a percentage; write, for instance, 1%%", text)
	}
	return sign * value, nil
}

// Angle reads an angle in degrees: "2deg", "-1.5°", "2". There is no other
// unit it could mean, so a bare number is degrees.
func Angle(text string) (degrees float64, err error) {
	sign, body := signed(clean(text))
	value, rest, ok := number(body)
	if ok {
		switch rest {
		case "", "°", "deg", "degrees":
			return sign * value, nil
		}
	}
	return 0, form.UsageError("%q is not an angle in degrees; write, for instance, 1.5deg", text)
}

// Rate reads a frame rate: "240", "240Hz", "240fps". There is no other unit
// it could mean, so a bare number is frames a second.
func Rate(text string) (hertz float64, err error) {
	value, rest, ok := number(clean(text))
	if ok && value > 0 {
		switch rest {
		case "", "hz", "fps":
			return value, nil
		}
	}
	return 0, form.UsageError("%q is not a frame rate; write, for instance, 240 or 240Hz", text)
}

// sum reads one or more numbers with units, the larger unit first; a later
// part must be less than one of the unit before it (1e-9 for rounding).
func (k kind) sum(text string) (float64, error) {
	rest := clean(text)
	total, size, follower := 0.0, math.Inf(1), 0.0
	for first := true; first || rest != ""; first = false {
		value, after, ok := number(rest)
		if !ok {
			return 0, k.unread(text)
		}
		u, after, ok := k.leading(after)
		switch {
		case !ok && after == "" && first:
			return 0, form.UsageError("%q has no unit; write, for instance, %s", text, k.examples)
		case !ok && after == "" && follower > 0:
			u = unit{size: follower}
		case !ok:
			return 0, k.unread(text)
		}
		if u.size >= size || (!first && value*u.size >= size*(1-1e-9)) {
			return 0, k.unread(text)
		}
		total, size, follower, rest = total+value*u.size, u.size, u.follower, after
	}
	return total, nil
}

// leading takes the longest unit that the text starts with. A unit that is
// a word must end where its letters end ("m" is not the start of "miles").
func (k kind) leading(text string) (unit, string, bool) {
	best := unit{}
	for _, u := range k.units {
		after, ok := strings.CutPrefix(text, u.word)
		if !ok || len(u.word) <= len(best.word) {
			continue
		}
		if r := firstRune(after); unicode.IsLetter(r) || r == '/' {
			continue
		}
		best = u
	}
	return best, text[len(best.word):], best.word != ""
}

// unread is the refusal of a text that is not of this kind.
func (k kind) unread(text string) error {
	return form.UsageError("%q is not a %s; write, for instance, %s", text, k.word, k.examples)
}

// clean takes away blanks and capitals, which never change the meaning.
func clean(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return -1
		}
		return unicode.ToLower(r)
	}, text)
}

// signed takes a leading sign off.
func signed(text string) (sign float64, rest string) {
	for _, minus := range []string{"-", "−"} {
		if rest, ok := strings.CutPrefix(text, minus); ok {
			return -1, rest
		}
	}
	return 1, strings.TrimPrefix(text, "+")
}

// number reads a decimal number at the start of the text, with a point or a
// comma, at most nine digits before and after it, and gives what follows.
func number(text string) (value float64, rest string, ok bool) {
	end, digits, points := 0, 0, 0
	for end < len(text) {
		c := text[end]
		if c >= '0' && c <= '9' {
			digits++
		} else if (c == '.' || c == ',') && points == 0 {
			points++
		} else {
			break
		}
		end++
	}
	if digits == 0 || digits > 18 {
		return 0, text, false
	}
	value, err := strconv.ParseFloat(strings.Replace(text[:end], ",", ".", 1), 64)
	return value, text[end:], err == nil
}

func firstRune(text string) rune {
	for _, r := range text {
		return r
	}
	return 0
}
