package cli

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"plumbstride/internal/form"
	"plumbstride/internal/media"
	"plumbstride/internal/roster"
)

// purgeVerb removes what is over its time.
type purgeVerb struct{}

// Help stands below the verb's first line in its help.
func (purgeVerb) Help() string {
	return "Clips and pictures are kept for as long as their class says, 90 days unless stated, and never longer than the runner agreed to; what consent no longer covers goes at once. Measures, cards and plans stay. Uploads that nobody finished go after a day. Every removal stands in the trail.\n\n" + folderHelp + "\n\n" + exitCodes
}

// Run removes it and tells how much it was.
func (v *purgeVerb) Run(e *errand) error {
	return withRecords(e, func(r *records) error {
		p, err := media.Purge(e.ctx, r.db, r.shelf, e.now())
		if err != nil {
			return err
		}
		_, err = fmt.Fprintln(e.Out, e.book.Say("Clips and pictures over their time: %d; uploads never finished: %d; files removed: %d.", p.Footage, p.Uploads, p.Files))
		return err
	})
}

// forgetVerb deletes a runner.
type forgetVerb struct {
	Runner string `arg:"" name:"runner" help:"The runner's name, or ID as roster list gives it."`
	Yes    bool   `help:"Don't ask."`
}

// Help stands below the verb's first line in its help.
func (forgetVerb) Help() string {
	return "Deletes the runner with consents, checks, measures, plans, notes, practice, links, clips and pictures, and overwrites their place in the database, so that no file of the data folder holds them any more. Copies that you made elsewhere (exports, cards handed out, backups) are yours to delete. The trail of who saw or changed what stays; it knows the runner by a random ID alone. It asks first, for the runner's name.\n\n" + folderHelp + "\n\n" + exitCodes
}

// Run asks, and deletes.
func (v *forgetVerb) Run(e *errand) error {
	return withRecords(e, func(r *records) error {
		one, err := findRunner(e, r.db, v.Runner)
		if err != nil {
			return err
		}
		if !v.Yes {
			checks, err := r.db.RunnerChecks(e.ctx, one.ID)
			if err != nil {
				return err
			}
			if err := confirmed(e, one, len(checks)); err != nil {
				return err
			}
		}
		if err := media.Forget(e.ctx, r.db, r.shelf, one.ID, command()); err != nil {
			return err
		}
		_, err = fmt.Fprintln(e.Out, e.book.Say("Deleted, with every clip and picture. Exports, cards and backups that lie elsewhere are yours to delete."))
		return err
	})
}

// confirmed asks for the runner's name, and is an error unless it comes.
func confirmed(e *errand, one roster.Runner, checks int) error {
	fmt.Fprint(e.Err, e.book.Say("%s will be deleted for good, with every clip and picture and all checks (%d).", printable(one.Name), checks), "\n", e.book.Say("Type the name to go on: "))
	if e.In == nil {
		return form.UsageError("nobody is there to ask; nothing was deleted (--yes doesn't ask)")
	}
	answer, err := bufio.NewReader(io.LimitReader(e.In, 1000)).ReadString('\n')
	if err != nil && err != io.EOF {
		return fmt.Errorf("the answer can't be read: %w", err)
	}
	if !strings.EqualFold(strings.Join(strings.Fields(answer), " "), one.Name) {
		return form.UsageError("that is not the name; nothing was deleted")
	}
	return nil
}
