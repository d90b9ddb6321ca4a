package paper

import (
	"bytes"
	"image"
	"math"
	"os/exec"
	"regexp"
	"strings"
	"testing"

	"plumbstride/internal/card"
	"plumbstride/internal/card/cardtest"
	"plumbstride/internal/form"
	"plumbstride/internal/testkit"
)

// withBehind is the invented card with a second clip.
func withBehind() card.Card {
	c := cardtest.Invented()
	c.Behind = &card.Behind{
		Clip: card.Clip{File: "invented-behind.mp4", Frames: 480, DurationS: 8, RateHz: 60, View: "back", Setting: "treadmill", SpeedMS: card.Number(math.NaN()), RollDeg: 0.2, YawDeg: 2, MPerPx: 0.0034, SlowedBy: 1},
		Says: "The left foot crosses the line of running.", Notes: []string{"Invented note."}, Networks: []card.Network{},
	}
	for _, side := range []form.Side{form.Left, form.Right} {
		c.Measures = append(c.Measures, card.Measure{
			Name: "foot_to_line", Title: "Foot to the line of running", Side: side, Unit: "cm", Value: -3, SD: 1, Low: -4.96, High: -1.04, N: 9,
			Area: "alignment", View: "back", Class: "crosses over", Classes: map[string]float64{"crosses over": 0.99},
			Band: &card.Band{Low: 0, High: card.Number(math.NaN()), PopulationSD: 2, Source: "common practice, no source"},
		})
		c.Pictures = append(c.Pictures, card.Picture{
			Title: side.String() + " foot, mid-stance", Moment: "mid-stance", TimeS: 4, Side: side, View: form.ViewBack,
			Image: image.NewRGBA(image.Rect(0, 0, 300, 480)), Plumb: [2]float64{150, 240},
			Body: []card.Line{{X1: 120, Y1: 200, X2: 180, Y2: 204}},
		})
	}
	c.Refused = append(c.Refused, form.Refusal{Name: "pelvic_drop", Side: form.Left, Reason: "the hips are hidden"})
	return c
}

// What was seen from behind has a sheet of its own, and a part of the page;
// nothing of it stands on the first sheet.
func TestFromBehind(t *testing.T) {
	c := withBehind()
	data := pdf(t, c, Options{})
	keep(t, "behind.pdf", data)
	if n := len(regexp.MustCompile(`/Type /Page\b[^s]`).FindAll(data, -1)); n != 2 {
		t.Errorf("%d pages", n)
	}
	if !bytes.Equal(data, pdf(t, c, Options{})) {
		t.Error("the same card gave two different PDFs")
	}
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		testkit.Lacks(t, "pdftotext isn’t installed (Debian package poppler-utils)")
	}
	cmd := exec.Command(tool, "-layout", "-", "-")
	cmd.Stdin = bytes.NewReader(data)
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	words := strings.Join(strings.Fields(string(out)), " ")
	for _, want := range []string{"From behind", "The left foot crosses the line of running", "Foot to the line of running", "crosses over (99 %)", "Pelvic drop, left:", "hidden", "line of running", "invented-behind.mp4"} {
		if !strings.Contains(words, want) {
			t.Errorf("the sheets don’t say %q", want)
		}
	}
	var page bytes.Buffer
	if err := HTML(&page, c, Options{}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`aria-labelledby="behind"`, "From behind", "The left foot crosses the line of running", "Invented note."} {
		if !strings.Contains(page.String(), want) {
			t.Errorf("the page doesn’t say %q", want)
		}
	}
	side, behind, _ := card.SplitBehind(c)
	if len(side.Pictures) != 2 || len(behind.Pictures) != 2 || len(behind.Refused) != 1 {
		t.Errorf("%d pictures from the side, %d and %d refusals from behind", len(side.Pictures), len(behind.Pictures), len(behind.Refused))
	}
	without := cardtest.Invented()
	if n := len(regexp.MustCompile(`/Type /Page\b[^s]`).FindAll(pdf(t, without, Options{}), -1)); n != 1 {
		t.Errorf("a card without a second clip has %d pages", n)
	}
}
