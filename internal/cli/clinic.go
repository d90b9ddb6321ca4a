package cli

import (
	"bytes"
	"fmt"
	"path/filepath"
	"strings"

	"plumbstride/internal/clinic"
	"plumbstride/internal/evening"
	"plumbstride/internal/form"
	"plumbstride/internal/paper"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// clinicVerb tells over all classes what changed.
type clinicVerb struct {
	Out  string `group:"The result:" placeholder:"FILE" help:"Leave it as a .pdf or as a .csv table, for you alone."`
	JSON bool   `group:"The result:" name:"json" help:"Print one JSON object, and nothing else, on standard output."`
	shown
}

// Help stands below the verb's first line in its help.
func (clinicVerb) Help() string {
	return "Over all classes, without a name: what became of those who came back, area by area, with 95 % intervals, what chance alone would have done taken off, and how many stayed away. Nothing rests on fewer than five runners.\n\n" + folderHelp + "\n\n" + exitCodes
}

// Run tells it.
func (v *clinicVerb) Run(e *errand) error {
	if err := v.settle(e); err != nil {
		return err
	}
	ext := strings.ToLower(filepath.Ext(v.Out))
	if v.Out != "" && ext != ".pdf" && ext != ".csv" {
		return form.UsageError("--out %s: this is left as a .pdf or a .csv file", v.Out)
	}
	titles, err := catalogueWith("")
	if err != nil {
		return err
	}
	return withRecords(e, func(r *records) error {
		report, err := evening.Clinic(e.ctx, r.db, "plumbstride "+Version, e.now())
		if err != nil {
			return err
		}
		entry := store.Entry{Action: string(roster.Export), Kind: roster.ClinicKind}
		if err := r.db.By(command()).Record(e.ctx, entry); err != nil {
			return err
		}
		told := report.Tell(v.book, v.Units, func(id string) string {
			if d, ok := titles.Find(id); ok {
				return v.book.Of(d.Title)
			}
			return id
		})
		var out bytes.Buffer
		switch {
		case ext == ".pdf":
			err = paper.ClinicPDF(&out, report, told, paper.Options{Page: paper.Page(v.Page), Words: v.book}, v.shop.Shop.Name)
		case ext == ".csv":
			err = report.WriteCSV(&out)
		case v.JSON:
			var object []byte
			object, err = indented(report)
			out.Write(object)
		default:
			out.WriteString(clinicText(told, columnsOf(e.Out), v))
		}
		if err != nil {
			return err
		}
		return giveOut(e, v.Out, out.Bytes())
	})
}

// clinicText is the report as text.
func clinicText(told clinic.Told, columns int, v *clinicVerb) string {
	t := newTable(columns)
	list := func(title string, lines []string) {
		if len(lines) == 0 {
			return
		}
		fmt.Fprintf(&t.b, "\n%s\n", title)
		for _, line := range lines {
			t.wrapped("  ", line)
		}
	}
	for _, line := range told.Lead {
		t.wrapped("", line)
	}
	for _, a := range told.Areas {
		list(a.Name, a.Lines)
	}
	list(v.book.Say("Drills that went with change"), told.Drills)
	list(v.book.Say("Lengths of plan"), told.Lengths)
	list(v.book.Say("How to read it"), told.Read)
	return t.b.String()
}
