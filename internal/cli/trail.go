package cli

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"time"

	"plumbstride/internal/evening"
	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// trailVerb prints who saw or changed what.
type trailVerb struct {
	Runner  string `placeholder:"NAME" help:"Only what is about this runner: the name, or the ID as roster list gives it."`
	Who     string `placeholder:"NAME" help:"Only what this account did."`
	Day     string `placeholder:"DAY" help:"Only what was done on this day: 2026-03-02."`
	Most    int    `default:"200" placeholder:"200" help:"At most that many lines, the latest."`
	Deleted bool   `help:"Only what was deleted, withdrawn or revoked, as a list for restore --forgotten."`
	JSON    bool   `name:"json" help:"Print one JSON array and nothing else."`
}

// Help stands below the verb's first line in its help.
func (trailVerb) Help() string {
	return "One line for everything that somebody saw, added, changed, confirmed, exported or deleted, for each sign-in and each that was refused, the latest first. A line names records by their random IDs and holds no word about anybody; names are looked up as they are now. Looking at the same thing again within ten minutes is one line. Lines are kept for three years.\n\nKeep the list of --deleted apart from the backups: with it a restored backup forgets again whom you forgot.\n\n" + folderHelp + "\n\n" + exitCodes
}

// Run prints the lines.
func (v *trailVerb) Run(e *errand) error {
	if v.Most < 1 {
		return form.UsageError("--most is at least 1")
	}
	return withRecords(e, func(r *records) error {
		f, err := v.filter(e, r.db)
		if err != nil {
			return err
		}
		most := v.Most
		if v.Deleted {
			most = maxDeletions
		}
		all, err := r.db.Entries(e.ctx, f, most)
		if err != nil {
			return err
		}
		entry := store.Entry{Action: string(roster.See), Kind: roster.AuditKind}
		if err := r.db.By(command()).Record(e.ctx, entry); err != nil {
			return err
		}
		switch {
		case v.Deleted:
			return writeDeletions(e.Out, all)
		case v.JSON:
			enc := json.NewEncoder(e.Out)
			enc.SetIndent("", "  ")
			return enc.Encode(all)
		}
		return writeTrail(e, r.db, all)
	})
}

// filter is what was asked for.
func (v *trailVerb) filter(e *errand, s store.Store) (f store.TrailFilter, err error) {
	if v.Runner != "" {
		one, err := findRunner(e, s, v.Runner)
		if err != nil {
			return f, err
		}
		f.RunnerID = one.ID
	}
	if v.Who != "" {
		a, err := s.AccountByName(e.ctx, strings.ToLower(strings.TrimSpace(v.Who)))
		if err != nil {
			return f, form.UsageError("nobody signs in as %q", v.Who)
		}
		f.WhoID = a.ID
	}
	if v.Day != "" {
		day, err := time.ParseInLocation(time.DateOnly, v.Day, time.Local)
		if err != nil {
			return f, form.UsageError("%q is no day; write it as 2026-03-02", v.Day)
		}
		f.From, f.Until = day, day.AddDate(0, 0, 1)
	}
	return f, nil
}

// writeDeletions writes what restore --forgotten reads.
func writeDeletions(out io.Writer, all []store.Entry) error {
	for _, one := range all {
		if !deletes(one) {
			continue
		}
		if _, err := fmt.Fprintf(out, "%s %s %s %s\n", one.Action, one.Kind, one.Subject, one.At.Format(time.RFC3339)); err != nil {
			return err
		}
	}
	return nil
}

// writeTrail writes lines for people.
func writeTrail(e *errand, s store.Store, all []store.Entry) error {
	runners, accounts, err := names(e, s)
	if err != nil {
		return err
	}
	w := tabwriter.NewWriter(e.Out, 0, 8, 2, ' ', 0)
	for _, one := range all {
		who := evening.ByWhom(e.book, one.Who.Kind)
		switch {
		case accounts[one.Who.ID] != "":
			who = accounts[one.Who.ID]
		case one.Who.ID != "":
			who += " " + one.Who.ID
		}
		about := one.Subject
		switch {
		case runners[one.RunnerID] != "":
			about = runners[one.RunnerID] + "  " + one.Subject
		case accounts[one.Subject] != "":
			about = accounts[one.Subject]
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", one.At.Local().Format("2006-01-02 15:04:05"), printable(who), evening.DidWhat(e.book, one.Action), evening.OfWhat(e.book, one.Kind), printable(about))
	}
	return w.Flush()
}

// names are all runners' and accounts' names by ID.
func names(e *errand, s store.Store) (runners, accounts map[string]string, err error) {
	runners, accounts = map[string]string{}, map[string]string{}
	people, err := s.Runners(e.ctx)
	if err != nil {
		return nil, nil, err
	}
	for _, one := range people {
		runners[one.ID] = one.Name
	}
	desk, err := s.Accounts(e.ctx)
	for _, one := range desk {
		accounts[one.ID] = one.Name
	}
	return runners, accounts, err
}
