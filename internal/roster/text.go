package roster

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"plumbstride/internal/form"
)

// The longest texts, in characters.
const (
	maxName  = 80
	maxLine  = 200
	maxNotes = 4000
)

// line cleans one line of text: no control characters, no marks that turn
// the reading direction round, no blanks but single ones.
func line(what, text string, most int) (string, error) {
	if !utf8.ValidString(text) {
		return "", form.UsageError("the %s has bytes that are no text (UTF-8); write it again", what)
	}
	text = strings.Join(strings.FieldsFunc(text, func(r rune) bool {
		return unicode.IsSpace(r) || !shown(r)
	}), " ")
	if n := utf8.RuneCountInString(text); n > most {
		return "", form.UsageError("the %s has %d characters; %d are the most", what, n, most)
	}
	return text, nil
}

// notes cleans a text of several lines.
func notes(what, text string) (string, error) {
	if !utf8.ValidString(text) {
		return "", form.UsageError("the %s has bytes that are no text (UTF-8); write it again", what)
	}
	text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
	text = strings.TrimSpace(strings.Map(func(r rune) rune {
		if r == '\n' || r == '\t' || shown(r) {
			return r
		}
		return -1
	}, text))
	if n := utf8.RuneCountInString(text); n > maxNotes {
		return "", form.UsageError("the %s has %d characters; %d are the most", what, n, maxNotes)
	}
	return text, nil
}

// shown tells whether a character is to be seen where it stands. The joiners
// that some scripts need are; what turns the direction of reading is not.
func shown(r rune) bool {
	if r == '\u200c' || r == '\u200d' {
		return true
	}
	return !unicode.Is(unicode.C, r) && r != '\u2028' && r != '\u2029'
}
