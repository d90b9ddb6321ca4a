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

// lastRune is the last character that a font of this folder may hold.
const lastRune = 0x2600

// perEm is the resolution at which widths are read: units of a thousandth.
const perEm = 1000

// Set holds the widths of all characters of the four fonts, in thousandths
// of the size; a character that a font lacks is negative. It is a
// chart.Measurer and doesn't change once it is made.
type Set struct{ widths [count][lastRune]float32 }

// Load reads the embedded fonts in.
func Load() (*Set, error) {
	s := &Set{}
	for i := range count {
		f, err := sfnt.Parse(TrueType(chart.Font(i)))
		if err != nil {
			return nil, fmt.Errorf("fonts: font %d: %w", i, err)
		}
		var buffer sfnt.Buffer
		for r := range rune(lastRune) {
			s.widths[i][r] = -1
			glyph, err := f.GlyphIndex(&buffer, r)
			if err != nil || glyph == 0 {
				continue
			}
			advance, err := f.GlyphAdvance(&buffer, glyph, fixed.I(perEm), font.HintingNone)
			if err != nil {
				return nil, fmt.Errorf("fonts: font %d, character %q: %w", i, r, err)
			}
			s.widths[i][r] = float32(advance) / 64
		}
	}
	return s, nil
}

// Width gives the width of a text in the unit of size, without kerning. A
// character that the font lacks counts as wide as Missing.
func (s *Set) Width(f chart.Font, size float64, text string) float64 {
	total := 0.0
	for _, r := range text {
		if !s.has(f, r) {
			r = Missing
		}
		total += float64(s.widths[f][r])
	}
	return total / perEm * size
}

func (s *Set) has(f chart.Font, r rune) bool { return r >= 0 && r < lastRune && s.widths[f][r] >= 0 }

// Printable replaces every character that the font lacks by Missing.
func (s *Set) Printable(f chart.Font, text string) string {
	runes := []rune(text)
	for i, r := range runes {
		if !s.has(f, r) {
			runes[i] = Missing
		}
	}
	return string(runes)
}
