package cli

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// printable gives text that is safe on a terminal: control characters,
// text-direction overrides and bytes that are not UTF-8 become escapes, so
// that a file's name can neither move the cursor nor pose as another name.
func printable(text string) string {
	var b strings.Builder
	for i := 0; i < len(text); {
		r, size := utf8.DecodeRuneInString(text[i:])
		switch {
		case r == utf8.RuneError && size == 1:
			fmt.Fprintf(&b, `\x%02x`, text[i])
		case unicode.IsPrint(r):
			b.WriteRune(r)
		case r < 0x80:
			fmt.Fprintf(&b, `\x%02x`, r)
		default:
			fmt.Fprintf(&b, `\u{%x}`, r)
		}
		i += size
	}
	return b.String()
}

// printableLines is printable for a text of several lines.
func printableLines(text string) string {
	lines := strings.Split(text, "\n")
	for i := range lines {
		lines[i] = printable(lines[i])
	}
	return strings.Join(lines, "\n")
}
