package form

import (
	"strconv"
	"strings"
)

// Signed writes a difference to so many places: with its sign, a true minus,
// and without any sign where it rounds to nothing.
func Signed(v float64, places int) string {
	text := strconv.FormatFloat(v, 'f', places, 64)
	switch {
	case strings.Trim(text, "-0.") == "":
		return strings.TrimPrefix(text, "-")
	case v > 0:
		return "+" + text
	default:
		return strings.Replace(text, "-", "−", 1)
	}
}
