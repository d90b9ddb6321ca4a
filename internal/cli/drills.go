package cli

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"plumbstride/internal/card"
	"plumbstride/internal/chart"
	"plumbstride/internal/form"
	"plumbstride/internal/paper/fonts"
	"plumbstride/internal/plan"
	"plumbstride/internal/words"
)

// drillsVerb lists the catalogue, or shows one drill.
type drillsVerb struct {
	Which  string `arg:"" optional:"" name:"which" help:"An area (alignment, landing, cadence, lean, bounce, symmetry), or a drill's id; every drill where left out."`
	SVG    bool   `name:"svg" help:"Print one drill's drawing as SVG, and nothing else."`
	JSON   bool   `name:"json" help:"Print the drills as one JSON object, and nothing else."`
	Drills string `placeholder:"DIR" help:"Add the drills in this folder to the catalogue."`
	shown
}

// Help stands below the verb's first line in its help.
func (drillsVerb) Help() string {
	return "A folder for --drills holds .json files by the schema docs/drills.schema.json.\n\n" + exitCodes
}

// Run prints what was asked for.
func (v *drillsVerb) Run(e *errand) error {
	if err := v.settle(e); err != nil {
		return err
	}
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
		text, err = drillSVG(one, v.book)
	case v.JSON:
		var object []byte
		object, err = indented(map[string]any{"drills": list})
		text = string(object)
	case found:
		text = drillText(one, columnsOf(e.Out), v.book)
	default:
		text = drillList(list, columnsOf(e.Out), v.book)
	}
	if err != nil {
		return err
	}
	_, err = io.WriteString(e.Out, text)
	return err
}

// drillSVG is a drill's drawing as a file of its own.
func drillSVG(d plan.Drill, b words.Book) (string, error) {
	set, err := fonts.Load()
	if err != nil {
		return "", err
	}
	figures := d.Figures()
	for i := range figures {
		figures[i].Caption = b.Of(figures[i].Caption)
	}
	return chart.Figures(set, b.Of(d.Title), b.Of(d.Picture.Alt), figures).Alone("drill-" + d.ID), nil
}

func drillList(list []plan.Drill, columns int, b words.Book) string {
	t := newTable(columns)
	width, whenWidth := 0, 6
	for _, d := range list {
		width, whenWidth = max(width, len(d.ID)), max(whenWidth, utf8.RuneCountInString(b.Of(d.When)))
	}
	area := ""
	for _, d := range list {
		if d.Area != area {
			area = d.Area
			fmt.Fprintf(&t.b, "%s%s\n", map[bool]string{true: "", false: "\n"}[t.b.Len() == 0], card.Capital(b.Of(area)))
		}
		head := fmt.Sprintf("  %-*s  %d  %-*s  ", width, d.ID, d.Stage, whenWidth, b.Of(d.When))
		t.hanging(head, printable(strings.TrimSuffix(b.Of(d.Title), ".")))
	}
	t.b.WriteString("\n")
	t.wrapped("", b.Say("The number is the stage: 1 to begin with, 3 for later weeks. Before and within a run, or apart on days without practice. One drill's page: plumbstride drills ID. Pain means stop."))
	return t.b.String()
}
