package paper

import (
	"bytes"
	"image"
	"regexp"
	"strings"
	"testing"
	"time"

	"plumbstride/internal/beside"
	"plumbstride/internal/card"
	"plumbstride/internal/card/cardtest"
	"plumbstride/internal/recheck"
	"plumbstride/internal/words"
)

// compared is the comparison of two invented cards, eight weeks apart.
func compared(t *testing.T, name string) recheck.Comparison {
	t.Helper()
	before, after := cardtest.Full(), cardtest.Full()
	before.Runner.Name, after.Runner.Name = name, name
	after.Made = before.Made.AddDate(0, 0, 56)
	for i := range after.Measures {
		m := &after.Measures[i]
		m.Value, m.Low, m.High = m.Value*1.05, m.Low+0.05*m.Value, m.High+0.05*m.Value
	}
	c, err := recheck.Of(before, after, recheck.Options{Program: "plumbstride test", Made: time.Date(2026, 5, 1, 9, 0, 0, 0, time.UTC)})
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Changes) < 10 {
		t.Fatalf("only %d changes", len(c.Changes))
	}
	return c
}

// Both runs at all moments stand on the first sheet with the verdict, so that
// the chart, the notes and the cautions need two more at most.
func TestComparisonIsShort(t *testing.T) {
	c := compared(t, "Invented Runner")
	var moments []beside.Moment
	for _, phase := range []string{card.InitialContact, card.MidStance, card.ToeOff} {
		moments = append(moments, beside.Moment{Phase: phase, Image: image.NewRGBA(image.Rect(0, 0, 960, 400))})
	}
	for _, l := range words.Languages() {
		b, err := words.In(l)
		if err != nil {
			t.Fatal(err)
		}
		for _, size := range []Page{A4, Letter} {
			var out bytes.Buffer
			if err := ComparePDF(&out, c, moments, Options{Page: size, Words: b}); err != nil {
				t.Fatal(err)
			}
			if n := len(regexp.MustCompile(`/Type /Page\b[^s]`).FindAll(out.Bytes(), -1)); n > 3 {
				t.Errorf("%s, %s: %d sheets", l, size, n)
			}
		}
	}
}

// The page and the sheets hold the verdict, the cautions and every change, in
// each language and on each paper; the same comparison gives the same bytes.
func TestComparison(t *testing.T) {
	c := compared(t, "Invented <b>Runner</b>")
	moments := []beside.Moment{{Phase: card.InitialContact, Image: image.NewRGBA(image.Rect(0, 0, 300, 100))}, {Phase: card.ToeOff, Image: image.NewRGBA(image.Rect(0, 0, 300, 100))}}
	for _, l := range words.Languages() {
		b, err := words.In(l)
		if err != nil {
			t.Fatal(err)
		}
		for _, size := range []Page{A4, Letter} {
			o := Options{Page: size, Words: b}
			var page, one, two bytes.Buffer
			if err := CompareHTML(&page, c, moments, o); err != nil {
				t.Fatal(err)
			}
			for _, w := range []*bytes.Buffer{&one, &two} {
				if err := ComparePDF(w, c, moments, o); err != nil {
					t.Fatal(err)
				}
			}
			if !bytes.Equal(one.Bytes(), two.Bytes()) || !bytes.HasPrefix(one.Bytes(), []byte("%PDF-")) {
				t.Errorf("%s, %s: two sheets of one comparison differ", l, size)
			}
			text := page.String()
			for _, want := range []string{`<html lang="` + string(l) + `"`, "&lt;b&gt;", "default-src &#39;none&#39;", `id="twice-wide"`, `id="twice-narrow"`} {
				if !strings.Contains(text, want) {
					t.Errorf("%s: the page lacks %q", l, want)
				}
			}
			if n := strings.Count(text, "data:image/jpeg"); n != len(moments) {
				t.Errorf("%s: %d pictures", l, n)
			}
			if strings.Contains(text, "<script") || strings.Contains(text, "<b>Runner") {
				t.Errorf("%s: the name is taken for markup", l)
			}
			if rows := strings.Count(text, `<th scope="row">`); rows != len(c.Changes) {
				t.Errorf("%s: %d rows of %d changes", l, rows, len(c.Changes))
			}
		}
	}
}
