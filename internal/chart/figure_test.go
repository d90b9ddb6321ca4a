package chart_test

import (
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"

	"plumbstride/internal/chart"
	"plumbstride/internal/plan"
	"plumbstride/internal/plan/drills"
)

// TestFigures: every drill's drawing stays inside its picture, its captions
// don't meet, and its SVG is well formed and says what it shows.
func TestFigures(t *testing.T) {
	catalogue, err := plan.Load(drills.Files())
	if err != nil {
		t.Fatal(err)
	}
	for _, drill := range catalogue.All() {
		d := chart.Figures(measurer(t), drill.Title, drill.Picture.Alt, drill.Figures())
		fits(t, drill.ID, d)
		texts := strings.Join(wellFormed(t, d.SVG("drill")), " ")
		for _, pose := range drill.Picture.Poses {
			if !strings.Contains(texts, pose.Caption) {
				t.Errorf("%s: %q isn’t among the texts", drill.ID, pose.Caption)
			}
		}
		if d.Title == "" || d.Desc == "" {
			t.Errorf("%s has no words", drill.ID)
		}
	}
}

// TestAlone: a file of its own is XML and brings its colours along.
func TestAlone(t *testing.T) {
	d := chart.Figures(measurer(t), "A <title>", "What & how", nil)
	text := d.Alone("x")
	for dec := xml.NewDecoder(strings.NewReader(text)); ; {
		if _, err := dec.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	for _, want := range []string{"--text:#1f1d1a", ".f-page{fill:var(--page)}", "A &lt;title&gt;", "What &amp; how"} {
		if !strings.Contains(text, want) {
			t.Errorf("%s lacks %s", text, want)
		}
	}
}
