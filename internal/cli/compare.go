package cli

import (
	"bytes"
	"errors"
	"fmt"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"strings"

	"plumbstride/internal/beside"
	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/paper"
	"plumbstride/internal/quantity"
	"plumbstride/internal/recheck"
	"plumbstride/internal/words"
)

// compareVerb tells what changed between two checks.
type compareVerb struct {
	Before string   `arg:"" name:"before" help:"The earlier check: its check.json, or the folder that check --out left."`
	After  string   `arg:"" name:"after" help:"The later one."`
	Middle []string `group:"The checks:" name:"between" sep:"none" placeholder:"CHECK" help:"A check between the two, in the order of time; may be given several times."`

	Area       string `group:"The checks:" name:"worked-on" enum:",alignment,landing,cadence,lean,bounce,symmetry" default:"" placeholder:"AREA" help:"What was worked on, where it is not what the first check put first."`
	OtherShoes bool   `group:"The checks:" help:"The runner wears other shoes in the second: what shoes change by themselves is left out."`

	Out  string `group:"The result:" placeholder:"DIR" help:"Leave compare.html, compare.pdf, compare.json and the pictures in this folder."`
	JSON bool   `group:"The result:" name:"json" help:"Print one JSON object, and nothing else, on standard output."`
	shown
}

// Help stands below the verb's first line in its help.
func (compareVerb) Help() string {
	return "Says first what became of the one thing that was worked on, then lists each measure's change with its uncertainty and the smallest change that would have shown. Film both the same way: the same side, place, speed and shoes.\n\n" + exitCodes
}

// Run compares the checks and leaves what was asked for.
func (v *compareVerb) Run(e *errand) error {
	if err := v.settle(e); err != nil {
		return err
	}
	before, err := readCheck(v.Before)
	if err != nil {
		return err
	}
	after, err := readCheck(v.After)
	if err != nil {
		return err
	}
	options := recheck.Options{Area: v.Area, OtherShoes: v.OtherShoes, Units: v.Units, Program: "plumbstride " + Version, Made: e.now()}
	for _, name := range v.Middle {
		between, err := readCheck(name)
		if err != nil {
			return err
		}
		options.Between = append(options.Between, between)
	}
	c, err := recheck.Of(before, after, options)
	if err != nil {
		return err
	}
	object, err := indented(c)
	if err != nil {
		return err
	}
	if err := v.leave(before, after, c, object); err != nil {
		return err
	}
	if v.JSON {
		_, err := e.Out.Write(object)
		return err
	}
	_, err = io.WriteString(e.Out, comparisonText(c.In(v.book), v.Units, columnsOf(e.Out), v.book))
	return err
}

// The names of what --out leaves in its folder.
const (
	comparePageName   = "compare.html"
	compareSheetName  = "compare.pdf"
	compareObjectName = "compare.json"
)

// leave writes the files asked for.
func (v *compareVerb) leave(before, after card.Card, c recheck.Comparison, object []byte) error {
	if v.Out == "" {
		return nil
	}
	moments, files, err := v.moments(before, after)
	if err != nil {
		return err
	}
	options := paper.Options{Page: paper.Page(v.Page), Units: v.Units, Words: v.book}
	var page, sheets bytes.Buffer
	if err := paper.CompareHTML(&page, c, moments, options); err != nil {
		return err
	}
	if err := paper.ComparePDF(&sheets, c, moments, options); err != nil {
		return err
	}
	files = append(files,
		file{filepath.Join(v.Out, comparePageName), page.Bytes()},
		file{filepath.Join(v.Out, compareSheetName), sheets.Bytes()},
		file{filepath.Join(v.Out, compareObjectName), object})
	if err := errors.Join(spareFrom(v.Before, files), spareFrom(v.After, files)); err != nil {
		return err
	}
	if _, err := folder(v.Out); err != nil {
		return err
	}
	return publishAll(files)
}

// moments are the pictures of both runs, and their files; none where a check
// is not a folder with its track.
func (v *compareVerb) moments(before, after card.Card) ([]beside.Moment, []file, error) {
	was, ok1, err := readRun(v.Before, before)
	if err != nil {
		return nil, nil, err
	}
	now, ok2, err := readRun(v.After, after)
	if err != nil || !ok1 || !ok2 {
		return nil, nil, err
	}
	moments := beside.Moments(was, now)
	var files []file
	for _, m := range moments {
		var b bytes.Buffer
		if err := png.Encode(&b, m.Image); err != nil {
			return nil, nil, fmt.Errorf("writing a picture: %w", err)
		}
		files = append(files, file{filepath.Join(v.Out, "compare-"+phaseName(m.Phase)+".png"), b.Bytes()})
	}
	return moments, files, nil
}

// readCheck reads a check's JSON, or that in the folder of check --out.
func readCheck(path string) (card.Card, error) {
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		path = filepath.Join(path, objectName)
	}
	c, err := readCard(path)
	if err == nil && c.Made.IsZero() {
		return c, form.ClipError("%s doesn't say when it was made; check the clip again", printable(path))
	}
	return c, err
}

// comparisonText writes a comparison, which is in the book's language, as
// text.
func comparisonText(c recheck.Comparison, units quantity.Units, columns int, b words.Book) string {
	t := newTable(columns)
	t.units, t.say = units, b
	if c.Runner.Name != "" {
		fmt.Fprintf(&t.b, "%s\n", printable(c.Runner.Name))
	}
	t.wrapped("", b.Say("Before: %s", t.checked(c.Before)))
	t.wrapped("", b.Say("After: %s", t.checked(c.After)))
	t.b.WriteString("\n")
	t.wrapped("", printable(c.Lead(b)))
	t.wrapped("  ", printable(c.Planned.Says))
	if next := c.NextWords(b); next != "" {
		t.wrapped("  ", printable(next))
	}
	t.b.WriteString("\n")
	t.changes(c.Changes)
	if groups := c.Left(b); len(groups) > 0 {
		t.b.WriteString(b.Say("Not compared") + "\n")
		for _, g := range groups {
			t.hanging("  – ", printable(strings.Join(g.What, "; ")+": "+g.Reason))
		}
		t.b.WriteString("\n")
	}
	t.list(b.Say("Notes"), c.Notes)
	t.list(b.Say("Take care"), c.Cautions)
	return t.b.String()
}

// checked says in a few words which check it was.
func (t *tableWriter) checked(c recheck.Check) string {
	words := []string{t.say.Date(c.Made), printable(c.File)}
	if c.Setting != "" {
		words = append(words, t.say.Of(card.Words(c.Setting)))
	}
	if c.SpeedMS.Known() {
		words = append(words, t.say.Figures(t.units.Speed(float64(c.SpeedMS))))
	}
	return strings.Join(words, ", ")
}

// changes writes the table of changes; the planned one is marked.
func (t *tableWriter) changes(rows []recheck.Change) {
	if len(rows) == 0 {
		return
	}
	b := t.say
	cells := [][]string{{b.Say("measure"), b.Say("side"), b.Say("before"), b.Say("after"), b.Say("difference"), b.Say("told from"), b.Say("unit"), ""}}
	for _, c := range rows {
		s := c.Show(t.units, b)
		title := printable(s.Title)
		if c.Planned {
			title = "▸ " + title
		}
		cells = append(cells, []string{title, s.Side, s.Before, s.After, s.Difference + " ± " + s.PlusMinus, s.Least, s.Unit, s.Verdict + s.Star})
	}
	t.columns(cells, []bool{false, false, true, true, true, true, false, false})
	t.hanging("  ", b.Say("difference: with half of its 95 %% interval, the runner's own variation from day to day counted in; told from: the smallest change that these two checks tell from noise; ▸: what was worked on"))
	t.b.WriteString("\n")
}
