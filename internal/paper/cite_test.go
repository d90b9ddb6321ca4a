package paper

import (
	"html"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbstride/internal/card"
	"plumbstride/internal/card/cardtest"
	"plumbstride/internal/form"
	"plumbstride/internal/paper/fonts"
	"plumbstride/internal/words"
)

func TestWorks(t *testing.T) {
	for _, tt := range []struct {
		source string
		want   []string
	}{
		{"common practice, no source", nil},
		{"", nil},
		{"Teng & Powers 2014 doi 10.2519/x (7.3 ± 3.6°); Teng & Powers 2015 MSSE 47:625–630 (groups at 3.6°)", []string{"Teng 2014", "Teng 2015"}},
		{"derived from Eur J Sport Sci 2020 20:182–190 (optimum 171 ± 8 at 3.04 m/s); Burns et al. 2019 doi 10.1152/y", []string{"Eur J Sport Sci 2020", "Burns 2019"}},
		{"computed from Fukuchi et al. 2017 doi 10.7717/z and Ferber's Running Injury Clinic data (11.0 ± 4.7°); speed after a thesis, Pacific University 1994", []string{"Fukuchi 2017", "Ferber's Running Injury Clinic data", "Pacific University 1994"}},
		{"derived from Patoz et al. 2022, as in centimetres; leg of 0.530 H (Drillis & Contini 1966)", []string{"Patoz 2022", "Drillis 1966"}},
	} {
		if diff := cmp.Diff(tt.want, works(tt.source)); diff != "" {
			t.Errorf("%q (-want +got):\n%s", tt.source, diff)
		}
	}
}

func TestCited(t *testing.T) {
	got := cited([]sourceOf{
		{"Karamanidis & Arampatzis 2005 (from memory)", []string{"Contact time", "Flight time"}},
		{"common practice, no source", []string{"Body lean", "Hip hinge"}},
	}, words.Book{})
	want := item{"Bands:", "taken, derived or computed from Karamanidis 2005; common practice, no source: body lean, hip hinge; " +
		"partly from memory: contact time, flight time. The card’s page gives each source in full."}
	if got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

func FuzzWorks(f *testing.F) {
	f.Add("derived from Burns et al. 2019 doi 10.1152/y (+5.6 per m/s); É 2001 and ")
	f.Add("(((;; and and \xff")
	f.Fuzz(func(t *testing.T, source string) {
		for _, work := range works(source) {
			if len([]rune(work)) > citationLimit+1 {
				t.Errorf("%q gave the long %q", source, work)
			}
		}
	})
}

// The sheet has one short paragraph; the page gives each source whole.
func TestPageGivesSourcesInFull(t *testing.T) {
	c := cardtest.Invented()
	source := "derived from Burns et al. 2019 doi 10.1152/japplphysiol.00374.2018 (+5.6 per m/s)"
	c.Measures = append([]card.Measure(nil), c.Measures...)
	c.Measures[0].Band = &card.Band{Low: 1, High: 5, PopulationSD: 1, Source: source}
	text := html.UnescapeString(markup(t, c, Options{}))
	if !strings.Contains(text, `<li class="on-screen"><b>Band of head forward:</b> `+source+".</li>") {
		t.Error("the page doesn’t spell the source out")
	}
	if n := strings.Count(text, `<li class="on-paper" aria-hidden="true"><b>Bands:</b>`); n != 1 {
		t.Errorf("%d short paragraphs for paper", n)
	}
}

// usual is a card with as many rows, sources and cautions as a whole check
// of a clip gives.
func usual() card.Card {
	c := cardtest.Full()
	c.Refused, c.Notes, c.Cautions = nil, c.Notes[:2], nil
	c.Measures = slices.DeleteFunc(c.Measures, func(m card.Measure) bool {
		return m.Title == "Head forward, angle" || m.Name == "plumb_ear" || m.Name == "body_lean" && m.Side == form.Right
	})
	for i := range 9 {
		c.Cautions = append(c.Cautions, strings.Repeat("One caution of the length that they usually have. ", 2+i%3))
	}
	for i := range c.Measures {
		if c.Measures[i].Band != nil {
			band := *c.Measures[i].Band
			band.Source = "derived from Patoz et al. 2022 Front Physiol 13:1044363 (leg angle 8.1 ± 2.6°) and " +
				c.Measures[i].Title + " et al. 2017 doi 10.7717/peerj.3298 (11.0 ± 4.7° at 2.5 m/s)"
			c.Measures[i].Band = &band
		}
	}
	return c
}

// Titles, values, units and bands of the chart stand on paper at 6.5 pt or
// more (common practice, no source), the pictures at 3.9 cm or more (3.5 on
// Letter, which is lower), and the chart takes the whole width of the text.
func TestChartIsReadableOnPaper(t *testing.T) {
	set, err := fonts.Load()
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]card.Card{"invented": cardtest.Invented(), "full": cardtest.Full(), "usual": usual()} {
		for _, size := range []Page{A4, Letter} {
			p := compose(set, c, Options{Page: size}.normal())
			if p.set.scale < 1 || 0.92*p.used.text < 6.5 {
				t.Errorf("%s %s: the chart is scaled by %.2f, its type is %.1f pt", name, size, p.set.scale, p.used.text)
			}
			if p.set.pictures < map[Page]float64{A4: 110, Letter: 100}[size] {
				t.Errorf("%s %s: the pictures are only %.0f pt high", name, size, p.set.pictures)
			}
		}
	}
}
