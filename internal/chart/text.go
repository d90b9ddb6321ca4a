package chart

import "strings"

// Wrap breaks a text at its blanks (not at non-breaking ones) into lines no
// wider than width; a single word that is wider is cut between characters.
// No text gives no lines.
func Wrap(m Measurer, font Font, size, width float64, text string) []string {
	var lines []string
	line := ""
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == '\n' }) {
		for _, piece := range pieces(m, font, size, width, word) {
			longer := piece
			if line != "" {
				longer = line + " " + piece
			}
			if line != "" && m.Width(font, size, longer) > width {
				lines = append(lines, line)
				longer = piece
			}
			line = longer
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// Balance is Wrap with lines of even length: as few lines as Wrap needs, the
// longest of them as short as can be.
func Balance(m Measurer, font Font, size, width float64, text string) []string {
	lines := Wrap(m, font, size, width, text)
	low, high := width/2, width
	for range 12 { // to a four-thousandth of the width
		middle := (low + high) / 2
		if even := Wrap(m, font, size, middle, text); len(even) > len(lines) {
			low = middle
		} else {
			lines, high = even, middle
		}
	}
	return lines
}

// pieces cuts a word that is wider than a line.
func pieces(m Measurer, font Font, size, width float64, word string) []string {
	if m.Width(font, size, word) <= width {
		return []string{word}
	}
	var out []string
	var piece []rune
	for _, r := range word {
		if len(piece) > 0 && m.Width(font, size, string(piece)+string(r)) > width {
			out, piece = append(out, string(piece)), piece[:0]
		}
		piece = append(piece, r)
	}
	return append(out, string(piece))
}

// Shorten gives the text, or as much of it with "…" as fits the width.
func Shorten(m Measurer, font Font, size, width float64, text string) string {
	if m.Width(font, size, text) <= width {
		return text
	}
	runes := []rune(text)
	low, high := 0, len(runes)
	for low < high { // the longest start that fits
		middle := (low + high + 1) / 2
		if m.Width(font, size, string(runes[:middle])+"…") <= width {
			low = middle
		} else {
			high = middle - 1
		}
	}
	if low == 0 {
		return ""
	}
	return strings.TrimRight(string(runes[:low]), " ,;:") + "…"
}

// Clamp wraps a text to at most max lines; what doesn't fit is cut with "…"
// at the end of the last one.
func Clamp(m Measurer, font Font, size, width float64, max int, text string) []string {
	lines := Wrap(m, font, size, width, text)
	if len(lines) <= max {
		return lines
	}
	if max < 1 {
		return nil
	}
	rest := strings.Join(lines[max-1:], " ")
	return append(lines[:max-1], Shorten(m, font, size, width, rest))
}

// setter lays out labels with their measured widths.
type setter struct {
	m    Measurer
	size float64
}

// label sets a text, shortened to width where width is positive: first it
// may become a tenth smaller, then it is cut.
func (s setter) label(x, y float64, text string, font Font, scale float64, anchor Anchor, ink Ink, width float64) Label {
	size := s.size * scale
	if width > 0 {
		if w := s.m.Width(font, size, text); w > width {
			size *= max(0.9, width/w)
		}
		text = Shorten(s.m, font, size, width, text)
	}
	return Label{X: x, Y: y, Text: text, Font: font, Size: size, Anchor: anchor, Ink: ink, Width: s.m.Width(font, size, text)}
}

// Set lays out one line of text whole, with its measured width.
func Set(m Measurer, x, y float64, text string, font Font, size float64, anchor Anchor, ink Ink) Label {
	return setter{m, size}.label(x, y, text, font, 1, anchor, ink, 0)
}
