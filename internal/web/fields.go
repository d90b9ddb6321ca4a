package web

import (
	"strconv"
	"strings"
	"unicode/utf8"

	"plumbstride/internal/form"
	"plumbstride/internal/plan"
	"plumbstride/internal/quantity"
	"plumbstride/internal/roster"
)

// maxForm is more than any form without files has, in bytes.
const maxForm = 256 << 10

// field is one field of a form, without blanks around it, cut after most
// characters.
func (v *visit) field(name string, most int) string {
	text := strings.TrimSpace(strings.ToValidUTF8(v.r.PostFormValue(name), "\ufffd"))
	if utf8.RuneCountInString(text) > most {
		return string([]rune(text)[:most])
	}
	return text
}

// ticked tells whether a box is ticked.
func (v *visit) ticked(name string) bool { return v.r.PostFormValue(name) != "" }

// answers are the fields of a form as they were typed, to be shown again.
type answers map[string]string

// read keeps the fields of these names as they were typed.
func (v *visit) read(names ...string) answers {
	a := answers{}
	for _, n := range names {
		a[n] = v.field(n, 4000)
	}
	return a
}

// heightOf reads a height: a bare number from 100 to 230 is centimetres,
// which is what the field asks for.
func heightOf(text string) (metres float64, err error) {
	if text == "" {
		return 0, nil
	}
	if n, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64); err == nil {
		switch {
		case n >= 100 && n <= 230:
			return n / 100, nil
		case n >= 1 && n <= 2.3:
			return n, nil
		}
		return 0, form.UsageError("a runner's height is between 100 and 230 cm; %s is not", text)
	}
	m, err := quantity.Length(text)
	if err == nil && (m < 1 || m > 2.3) {
		return 0, form.UsageError("a runner's height is between 100 and 230 cm; %s is not", text)
	}
	return m, err
}

// massOf reads a mass: a bare number is kilograms.
func massOf(text string) (kg float64, err error) {
	if text == "" {
		return 0, nil
	}
	n, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil {
		n, err = quantity.Mass(text)
	}
	if err == nil && !(n >= 15 && n <= 250) {
		err = form.UsageError("a runner's mass is between 15 and 250 kg; %s is not", text)
	}
	return n, err
}

// speedOf reads a speed: a bare number is km/h.
func speedOf(text string) (metresPerSecond float64, err error) {
	if text == "" {
		return 0, nil
	}
	if n, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64); err == nil {
		text = strconv.FormatFloat(n, 'f', -1, 64) + "km/h"
	}
	s, err := quantity.Speed(text)
	if err == nil && !(s >= 0.3 && s <= 12.5) {
		err = form.UsageError("a speed is between 1 and 45 km/h; %s is not", text)
	}
	return s, err
}

// yearOf reads a year of birth, 0 for none.
func yearOf(text string) (int, error) { return wholeOf(text, "a year of birth", 1900, 2100) }

// wholeOf reads a whole number, 0 for none.
func wholeOf(text, what string, low, high int) (int, error) {
	if text == "" {
		return 0, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < low || n > high {
		return 0, form.UsageError("%s is a whole number from %d to %d, and %q is not", what, low, high, text)
	}
	return n, nil
}

// dateOf reads a day.
func dateOf(text string) (plan.Date, error) {
	d, err := plan.ParseDate(text)
	if err != nil {
		return d, form.UsageError("%q is no day; write it as 2026-03-02", text)
	}
	return d, nil
}

// sexOf reads the choice for the table of body segments.
func sexOf(text string) roster.Sex {
	switch s := roster.Sex(text); s {
	case roster.Female, roster.Male:
		return s
	default:
		return roster.NotStated
	}
}

// versionOf is the version that a form was filled in at; 0, which no record
// has, where it does not say.
func versionOf(text string) int64 {
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil {
		return 0
	}
	return n
}
