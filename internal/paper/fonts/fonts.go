// Package fonts takes the four cuts a form card is set in from this folder,
// and gives their files and the widths of their letters to packages paper,
// chart and web. The licences stand beside the files.
package fonts

import (
	_ "embed" // the font files
	"fmt"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"plumbstride/internal/chart"
)

//go:embed serif.ttf
var serif []byte

//go:embed serif-italic.ttf
var serifItalic []byte

//go:embed sans.ttf
var sans []byte

//go:embed sans-medium.ttf
var sansMedium []byte

// count is the number of cuts.
const count = int(chart.SansMedium) + 1

// TrueType gives the file of a font. It must not be changed.
func TrueType(f chart.Font) []byte {
	switch f {
	case chart.Serif:
		return serif
	case chart.SerifItalic:
		return serifItalic
	case chart.Sans:
		return sans
	case chart.SansMedium:
		return sansMedium
	default:
		panic(fmt.Sprintf("fonts: TrueType: there is no font %d", f))
	}
}

// Missing stands in for a character that a font doesn't have.
const Missing = '□'

// Set holds the four fonts read in. It is a chart.Measurer and doesn't
// change once it is made.
type Set struct{ fonts [count]*sfnt.Font }

// Load reads the embedded fonts in.
func Load() (*Set, error) {
	s := &Set{}
	for i := range count {
		f, err := sfnt.Parse(TrueType(chart.Font(i)))
		if err != nil {
			return nil, fmt.Errorf("fonts: font %d: %w", i, err)
		}
		s.fonts[i] = f
	}
	return s, nil
}

// perEm is the resolution at which widths are read: units of a thousandth.
const perEm = 1000

// Width gives the width of a text in the unit of size, without kerning. A
// character that the font lacks counts as wide as Missing.
func (s *Set) Width(f chart.Font, size float64, text string) float64 {
	var buffer sfnt.Buffer
	total := fixed.Int26_6(0)
	for _, r := range text {
		glyph, err := s.fonts[f].GlyphIndex(&buffer, r)
		if err != nil || glyph == 0 {
			glyph, _ = s.fonts[f].GlyphIndex(&buffer, Missing)
		}
		advance, err := s.fonts[f].GlyphAdvance(&buffer, glyph, fixed.I(perEm), font.HintingNone)
		if err == nil {
			total += advance
		}
	}
	return float64(total) / 64 / perEm * size
}

// Printable replaces every character that the font lacks by Missing.
func (s *Set) Printable(f chart.Font, text string) string {
	var buffer sfnt.Buffer
	runes := []rune(text)
	for i, r := range runes {
		if glyph, err := s.fonts[f].GlyphIndex(&buffer, r); err != nil || glyph == 0 {
			runes[i] = Missing
		}
	}
	return string(runes)
}
