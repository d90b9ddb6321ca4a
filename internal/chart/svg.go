package chart

import (
	"fmt"
	"html"
	"strconv"
	"strings"
)

// SVG writes the drawing as one SVG element: text stays text, colours come
// from class names (see Style), title and description are there for screen
// readers. id must be unique on the page and made of letters and hyphens.
func (d Drawing) SVG(id string) string {
	w := &svgPainter{}
	fmt.Fprintf(&w.b, `<svg xmlns="http://www.w3.org/2000/svg" class="drawing" id="%s" viewBox="0 0 %s %s" role="img" aria-labelledby="%s-title %s-desc">`,
		escape(id), num(d.Width), num(d.Height), escape(id), escape(id))
	fmt.Fprintf(&w.b, "\n<title id=\"%s-title\">%s</title>\n<desc id=\"%s-desc\">%s</desc>\n",
		escape(id), escape(d.Title), escape(id), escape(d.Desc))
	d.Paint(w)
	w.b.WriteString("</svg>\n")
	return w.b.String()
}

// Decoration writes the drawing as an SVG that screen readers pass over, for
// lines laid over a picture whose alternative text already says it all. Its
// edges are those of the picture under it.
func (d Drawing) Decoration() string {
	w := &svgPainter{}
	fmt.Fprintf(&w.b, `<svg xmlns="http://www.w3.org/2000/svg" class="drawing" viewBox="0 0 %s %s" preserveAspectRatio="none" aria-hidden="true">`+"\n",
		num(d.Width), num(d.Height))
	d.Paint(w)
	w.b.WriteString("</svg>\n")
	return w.b.String()
}

// Colour is a colour in sRGB.
type Colour struct{ R, G, B uint8 }

// String gives "#rrggbb".
func (c Colour) String() string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }

// Palette gives each ink its colour; None has none.
type Palette [numInks]Colour

// LightPalette is ink on warm white; the paper uses it too. The accent is
// the blue of a mason's chalk line, and dark enough to print as dark grey.
func LightPalette() Palette {
	return Palette{
		Text: {0x1f, 0x1d, 0x1a}, Quiet: {0x5f, 0x5a, 0x52}, Rule: {0xc9, 0xc2, 0xb5}, Thread: {0xa8, 0xa0, 0x92},
		Shade: {0xea, 0xe4, 0xd6}, Accent: {0x1f, 0x4d, 0x8f}, Page: {0xfc, 0xfa, 0xf5},
		Mark: {0x1f, 0x1d, 0x1a}, Casing: {0xfc, 0xfa, 0xf5}, Line: {0x1f, 0x4d, 0x8f},
	}
}

// DarkPalette is the same page by night.
func DarkPalette() Palette {
	p := LightPalette()
	p[Text], p[Quiet], p[Rule] = Colour{0xed, 0xe8, 0xde}, Colour{0xb0, 0xa8, 0x9a}, Colour{0x46, 0x42, 0x3b}
	p[Thread], p[Shade] = Colour{0x6b, 0x65, 0x5a}, Colour{0x2f, 0x2c, 0x27}
	p[Accent], p[Page] = Colour{0x92, 0xb7, 0xee}, Colour{0x19, 0x18, 0x16}
	return p
}

// Style is the style sheet for drawings in a page: a class for each ink's
// fill (f-text …) and stroke (s-text …), and for each font (t-serif …).
// The colours are the custom properties that Properties writes.
func Style() string {
	var b strings.Builder
	for i := Text; i < numInks; i++ {
		fmt.Fprintf(&b, ".drawing .f-%s{fill:var(--%s)}.drawing .s-%s{stroke:var(--%s)}\n", i, i, i, i)
	}
	b.WriteString(".drawing .f-none{fill:none}\n" +
		".drawing .t-serif{font-family:\"Plumb Serif\",Georgia,serif}\n" +
		".drawing .t-serif-italic{font-family:\"Plumb Serif\",Georgia,serif;font-style:italic}\n" +
		".drawing .t-sans{font-family:\"Plumb Sans\",\"Segoe UI\",sans-serif}\n" +
		".drawing .t-sans-medium{font-family:\"Plumb Sans\",\"Segoe UI\",sans-serif;font-weight:500}\n")
	return b.String()
}

// Properties writes a palette as custom properties, one declaration a line.
func (p Palette) Properties() string {
	var b strings.Builder
	for i := Text; i < numInks; i++ {
		fmt.Fprintf(&b, "--%s:%s;", i, p[i])
	}
	return b.String()
}

type svgPainter struct{ b strings.Builder }

func (w *svgPainter) Segment(s Segment) {
	fmt.Fprintf(&w.b, `<line x1="%s" y1="%s" x2="%s" y2="%s" class="s-%s"%s/>`+"\n",
		num(s.X1), num(s.Y1), num(s.X2), num(s.Y2), s.Stroke.Ink, strokeAttributes(s.Stroke))
}

func (w *svgPainter) Path(c Path) {
	fmt.Fprintf(&w.b, `<path d="%s" class="f-%s%s"%s/>`+"\n",
		pathData(c.Ops), c.Fill, strokeClass(c.Stroke), strokeAttributes(c.Stroke))
}

func (w *svgPainter) Circle(c Circle) {
	fmt.Fprintf(&w.b, `<circle cx="%s" cy="%s" r="%s" class="f-%s%s"%s/>`+"\n",
		num(c.X), num(c.Y), num(c.R), c.Fill, strokeClass(c.Stroke), strokeAttributes(c.Stroke))
}

var fontClass = [...]string{Serif: "t-serif", SerifItalic: "t-serif-italic", Sans: "t-sans", SansMedium: "t-sans-medium"}
var anchorWord = [...]string{Start: "", Middle: ` text-anchor="middle"`, End: ` text-anchor="end"`}

func (w *svgPainter) Label(l Label) {
	if l.Text == "" {
		return
	}
	fmt.Fprintf(&w.b, `<text x="%s" y="%s" font-size="%s" class="%s f-%s"%s>%s</text>`+"\n",
		num(l.X), num(l.Y), num(l.Size), fontClass[l.Font], l.Ink, anchorWord[l.Anchor], escape(l.Text))
}

func strokeClass(s Stroke) string {
	if s.Ink == None {
		return ""
	}
	return " s-" + s.Ink.String()
}

func strokeAttributes(s Stroke) string {
	if s.Ink == None {
		return ""
	}
	text := fmt.Sprintf(` stroke-width="%s"`, num(s.Width))
	if len(s.Dash) > 0 {
		dashes := make([]string, len(s.Dash))
		for i, d := range s.Dash {
			dashes[i] = num(d)
		}
		text += fmt.Sprintf(` stroke-dasharray="%s"`, strings.Join(dashes, " "))
	}
	if s.Round {
		text += ` stroke-linecap="round"`
	}
	return text
}

func pathData(ops []Op) string {
	var b strings.Builder
	for _, op := range ops {
		b.WriteByte(op.Do)
		switch op.Do {
		case 'C':
			fmt.Fprintf(&b, "%s %s %s %s %s %s", num(op.X1), num(op.Y1), num(op.X2), num(op.Y2), num(op.X), num(op.Y))
		case 'M', 'L':
			fmt.Fprintf(&b, "%s %s", num(op.X), num(op.Y))
		}
	}
	return b.String()
}

// escape makes text safe inside SVG, and drops the control characters that
// no XML may hold.
func escape(text string) string {
	return html.EscapeString(strings.Map(func(r rune) rune {
		if r < 0x20 && r != '\n' && r != '\t' || r == 0xfffe || r == 0xffff {
			return -1
		}
		return r
	}, strings.ToValidUTF8(text, "")))
}

// num writes a length with at most two decimals.
func num(v float64) string {
	text := strings.TrimRight(strings.TrimRight(strconv.FormatFloat(v, 'f', 2, 64), "0"), ".")
	if text == "-0" {
		return "0"
	}
	return text
}
