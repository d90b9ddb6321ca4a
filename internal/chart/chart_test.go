package chart_test

import (
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"plumbstride/internal/card"
	"plumbstride/internal/card/cardtest"
	"plumbstride/internal/chart"
	"plumbstride/internal/form"
	"plumbstride/internal/paper/fonts"
	"plumbstride/internal/quantity"
	"plumbstride/internal/words"
)

var update = flag.Bool("update", false, "write the golden files anew")

func measurer(t testing.TB) *fonts.Set {
	t.Helper()
	set, err := fonts.Load()
	if err != nil {
		t.Fatal(err)
	}
	return set
}

func wide() chart.PlumbOptions { return chart.PlumbOptions{Width: 511, Row: 11.6, Text: 7.4} }
func narrow() chart.PlumbOptions {
	return chart.PlumbOptions{Width: 328, Row: 20, Text: 12.6, Narrow: true}
}

func TestGolden(t *testing.T) {
	m := measurer(t)
	c := cardtest.Invented()
	us := wide()
	us.Units = quantity.US
	for name, svg := range map[string]string{
		"plumb.svg":        chart.Plumb(c, m, wide()).SVG("plumb"),
		"plumb-us.svg":     chart.Plumb(c, m, us).SVG("plumb"),
		"plumb-narrow.svg": chart.Plumb(c, m, narrow()).SVG("plumb-narrow"),
		"overlay.svg":      chart.Overlay(c.Pictures[0], 420, 560).Decoration(),
		"key.svg":          chart.Key(m, 104, 8.4, words.Book{}).SVG("key"),
		"stance.svg":       stanceOf(t, cardtest.Standing(), quantity.Metric).SVG("stance"),
		"standing.svg":     chart.Overlay(cardtest.Standing().Pictures[0], 300, 560).Decoration(),
		"style.css":        chart.Style() + chart.LightPalette().Properties() + "\n",
	} {
		path := filepath.Join("testdata", name)
		if *update {
			if err := os.WriteFile(path, []byte(svg), 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if svg != string(want) {
			t.Errorf("%s has changed; look at it, then run the test with -update", name)
		}
	}
}

func stanceOf(t interface{ Fatal(...any) }, c card.Card, units quantity.Units) chart.Drawing {
	set, err := fonts.Load()
	if err != nil {
		t.Fatal(err)
	}
	d, ok := chart.Stance(c, set, chart.StanceOptions{Width: 290, Height: 200, Text: 7.6, Units: units})
	if !ok {
		t.Fatal("no drawing of a standing check")
	}
	return d
}

// Ear, shoulder, hip and knee hang where they should: ahead is the way the
// person faces, and a value beyond the axis stays in the drawing.
func TestStance(t *testing.T) {
	at := func(facing string, value float64) chart.Drawing {
		c := cardtest.Standing()
		c.Clip.Facing = facing
		c.Measures[0].Value, c.Measures[0].Low, c.Measures[0].High = value, value-2, value+2
		return stanceOf(t, c, quantity.Metric)
	}
	for _, v := range []float64{-80, -6, 0, 6, 80} {
		right, left := at("right", v), at("left", v)
		fits(t, fmt.Sprint("facing right, ", v), right)
		fits(t, fmt.Sprint("facing left, ", v), left)
		line := 0.5 * (290 - 11.2*7.6 - 7.6)
		r, l := tips(right)[0], tips(left)[0]
		if math.Abs((r-line)+(l-line)) > 1e-6 {
			t.Errorf("%v cm: at %v facing right and %v facing left of the line at %v", v, r, l, line)
		}
		if v != 0 && (r > line) != (v > 0) {
			t.Errorf("%v cm ahead hangs at %v, the line at %v", v, r, line)
		}
	}
	if _, ok := chart.Stance(cardtest.Invented(), nil, chart.StanceOptions{Width: 290, Height: 200, Text: 7.6}); ok {
		t.Error("a run has a drawing of standing")
	}
	us := stanceOf(t, cardtest.Standing(), quantity.US)
	fits(t, "US", us)
}

// wellFormed reads SVG as XML and gives its texts.
func wellFormed(t *testing.T, svg string) []string {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(svg))
	var texts []string
	inText := false
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return texts
		}
		if err != nil {
			t.Fatalf("not well formed: %v", err)
		}
		switch token := token.(type) {
		case xml.StartElement:
			if token.Name.Local == "script" || token.Name.Local == "style" {
				t.Fatalf("an element %q in a drawing", token.Name.Local)
			}
			inText = token.Name.Local == "text"
		case xml.CharData:
			if inText {
				texts = append(texts, string(token))
			}
		case xml.EndElement:
			inText = false
		}
	}
}

func TestTextStaysText(t *testing.T) {
	texts := strings.Join(wellFormed(t, chart.Plumb(cardtest.Invented(), measurer(t), wide()).SVG("a")), "|")
	for _, want := range []string{"Cadence", "163.6", "0.6", "steps/min", "165–185", "Knee flexion at contact", "work on this", "+3 SD", "L", "R"} {
		if !strings.Contains(texts, want) {
			t.Errorf("%q isn’t among the texts", want)
		}
	}
}

// fits fails where anything lies outside the drawing, isn't a number, or
// where two texts lie on one another.
func fits(t interface{ Errorf(string, ...any) }, name string, d chart.Drawing) {
	page := chart.Box{X2: d.Width, Y2: d.Height}
	var labels []chart.Label
	for _, item := range d.Items {
		b := item.Box()
		for _, v := range []float64{b.X1, b.Y1, b.X2, b.Y2} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Errorf("%s: %+v is nowhere", name, item)
			}
		}
		if !b.Within(page, 0.01) {
			t.Errorf("%s: %+v lies outside %v × %v", name, item, d.Width, d.Height)
		}
		if l, ok := item.(chart.Label); ok && l.Text != "" {
			labels = append(labels, l)
		}
	}
	for i, a := range labels {
		for _, b := range labels[:i] {
			if a.Box().Overlaps(b.Box(), 0.05) {
				t.Errorf("%s: %q and %q lie on one another", name, a.Text, b.Text)
			}
		}
	}
}

func TestNothingOverlaps(t *testing.T) {
	m := measurer(t)
	for name, c := range map[string]card.Card{
		"invented": cardtest.Invented(), "full": cardtest.Full(), "again": cardtest.FilmAgain(), "hostile": cardtest.Hostile(), "standing": cardtest.Standing(),
	} {
		for _, units := range []quantity.Units{quantity.Metric, quantity.US} {
			for _, o := range []chart.PlumbOptions{wide(), narrow(), {Width: 528, Row: 9.2, Text: 6.6}, {Width: 511, Row: 13.4, Text: 7.9}} {
				o.Units = units
				d := chart.Plumb(c, m, o)
				fits(t, fmt.Sprintf("%s %s %v", name, units, o), d)
				wellFormed(t, d.SVG("x"))
			}
		}
	}
}

// anyCard draws a card with any measures a program could give.
func anyCard(t *rapid.T) card.Card {
	number := rapid.OneOf(rapid.Float64Range(-500, 500), rapid.Float64(), rapid.SampledFrom([]float64{0, math.NaN(), math.Inf(1), math.Inf(-1)}))
	text := rapid.OneOf(rapid.StringN(0, 30, 60), rapid.SampledFrom([]string{"Cadence", "", "Knee flexion"}))
	var c card.Card
	for range rapid.IntRange(0, 12).Draw(t, "measures") {
		v, sd := number.Draw(t, "value"), number.Draw(t, "sd")
		m := card.Measure{
			Name: text.Draw(t, "name"), Title: text.Draw(t, "title"), Value: v, SD: sd, Low: v - sd, High: v + sd,
			Unit: rapid.SampledFrom([]string{"deg", "cm", "–", "ms", "steps/min", "% leg length"}).Draw(t, "unit"),
			Side: rapid.SampledFrom([]form.Side{form.Both, form.Left, form.Right}).Draw(t, "side"),
			Area: rapid.SampledFrom(append(card.AreaNames(), "")).Draw(t, "area"),
		}
		if rapid.Bool().Draw(t, "banded") {
			m.Band = &card.Band{Low: card.Number(number.Draw(t, "low")), High: card.Number(number.Draw(t, "high")), PopulationSD: card.Number(number.Draw(t, "spread"))}
		}
		c.Measures = append(c.Measures, m)
	}
	return c
}

func TestAnyCardFits(t *testing.T) {
	m := measurer(t)
	rapid.Check(t, func(t *rapid.T) {
		c := anyCard(t)
		fits(t, "wide", chart.Plumb(c, m, wide()))
		fits(t, "narrow", chart.Plumb(c, m, narrow()))
	})
}

// bobs gives the filled shapes in text ink that are bobs: the value's place
// is their tip, the lowest point.
func tips(d chart.Drawing) []float64 {
	var out []float64
	for _, item := range d.Items {
		if p, ok := item.(chart.Path); ok && (p.Fill == chart.Text || p.Fill == chart.Page) {
			tip := p.Ops[0]
			for _, op := range p.Ops {
				if op.Do != 'Z' && op.Y > tip.Y {
					tip = op
				}
			}
			out = append(out, tip.X)
		}
	}
	return out
}

// One measure, two SD above the middle of its band: with an axis to ±3 SD
// the bob hangs two thirds of the way to the edge.
func TestBobsHangWhereTheyShould(t *testing.T) {
	m := measurer(t)
	at := func(value float64) float64 {
		c := card.Card{Measures: []card.Measure{{Name: "a", Area: "cadence", Value: value, Low: value - 1, High: value + 1,
			Band: &card.Band{Low: 90, High: 110, PopulationSD: 5}}}}
		ts := tips(chart.Plumb(c, m, wide()))
		if len(ts) != 1 {
			t.Fatalf("%d bobs", len(ts))
		}
		return ts[0]
	}
	line, half := chart.PlumbAt*511, 0.15*511
	for _, tt := range []struct{ value, want float64 }{
		{100, line}, {110, line + half*2/3}, {90, line - half*2/3}, {1000, line + half}, {-1000, line - half},
	} {
		if got := at(tt.value); math.Abs(got-tt.want) > 0.01 {
			t.Errorf("value %v hangs at %v, want %v", tt.value, got, tt.want)
		}
	}
}

// The half bobs of left and right lie on their own side of the value.
func TestHalfBobsByShape(t *testing.T) {
	c := card.Card{}
	for _, side := range []form.Side{form.Left, form.Right} {
		c.Measures = append(c.Measures, card.Measure{Name: "a", Side: side, Area: "lean", Value: 100, Low: 99, High: 101,
			Band: &card.Band{Low: 90, High: 110, PopulationSD: 5}})
	}
	var halves []chart.Box
	for _, item := range chart.Plumb(c, measurer(t), wide()).Items {
		if p, ok := item.(chart.Path); ok && p.Fill == chart.Text {
			halves = append(halves, p.Box())
		}
	}
	line := chart.PlumbAt * 511
	if len(halves) != 2 || halves[0].X2 > line+0.01 || halves[1].X1 < line-0.01 || halves[0].Y1 >= halves[1].Y1 {
		t.Errorf("half bobs at %+v, the line at %v", halves, line)
	}
}

func TestOverlayStaysInThePicture(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Float64Range(-3000, 3000)
		line := func() card.Line {
			return card.Line{X1: n.Draw(t, "x1"), Y1: n.Draw(t, "y1"), X2: n.Draw(t, "x2"), Y2: n.Draw(t, "y2")}
		}
		p := card.Picture{
			CentreOfMass: [2]float64{n.Draw(t, "x"), n.Draw(t, "y")}, Tilt: rapid.Float64Range(-0.5, 0.5).Draw(t, "tilt"),
			GroundY: n.Draw(t, "ground"), Body: []card.Line{line(), line()}, Foot: []card.Line{line()},
		}
		d := chart.Overlay(p, 640, 480)
		for _, item := range d.Items {
			if !item.Box().Within(chart.Box{X2: 640, Y2: 480}, 1e-6) {
				t.Errorf("%+v lies outside the picture", item)
			}
		}
	})
	bad := card.Picture{CentreOfMass: [2]float64{math.NaN(), math.Inf(1)}, Body: []card.Line{{X1: math.NaN()}}}
	if items := chart.Overlay(bad, 10, 10).Items; len(items) != 0 {
		t.Errorf("drawn from what isn’t a number: %+v", items)
	}
}

// The plumb line leans by the picture's own tilt: over a height of 400
// pixels, 0.01 rad is 4.00 pixels to the right at the top.
func TestPlumbLineFollowsTheTilt(t *testing.T) {
	d := chart.Overlay(card.Picture{CentreOfMass: [2]float64{200, 200}, Tilt: 0.01}, 400, 400)
	for _, item := range d.Items {
		if s, ok := item.(chart.Segment); ok && s.Stroke.Ink == chart.Line {
			if lean := s.X1 - s.X2; math.Abs(lean-4.0) > 0.01 || s.Y1 > s.Y2 {
				t.Errorf("the line runs from %v,%v to %v,%v", s.X1, s.Y1, s.X2, s.Y2)
			}
			return
		}
	}
	t.Error("there is no plumb line")
}

func TestWrap(t *testing.T) {
	m := measurer(t)
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOf(rapid.RuneFrom([]rune("aWi é−走\u00a0 "))).Draw(t, "text")
		width := rapid.Float64Range(30, 300).Draw(t, "width")
		for name, lines := range map[string][]string{
			"Wrap": chart.Wrap(m, chart.Sans, 10, width, text), "Balance": chart.Balance(m, chart.Sans, 10, width, text),
		} {
			squeeze := func(s string) string { return strings.ReplaceAll(s, " ", "") }
			if squeeze(strings.Join(lines, "")) != squeeze(text) {
				t.Errorf("%s: %q became %q", name, text, lines)
			}
			for _, line := range lines {
				if m.Width(chart.Sans, 10, line) > width+1e-9 {
					t.Errorf("%s: %q is wider than %v", name, line, width)
				}
			}
		}
		if s := chart.Shorten(m, chart.Sans, 10, width, text); m.Width(chart.Sans, 10, s) > width {
			t.Errorf("Shorten: %q is wider than %v", s, width)
		}
		if lines := chart.Clamp(m, chart.Sans, 10, width, 2, text); len(lines) > 2 {
			t.Errorf("Clamp: %d lines", len(lines))
		}
	})
	if got := chart.Balance(m, chart.Serif, 10, 100, "one two three four five six"); len(got) > 1 && len(got[len(got)-1]) < 6 {
		t.Errorf("an orphan is left: %q", got)
	}
}

// Contrast after the Web Content Accessibility Guidelines 2.2 of the W3C,
// 1.4.3 (text, 4.5) and 1.4.11 (lines that carry meaning, 3).
func TestContrast(t *testing.T) {
	for name, p := range map[string]chart.Palette{"light": chart.LightPalette(), "dark": chart.DarkPalette()} {
		for _, ink := range []chart.Ink{chart.Text, chart.Quiet, chart.Accent} {
			for _, ground := range []chart.Ink{chart.Page, chart.Shade} {
				if got := contrast(p[ink], p[ground]); got < 4.5 {
					t.Errorf("%s: %s on %s has a contrast of %.2f", name, ink, ground, got)
				}
			}
		}
		if got := contrast(p[chart.Line], p[chart.Casing]); got < 3 {
			t.Errorf("%s: the plumb line on its edge has a contrast of %.2f", name, got)
		}
	}
	if got := contrast(chart.Colour{}, chart.Colour{R: 255, G: 255, B: 255}); math.Abs(got-21) > 1e-9 {
		t.Errorf("black on white is %v, want 21", got)
	}
}

func contrast(a, b chart.Colour) float64 {
	light := func(c chart.Colour) float64 {
		linear := func(v uint8) float64 {
			s := float64(v) / 255
			if s <= 0.04045 {
				return s / 12.92
			}
			return math.Pow((s+0.055)/1.055, 2.4)
		}
		return 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
	}
	x, y := light(a), light(b)
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

func BenchmarkPlumb(b *testing.B) {
	m := measurer(b)
	c := cardtest.Full()
	for b.Loop() {
		_ = chart.Plumb(c, m, wide()).SVG("plumb")
	}
}

// A picture's second line names the foot only where its title does not.
func TestMomentSaysTheFootOnce(t *testing.T) {
	for _, l := range words.Languages() {
		b, err := words.In(l)
		if err != nil {
			t.Fatal(err)
		}
		p := card.Picture{Title: b.Of("right foot, initial contact"), Moment: "initial contact", TimeS: 4.67, Side: form.Right}
		if got, want := chart.MomentWords(p, b), b.Say("%.2f s into the clip", 4.67); got != want {
			t.Errorf("%s: under %q stands %q", l, p.Title, got)
		}
		p.Title = ""
		if got, want := chart.MomentWords(p, b), b.Say("right foot, %s", b.Say("%.2f s into the clip", 4.67)); got != want {
			t.Errorf("%s: without a title %q", l, got)
		}
	}
}

// TestUnitsAreWhole: no unit of a measure is cut short on paper, in any
// language.
func TestUnitsAreWhole(t *testing.T) {
	for _, l := range words.Languages() {
		b, err := words.In(l)
		if err != nil {
			t.Fatal(err)
		}
		for _, o := range []chart.PlumbOptions{{Width: 511, Row: 11.6, Text: 7.4, Words: b}, {Width: 511, Row: 13.4, Text: 7.9, Words: b}} {
			c := card.Card{Measures: []card.Measure{{Name: "landing_distance", Title: "Landing ahead of the hips", Area: "landing", Unit: "% leg length",
				Value: 25, Low: 23, High: 27, Band: &card.Band{Low: 10, High: 24, PopulationSD: 5}}}}
			want, found := b.Of("% leg length"), false
			for _, item := range chart.Plumb(c.In(b), measurer(t), o).Items {
				if label, ok := item.(chart.Label); ok && label.Text == want {
					found = true
				}
			}
			if !found {
				t.Errorf("%s, type of %g: %q is cut short", l, o.Text, want)
			}
		}
	}
}
