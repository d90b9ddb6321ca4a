package tempo

import (
	"strconv"
	"strings"

	"plumbstride/internal/form"
)

// Cadence is steps a minute, both feet counted, in thousandths: 168 steps a
// minute are 168000. As text and as JSON it is the plain decimal number.
type Cadence int64

// The cadences that are taken: common practice, no source. Adults go from
// walking to running at about 140 steps/min (PMC8629136); a class that steps
// on the spot may well be slower.
const (
	MinCadence Cadence = 100_000
	MaxCadence Cadence = 230_000
)

// ParseCadence reads "168" or "167.5", with at most three decimals, and
// refuses what nobody runs at with a form.Error of code usage.
func ParseCadence(text string) (Cadence, error) {
	v, ok := thousandths(strings.TrimSpace(text))
	if !ok {
		return 0, form.UsageError("%q is not a cadence; write steps a minute, both feet counted, for instance 168", text)
	}
	c := Cadence(v)
	switch {
	case c >= MinCadence/2 && c <= MaxCadence/2 && c < MinCadence:
		return 0, form.UsageError("a cadence is between %s and %s steps/min, and %s is not; if it counts one foot alone, write %s", MinCadence, MaxCadence, c, 2*c)
	case c < MinCadence || c > MaxCadence:
		return 0, form.UsageError("a cadence is between %s and %s steps/min, and %s is not", MinCadence, MaxCadence, c)
	}
	return c, nil
}

// String gives the plain decimal number: "168", "167.5".
func (c Cadence) String() string { return decimal(int64(c)) }

// MarshalJSON gives the decimal number.
func (c Cadence) MarshalJSON() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalJSON reads a number of at most three decimals.
func (c *Cadence) UnmarshalJSON(b []byte) error {
	v, ok := thousandths(string(b))
	if !ok {
		return form.UsageError("%.40q is not a cadence; write steps a minute with at most three decimals", b)
	}
	*c = Cadence(v)
	return nil
}

// UnmarshalText reads a cadence from a command's words, as ParseCadence.
func (c *Cadence) UnmarshalText(b []byte) (err error) {
	*c, err = ParseCadence(string(b))
	return err
}

// The lengths that are taken, in minutes.
const (
	minLengthMS = 30_000
	maxMinutes  = 180
	maxLengthMS = maxMinutes * 60_000
)

// ParseMinutes reads "20" or "12.5", minutes with at most three decimals,
// and gives whole milliseconds.
func ParseMinutes(text string) (ms int64, err error) {
	bare := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(text), "min"))
	v, ok := thousandths(bare)
	if !ok {
		return 0, form.UsageError("%q is not a number of minutes; write, for instance, 20 or 12.5", text)
	}
	if v*60 < minLengthMS || v*60 > maxLengthMS {
		return 0, form.UsageError("a tempo track is between 0.5 and %d minutes long, and %s is not", maxMinutes, decimal(v))
	}
	return v * 60, nil
}

// thousandths reads a decimal number of at most six digits before the point
// and three behind it.
func thousandths(text string) (int64, bool) {
	whole, part, point := strings.Cut(text, ".")
	if len(whole) == 0 || len(whole) > 6 || len(part) > 3 || (point && part == "") {
		return 0, false
	}
	for _, r := range whole + part {
		if r < '0' || r > '9' {
			return 0, false
		}
	}
	v, err := strconv.ParseInt(whole+(part + "000")[:3], 10, 64)
	return v, err == nil
}

// decimal writes thousandths without needless noughts.
func decimal(v int64) string {
	s := strconv.FormatFloat(float64(v)/1000, 'f', 3, 64)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}
