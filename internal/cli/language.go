package cli

import (
	"bytes"
	"cmp"
	"io"
	"os"
	"strings"

	"github.com/alecthomas/kong"

	"plumbstride/internal/words"
)

// answeredIn is the language that a command is answered in before its flags have
// been understood, its help and what is wrong with them included: that of
// --language, of the settings, or of the environment.
func answeredIn(args []string) words.Book {
	stated := words.Language(flagAmong(args, "--language"))
	if stated == "" {
		if s, err := readSettings(flagAmong(args, "--settings")); err == nil {
			stated = s.Language
		}
	}
	if b, err := words.In(stated); err == nil && stated != "" {
		return b
	}
	b, err := words.In(environment())
	if err != nil {
		panic("cli: " + err.Error()) // one of the catalogue's own
	}
	return b
}

// environment is the language that the user's environment names (POSIX
// 1003.1, 8.2: the first that is set of these).
func environment() words.Language {
	return words.OfLocale(cmp.Or(os.Getenv("LC_ALL"), os.Getenv("LC_MESSAGES"), os.Getenv("LANG")))
}

// flagAmong is the value of a flag, "" where it isn't among the arguments.
func flagAmong(args []string, name string) string {
	for i, a := range args {
		if a == "--" {
			break
		}
		if value, ok := strings.CutPrefix(a, name+"="); ok {
			return value
		}
		if a == name && i+1 < len(args) {
			return args[i+1]
		}
	}
	return ""
}

// inWords gives the help of a command, and of all below it, in a book's
// language.
func inWords(n *kong.Node, b words.Book) {
	n.Help, n.Detail = paragraphs(n.Help, b), paragraphs(n.Detail, b)
	if n.Group != nil {
		n.Group.Title = b.Say(n.Group.Title)
	}
	for _, f := range n.Flags {
		f.Help, f.PlaceHolder = b.Say(f.Help), b.Say(f.PlaceHolder)
		if f.Group != nil {
			f.Group.Title = b.Say(f.Group.Title)
		}
	}
	for _, p := range n.Positional {
		p.Help = b.Say(p.Help)
	}
	for _, below := range n.Children {
		inWords(below, b)
	}
}

// paragraphs gives a text of several paragraphs, each by its own message.
func paragraphs(text string, b words.Book) string {
	all := strings.Split(text, "\n\n")
	for i, one := range all {
		all[i] = b.Say(one)
	}
	return strings.Join(all, "\n\n")
}

// helpWords are what the parser writes itself about a command, but for its
// first word.
var helpWords = []string{"Arguments:", "Flags:", "Commands:", `Run "plumbstride <command> --help" for more information on a command.`}

// printHelp prints the help with the parser's own words in a book's language.
func printHelp(b words.Book) kong.HelpPrinter {
	return func(options kong.HelpOptions, ctx *kong.Context) error {
		var text bytes.Buffer
		out := ctx.Stdout
		ctx.Stdout = &text
		err := kong.DefaultHelpPrinter(options, ctx)
		ctx.Stdout = out
		if err != nil {
			return err
		}
		var told strings.Builder
		for line := range strings.Lines(text.String()) {
			bare := strings.TrimSuffix(line, "\n")
			for _, w := range helpWords {
				if bare == w {
					bare = b.Say(w)
				}
			}
			if usage, ok := strings.CutPrefix(bare, "Usage: "); ok {
				bare = b.Say("Usage: %s", strings.NewReplacer("[flags]", "["+b.Say("flags")+"]", "<command>", "<"+b.Say("command")+">").Replace(usage))
			}
			told.WriteString(bare + "\n")
		}
		_, err = io.WriteString(out, told.String())
		return err
	}
}

// parseTells are the sentences with which the parser says what is wrong with
// a command, as Of finds them.
var parseTells = []string{
	"unknown flag %s", "unknown flag %s, did you mean %s?", "unknown flag %s, did you mean one of %s?",
	"unexpected argument %s", "unexpected argument %s, did you mean %s?", "unexpected argument %s, did you mean one of %s?",
	"missing flags: %s", "missing positional arguments %s", "expected %s", "expected one of %s", "expected %s value but got %s",
	"%s must be one of %s but got %s", "%s and %s can't be used together", "%s: expected an int but got %s", "%s: expected a float but got %s",
	"%s: missing value, expecting %s",
}
