package judge

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"plumbstride/internal/form"
)

// number writes a value with its unit, as finely as a reader needs it.
func (r Row) number(value float64, unit string) string {
	if r.inches {
		unit = "inches"
	}
	return strings.TrimSpace(r.digits(value) + " " + unitWord(unit))
}

// cmPerInch is exact by definition.
const cmPerInch = 2.54

func (r Row) digits(value float64) string {
	places := 1
	switch r.Unit {
	case "steps/min", "ms":
		places = 0
	case "–":
		places = 2
	}
	if r.inches {
		value /= cmPerInch
	}
	text := fmt.Sprintf("%.*f", places, value)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	return strings.Replace(text, "-", "−", 1)
}

func unitWord(unit string) string {
	switch unit {
	case "deg":
		return "degrees"
	case "–":
		return ""
	default:
		return unit
	}
}

// ends writes a band: "of 160 to 184", "up to 12.5", "from 2.0".
func (r Row) ends(b form.Band) string {
	switch {
	case math.IsNaN(b.Low):
		return fmt.Sprintf("up to %s", r.digits(b.High))
	case math.IsNaN(b.High):
		return fmt.Sprintf("from %s up", r.digits(b.Low))
	default:
		return fmt.Sprintf("of %s to %s", r.digits(b.Low), r.digits(b.High))
	}
}

// and joins words: "lean", "lean and bounce", "landing, lean and bounce".
func and(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " and " + words[last]
}

func upperFirst(s string) string { return mapFirst(s, unicode.ToUpper) }
func lowerFirst(s string) string { return mapFirst(s, unicode.ToLower) }

func mapFirst(s string, change func(rune) rune) string {
	first, size := utf8.DecodeRuneInString(s)
	if size == 0 {
		return s
	}
	return string(change(first)) + s[size:]
}
