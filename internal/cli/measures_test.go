package cli

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbstride/internal/explain"
	"plumbstride/internal/form"
	"plumbstride/internal/judge"
	"plumbstride/internal/measure"
)

// docsContext is the runner for whom docs/measures.md gives the bands.
var docsContext = judge.Context{SpeedMS: 10 / 3.6, HeightM: 1.72}

// TestMeasuresPage: docs/measures.md and the README's table are those that
// the table of measures and the bands give; -update writes them anew.
func TestMeasuresPage(t *testing.T) {
	same(t, filepath.Join("..", "..", "docs", "measures.md"), func(string) string { return explain.Markdown(docsContext) })
	same(t, filepath.Join("..", "..", "README.md"), func(have string) string {
		head, rest, ok := strings.Cut(have, "<!-- measures -->\n")
		_, tail, also := strings.Cut(rest, "<!-- /measures -->")
		if !ok || !also {
			t.Fatal("README.md has lost the marks of its table of measures")
		}
		return head + "<!-- measures -->\n" + readmeTable() + "<!-- /measures -->" + tail
	})
}

// same compares a document with what it should be, given what it is.
func same(t *testing.T, path string, should func(have string) string) {
	t.Helper()
	have, err := os.ReadFile(path)
	if err != nil && !*update {
		t.Fatal(err)
	}
	want := should(string(have))
	if *update {
		if err := os.WriteFile(path, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if diff := cmp.Diff(want, string(have)); diff != "" {
		t.Errorf("%s is out of date (-tables +file; -update writes it anew):\n%s", path, diff)
	}
}

// readmeTable is one row a measure; a second unit joins its first.
func readmeTable() string {
	var b strings.Builder
	b.WriteString("| measure | name | unit | what it is |\n|---|---|---|---|\n")
	defs := measure.Table()
	for i, d := range defs {
		if i > 0 && defs[i-1].Name == d.Name {
			continue
		}
		units := d.Unit
		if i+1 < len(defs) && defs[i+1].Name == d.Name {
			units += ", " + defs[i+1].Unit
		}
		fmt.Fprintf(&b, "| %s | `%s` | %s | %s |\n", d.Title, d.Name, units, d.Meaning)
	}
	return b.String()
}

// TestEveryMeasureIsWhole: no measure without unit, meaning, formula and
// source, and none whose band has no source.
func TestEveryMeasureIsWhole(t *testing.T) {
	for _, d := range append(measure.Table(), measure.StandingTable()...) {
		for what, text := range map[string]string{
			"name": d.Name, "title": d.Title, "unit": d.Unit, "meaning": d.Meaning, "formula": d.Formula, "source": d.Source,
		} {
			if strings.TrimSpace(text) == "" {
				t.Errorf("%s (%s) has no %s", d.Name, d.Unit, what)
			}
		}
		banded := judge.WithBands([]form.Measure{{Name: d.Name, Unit: d.Unit}}, docsContext)[0].Band
		if banded != nil && (banded.Source == "" || (math.IsNaN(banded.Low) && math.IsNaN(banded.High))) {
			t.Errorf("%s (%s) has a band without a source or without ends", d.Name, d.Unit)
		}
	}
}
