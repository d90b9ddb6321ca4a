package graph

import (
	"encoding/xml"
	"io"
	"strings"
	"testing"
)

// A graph is well-formed and says what it shows to those who don't see it.
func TestGraph(t *testing.T) {
	g := Graph{
		Title: "Error against frame rate", Desc: "Error falls with the frame rate.",
		X:     Axis{Label: "frames a second", Low: 25, Top: 300, Log: true},
		Y:     Axis{Label: "error, ms", Low: -5, Top: 20},
		Shade: [2]float64{0, 5},
		Series: []Series{
			{Name: "contact", X: []float64{30, 60, 120, 240}, Y: []float64{12, 6, 4, 99}, Err: []float64{2, 1, 1, 1}, Joined: true},
			{Name: "toe-off", X: []float64{30, 60}, Y: []float64{-3, 2}, Ink: Text, Open: true},
		},
	}
	svg := g.SVG("error-by-rate")
	for dec := xml.NewDecoder(strings.NewReader(svg)); ; {
		if _, err := dec.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	// What lies beyond an axis is drawn at its edge.
	if strings.Contains(svg, `cy="-`) {
		t.Error("a point leaves the graph")
	}
	for _, want := range []string{"Error falls with the frame rate.", "frames a second", ">200<", ">−5<", "toe-off"} {
		if !strings.Contains(svg, want) {
			t.Errorf("no %q in the graph", want)
		}
	}
}
