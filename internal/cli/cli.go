package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"github.com/alecthomas/kong"
	"golang.org/x/term"

	"plumbstride/internal/form"
	"plumbstride/internal/words"
)

// The exit statuses. They stand in the help.
const (
	exitDone    = 0 // all went well
	exitOther   = 1 // anything that is none of the below
	exitUsage   = 2 // the command's words are wrong
	exitClip    = 3 // the clip can't be used; the sentence says why
	exitMissing = 4 // something is missing on this machine
)

const description = `Takes a side-view clip of a runner and gives a form card: what can be measured, how surely, and the one thing to work on first.`

const exitCodes = `Exit codes:

    0  all went well
    1  anything else went wrong
    2  the command's words are wrong
    3  the clip can't be used (the sentence says why)
    4  something is missing on this machine (see plumbstride doctor)`

// Stdio is where a command writes: results to Out, everything else to Err.
// From In it reads the answers to its questions; nil answers nothing.
type Stdio struct {
	In       io.Reader
	Out, Err io.Writer
}

// verbs is the command line: one field a verb.
type verbs struct {
	Check    checkVerb    `cmd:"" help:"Check a clip, or a track of body points, and print what was measured."`
	Compare  compareVerb  `cmd:"" help:"Tell what changed between two checks of a runner, and what is noise."`
	Explain  explainVerb  `cmd:"" help:"Tell what a measure is, how sure it is, and what it can't tell."`
	Demo     demoVerb     `cmd:"" help:"Draw an invented runner, check the clip, and leave the form card."`
	Plan     planVerb     `cmd:"" help:"Make a plan of four to eight weeks from a check."`
	Drills   drillsVerb   `cmd:"" help:"List the drills, or show one."`
	Handout  handoutVerb  `cmd:"" help:"Make the sheet that runners take home from a clinic."`
	Tempo    tempoVerb    `cmd:"" help:"Make a track of steps to run to."`
	Practice practiceVerb `cmd:"" help:"Tell from a runner's watch how the practice goes: cadence at speed, minutes in the band, the trend."`
	Clinic   clinicVerb   `cmd:"" help:"Tell over all classes, without a name, what changed among those who came back."`
	FollowUp followUpVerb `cmd:"" name:"follow-up" help:"List who is due to film again and who has gone quiet."`
	Serve    serveVerb    `cmd:"" help:"Serve the clinic evening to the phones and laptops in the room."`
	Roster   rosterVerb   `cmd:"" help:"Bring runners in from a table, and take them out."`
	Purge    purgeVerb    `cmd:"" help:"Remove the clips and pictures whose time is over."`
	Forget   forgetVerb   `cmd:"" help:"Delete a runner and everything about them, for good."`
	Backup   backupVerb   `cmd:"" help:"Put everything that is kept into one file."`
	Restore  restoreVerb  `cmd:"" help:"Bring back what a backup holds."`
	Export   exportVerb   `cmd:"" help:"Give everything out in open formats."`
	Trail    trailVerb    `cmd:"" help:"Tell who saw or changed what."`
	Setup    setupVerb    `cmd:"" help:"Fetch what a check needs, once."`
	Doctor   doctorVerb   `cmd:"" help:"Tell what is missing on this machine and how to get it."`
	Version  versionVerb  `cmd:"" help:"Print the program's version."`
}

// errand is what a verb is given besides its own flags.
type errand struct {
	ctx context.Context
	Stdio
	now func() time.Time
	// book is the language of what is said.
	book words.Book
}

// Main runs the command in args (without the program's name) and gives its
// exit status. An interrupt ends the work in order: children are stopped,
// and nothing half-written is left.
func Main(ctx context.Context, args []string, stdio Stdio) (status int) {
	ctx, stop := signal.NotifyContext(ctx, os.Interrupt, syscall.SIGTERM)
	defer stop()
	defer func() {
		if s, ok := recover().(leaving); ok {
			status = int(s)
		}
	}()
	e := &errand{ctx: ctx, Stdio: stdio, now: time.Now, book: answeredIn(args)}
	parser := newParser(&verbs{}, stdio, e.book)
	parsed, err := parser.Parse(joinSigned(args))
	if err != nil {
		fmt.Fprintf(stdio.Err, "plumbstride: %s\n", printableLines(dashed(parseWords(err), args, e.book)))
		fmt.Fprintln(stdio.Err, e.book.Say("See plumbstride %s--help.", verbOf(err)))
		return exitUsage
	}
	err = parsed.Run(e)
	return report(stdio.Err, err, e.book)
}

// parseWords is a parse error as the coach should read it: a flag that may be
// left out has the empty word among its own, which nobody writes, and a verb
// that refuses its flags is named once.
func parseWords(err error) string {
	text := strings.TrimPrefix(err.Error(), strings.TrimSpace(verbOf(err))+": ")
	return strings.Replace(text, `one of "",`, "one of ", 1)
}

// dashed is the words for an unknown flag, unless what was taken for one is
// the name of a file, in a book's language.
func dashed(text string, args []string, b words.Book) string {
	if !strings.HasPrefix(text, "unknown flag") {
		return b.Of(text)
	}
	for _, a := range args {
		if a == "--" {
			break
		}
		if st, err := os.Stat(a); strings.HasPrefix(a, "-") && err == nil && st.Mode().IsRegular() {
			return b.Say("%s reads as a flag, and is a file here: write ./%s", a, a)
		}
	}
	return b.Of(text)
}

// leaving carries the status out of the parser when it has printed the help.
type leaving int

// newParser is the parser of the command line, with its help in a book's
// language.
func newParser(v *verbs, stdio Stdio, b words.Book) *kong.Kong {
	return kong.Must(v,
		kong.Name("plumbstride"),
		kong.Description(description+"\n\n"+exitCodes),
		kong.Writers(stdio.Out, stdio.Err),
		kong.Exit(func(status int) { panic(leaving(status)) }),
		kong.Help(printHelp(b)),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, WrapUpperBound: 96}),
		kong.PostBuild(func(k *kong.Kong) error {
			k.Model.HelpFlag.Help = "Print this help."
			inWords(k.Model.Node, b)
			return nil
		}),
	)
}

// verbOf gives the verb that a parse error is about, with the verb it belongs
// to before it and a blank behind it.
func verbOf(err error) string {
	parse, ok := errors.AsType[*kong.ParseError](err)
	if !ok || parse.Context == nil || parse.Context.Selected() == nil {
		return ""
	}
	path := ""
	for n := parse.Context.Selected(); n != nil && n.Parent != nil; n = n.Parent {
		path = n.Name + " " + path
	}
	return path
}

// report prints an error as the coach should read it and gives the status.
func report(w io.Writer, err error, b words.Book) int {
	if err == nil {
		return exitDone
	}
	if errors.Is(err, context.Canceled) {
		fmt.Fprintln(w, "plumbstride: "+b.Say("stopped; nothing half-done was left behind"))
		return exitOther
	}
	fmt.Fprintf(w, "plumbstride: %s\n", printableLines(b.Of(err.Error())))
	switch form.CodeOf(err) {
	case form.CodeUsage:
		return exitUsage
	case form.CodeClip:
		return exitClip
	case form.CodeMissing:
		return exitMissing
	default:
		return exitOther
	}
}

// columnsOf is the width of the terminal that w is; 0 where it is none.
func columnsOf(w io.Writer) int {
	f, ok := w.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) || os.Getenv("TERM") == "dumb" {
		return 0
	}
	width, _, err := term.GetSize(int(f.Fd()))
	if err != nil || width <= 0 {
		return 80
	}
	return width
}
