package cli

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"plumbstride/internal/card"
	"plumbstride/internal/chart"
	"plumbstride/internal/form"
	"plumbstride/internal/paper/fonts"
	"plumbstride/internal/plan"
)

// drillsVerb lists the catalogue, or shows one drill.
type drillsVerb struct {
	Which  string `arg:"" optional:"" name:"which" help:"An area (alignment, landing, cadence, lean, bounce, symmetry), or a drill's id; every drill where left out."`
	SVG    bool   `name:"svg" help:"Print one drill's drawing as SVG, and nothing else."`
	JSON   bool   `name:"json" help:"Print the drills as one JSON object, and nothing else."`
	Drills string `placeholder:"DIR" help:"Add the drills in this folder to the catalogue."`
}

// Help stands below the verb's first line in its help.
func (drillsVerb) Help() string {
	return "A folder for --drills holds .json files by the schema docs/drills.schema.json.\n\n" + exitCodes
}

// Run prints what was asked for.
func (v *drillsVerb) Run(e *errand) error {
	catalogue, err := catalogueWith(v.Drills)
	if err != nil {
		return err
	}
	one, found := catalogue.Find(v.Which)
	list := catalogue.All()
	switch {
	case found:
		list = []plan.Drill{one}
	case slices.Contains(plan.Areas(), v.Which):
		list = catalogue.Area(v.Which)
	case v.Which != "":
		return form.UsageError("%q is neither an area nor a drill; plumbstride drills lists both", v.Which)
	}
	text := ""
	switch {
	case v.SVG && !found:
		return form.UsageError("--svg draws one drill: name it by its id")
	case v.SVG:
		text, err = drillSVG(one)
	case v.JSON:
		var object []byte
		object, err = indented(map[string]any{"drills": list})
		text = string(object)
	case found:
		text = drillText(one, columnsOf(e.Out))
	default:
		text = drillList(list, columnsOf(e.Out))
	}
	if err != nil {
		return err
	}
	_, err = io.WriteString(e.Out, text)
	return err
}

// drillSVG is a drill's drawing as a file of its own.
func drillSVG(d plan.Drill) (string, error) {
	set, err := fonts.Load()
	if err != nil {
		return "", err
	}
	return chart.Figures(set, d.Title, d.Picture.Alt, d.Figures()).Alone("drill-" + d.ID), nil
}

func drillList(list []plan.Drill, columns int) string {
	t := newTable(columns)
	width := 0
	for _, d := range list {
		width = max(width, len(d.ID))
	}
	area := ""
	for _, d := range list {
		if d.Area != area {
			area = d.Area
			fmt.Fprintf(&t.b, "%s%s\n", map[bool]string{true: "", false: "\n"}[t.b.Len() == 0], card.Capital(area))
		}
		head := fmt.Sprintf("  %-*s  %d  %-6s  ", width, d.ID, d.Stage, d.When)
		t.hanging(head, printable(strings.TrimSuffix(d.Title, ".")))
	}
	t.b.WriteString("\n")
	t.wrapped("", "The number is the stage: 1 to begin with, 3 for later weeks. Before and within a run, or apart on days without practice. One drill's page: plumbstride drills ID. Pain means stop.")
	return t.b.String()
}
