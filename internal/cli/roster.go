package cli

import (
	"bytes"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// rosterVerb brings runners in and takes them out.
type rosterVerb struct {
	Import rosterImportVerb `cmd:"" help:"Add the runners of a table (CSV)."`
	Export rosterExportVerb `cmd:"" help:"Write all runners as a table (CSV)."`
	List   rosterListVerb   `cmd:"" help:"List all runners with their IDs."`
	About  rosterAboutVerb  `cmd:"" help:"Write everything that is kept about one runner (JSON)."`
}

// folderHelp tells in every help where the records lie.
const folderHelp = "The records lie in the user's data folder, or in the one that PLUMBSTRIDE_HOME names."

// Help stands below the verb's first line in its help.
func (rosterVerb) Help() string { return folderHelp + "\n\n" + exitCodes }

// rosterImportVerb adds the runners of a table.
type rosterImportVerb struct {
	File string `arg:"" name:"file" help:"The table: a heading line, then one runner a line."`
}

// Help stands below the verb's first line in its help.
func (rosterImportVerb) Help() string {
	return "The headings are, in any order: " + strings.Join(roster.Header(), ", ") + `. Only name is needed. Between the cells stand commas, semicolons or tabs. Quantities carry their unit (172cm, 5ft8in, 64kg); paces stand as "easy 10km/h | long 6:30/km". Headings height_cm and mass_kg take bare numbers.

A table with a mistake is refused whole, with its lines named. Runners who are on the roster already (same name, no other year of birth) are left as they are. Nobody has agreed to be filmed by standing in a table: record each runner's consent.

` + folderHelp + "\n\n" + exitCodes
}

// Run adds the runners.
func (v *rosterImportVerb) Run(e *errand) error {
	f, err := os.Open(v.File)
	if err != nil {
		return form.UsageError("the roster %s can't be read: %w", v.File, err)
	}
	defer f.Close()
	sheet, err := roster.ReadCSV(f, e.now())
	if err != nil {
		return err
	}
	r, err := openRecords(e, true)
	if err != nil {
		return err
	}
	defer r.close()
	var added, there []string
	err = r.db.By(command()).Within(e.ctx, func(s store.Store) error {
		all, err := s.Runners(e.ctx)
		if err != nil {
			return err
		}
		for _, one := range sheet.Runners {
			if slices.ContainsFunc(all, one.Same) {
				there = append(there, one.Name)
				continue
			}
			one, err = s.AddRunner(e.ctx, one)
			if err != nil {
				return err
			}
			all, added = append(all, one), append(added, one.Name)
		}
		return nil
	})
	if err != nil {
		return err
	}
	var b strings.Builder
	b.WriteString(e.book.Say("%d added.", len(added)) + "\n")
	if len(there) > 0 {
		b.WriteString(e.book.Say("There already, and left as they are (%d): %s.", len(there), strings.Join(there, ", ")) + "\n")
	}
	if len(sheet.Ignored) > 0 {
		b.WriteString(e.book.Say("These columns are not known and were left out: %s.", strings.Join(sheet.Ignored, ", ")) + "\n")
	}
	if len(added) > 0 {
		b.WriteString(e.book.Say("Nobody of them has agreed to be filmed yet: record each runner's consent first.") + "\n")
	}
	_, err = fmt.Fprint(e.Out, printableLines(b.String()))
	return err
}

// rosterExportVerb writes all runners as a table.
type rosterExportVerb struct {
	Out string `placeholder:"FILE" help:"Write to this file, which only you can read, not to standard output."`
}

// Help stands below the verb's first line in its help.
func (rosterExportVerb) Help() string {
	return "The table holds names, contacts, heights and the like, and no answers about health. Cells that a spreadsheet would take for a formula begin with an apostrophe; roster import takes it away again.\n\n" + folderHelp + "\n\n" + exitCodes
}

// Run writes the table.
func (v *rosterExportVerb) Run(e *errand) error {
	return withRecords(e, func(r *records) error {
		all, err := r.db.Runners(e.ctx)
		if err != nil {
			return err
		}
		var b bytes.Buffer
		if err := roster.WriteCSV(&b, all); err != nil {
			return err
		}
		if err := r.db.By(command()).Record(e.ctx, store.Entry{Action: string(roster.Export), Kind: roster.RosterList}); err != nil {
			return err
		}
		return giveOut(e, v.Out, b.Bytes())
	})
}

// rosterListVerb lists all runners.
type rosterListVerb struct{}

// Help stands below the verb's first line in its help.
func (rosterListVerb) Help() string { return folderHelp + "\n\n" + exitCodes }

// Run prints the list.
func (v *rosterListVerb) Run(e *errand) error {
	return withRecords(e, func(r *records) error {
		all, err := r.db.Runners(e.ctx)
		if err != nil {
			return err
		}
		_, err = fmt.Fprint(e.Out, runnerLines(all))
		return err
	})
}

// runnerLines is one line for each runner: name, year of birth, ID.
func runnerLines(all []roster.Runner) string {
	var b strings.Builder
	w := tabwriter.NewWriter(&b, 0, 8, 2, ' ', 0)
	for _, one := range all {
		born := ""
		if one.BirthYear != 0 {
			born = strconv.Itoa(one.BirthYear)
		}
		fmt.Fprintf(w, "%s\t%s\t%s\n", printable(one.Name), born, one.ID)
	}
	_ = w.Flush() // into memory
	return b.String()
}

// rosterAboutVerb writes everything about one runner.
type rosterAboutVerb struct {
	Runner string `arg:"" name:"runner" help:"The runner's name, or ID as roster list gives it."`
	Out    string `placeholder:"FILE" help:"Write to this file, which only you can read, not to standard output."`
}

// Help stands below the verb's first line in its help.
func (rosterAboutVerb) Help() string {
	return "One JSON object: the runner, classes, consents, checks with their cards and measures, the coach's decisions, plans, notes, what files there are, links, and who saw or changed what. It is what to hand out when a runner asks what is kept about them.\n\n" + folderHelp + "\n\n" + exitCodes
}

// Run writes the object.
func (v *rosterAboutVerb) Run(e *errand) error {
	return withRecords(e, func(r *records) error {
		one, err := findRunner(e, r.db, v.Runner)
		if err != nil {
			return err
		}
		entry := store.Entry{Action: string(roster.Export), Kind: roster.RunnerKind, Subject: one.ID, RunnerID: one.ID}
		if err := r.db.By(command()).Record(e.ctx, entry); err != nil {
			return err
		}
		all, err := store.About(e.ctx, r.db, one.ID)
		if err != nil {
			return err
		}
		object, err := all.JSON()
		if err != nil {
			return err
		}
		return giveOut(e, v.Out, object)
	})
}

// withRecords opens the data folder, which must hold records, for do.
func withRecords(e *errand, do func(*records) error) error {
	r, err := openRecords(e, false)
	if err != nil {
		return err
	}
	defer r.close()
	return do(r)
}

// giveOut writes a result to a file for its owner alone, or to standard
// output where no file is named.
func giveOut(e *errand, path string, content []byte) error {
	if path == "" {
		_, err := e.Out.Write(content)
		return err
	}
	return publishFilled(path, owner, holding(content))
}

// findRunner gives the runner of that ID, or the only one of that name.
func findRunner(e *errand, s store.Runners, word string) (roster.Runner, error) {
	all, err := s.Runners(e.ctx)
	if err != nil {
		return roster.Runner{}, err
	}
	var found []roster.Runner
	for _, one := range all {
		if one.ID == word {
			return one, nil
		}
		if strings.EqualFold(one.Name, strings.TrimSpace(word)) {
			found = append(found, one)
		}
	}
	switch len(found) {
	case 0:
		return roster.Runner{}, form.UsageError("nobody on the roster is called %q; plumbstride roster list tells who is", word)
	case 1:
		return found[0], nil
	default:
		return roster.Runner{}, form.UsageError("%d runners are called %s; name one by the ID behind:\n%s", len(found), word, strings.TrimSuffix(runnerLines(found), "\n"))
	}
}
