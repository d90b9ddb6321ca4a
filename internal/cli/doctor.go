package cli

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"plumbstride/internal/form"
	"plumbstride/internal/words"
)

// doctorVerb tells what is there and what is missing.
type doctorVerb struct{}

// Help stands below the verb's first line in its help.
func (doctorVerb) Help() string {
	return "Changes nothing. For each thing that is missing it says how to get it on this system.\n\n" + exitCodes
}

// Run prints the findings.
func (doctorVerb) Run(e *errand) error {
	text, missing := diagnosis(inspect(), columnsOf(e.Out), e.book)
	if _, err := fmt.Fprint(e.Out, text); err != nil {
		return err
	}
	if len(missing) > 0 {
		return form.MissingError("not all that a check needs is here: %s", strings.Join(missing, ", "))
	}
	return nil
}

// diagnosis is the table of findings in a book's language, and the English
// names of what is missing.
func diagnosis(findings []finding, columns int, b words.Book) (text string, missing []string) {
	width := 0
	there, lacks := b.Say("there"), b.Say("MISSING")
	states := max(utf8.RuneCountInString(there), utf8.RuneCountInString(lacks))
	for _, f := range findings {
		width = max(width, utf8.RuneCountInString(b.Of(f.Name)))
	}
	t := newTable(columns)
	for i, f := range findings {
		state := there
		if !f.OK {
			state = lacks
			missing = append(missing, printable(f.Name))
		}
		fmt.Fprintf(&t.b, "%-*s  %-*s  %s\n", width, printable(b.Of(f.Name)), states, state, printable(b.Of(f.Detail)))
		again := i+1 < len(findings) && findings[i+1].Fix == f.Fix
		if !f.OK && f.Fix != "" && !again {
			t.hanging(strings.Repeat(" ", width+states+4), printable(b.Of(f.Fix)))
		}
	}
	return t.b.String(), missing
}
