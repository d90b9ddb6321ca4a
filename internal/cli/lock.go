package cli

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"unicode/utf8"

	"golang.org/x/term"

	"plumbstride/internal/account"
	"plumbstride/internal/backup"
	"plumbstride/internal/form"
)

// passphraseVariable holds the passphrase of a backup in the environment.
const passphraseVariable = "PLUMBSTRIDE_PASSPHRASE"

// passphraseHelp tells in every help where a passphrase comes from.
const passphraseHelp = "The passphrase is read from the file that --passphrase-file names, else from PLUMBSTRIDE_PASSPHRASE, else it is asked for. It never stands among a command's words, which others on this machine could read."

// lockFlags say where the passphrase of a backup comes from.
type lockFlags struct {
	PassphraseFile string `placeholder:"FILE" help:"A file whose first line is the passphrase."`
}

// stated is the passphrase as far as it need not be asked for.
func (l lockFlags) stated() (string, error) {
	if l.PassphraseFile == "" {
		return os.Getenv(passphraseVariable), nil
	}
	f, err := os.Open(l.PassphraseFile)
	if err != nil {
		return "", form.UsageError("the passphrase can't be read: %w", err)
	}
	defer f.Close()
	line, err := firstLine(f)
	if err == nil && line == "" {
		err = form.UsageError("the first line of %s is empty; it should be the passphrase", l.PassphraseFile)
	}
	return line, err
}

// firstLine is the first line of what is read, without its end.
func firstLine(from io.Reader) (string, error) {
	line, err := bufio.NewReader(io.LimitReader(from, 4096)).ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return "", fmt.Errorf("the passphrase can't be read: %w", err)
	}
	return strings.TrimRight(line, "\r\n"), nil
}

// toClose gives the lock for a new backup, nil for none. Where it must be
// asked for on a terminal, it is asked for twice.
func (l lockFlags) toClose(e *errand, wanted bool) (*backup.Lock, error) {
	passphrase, err := l.stated()
	if err != nil || passphrase == "" && !wanted {
		return nil, err
	}
	if passphrase == "" {
		if passphrase, err = e.ask(e.book.Say("A passphrase for the backup: ")); err != nil {
			return nil, err
		}
		if e.terminal() {
			again, err := e.ask(e.book.Say("The same again: "))
			if err != nil {
				return nil, err
			}
			if again != passphrase {
				return nil, form.UsageError("the two passphrases are not the same; nothing was written")
			}
		}
	}
	if utf8.RuneCountInString(passphrase) < account.MinPassword {
		return nil, form.UsageError("a passphrase has at least %d characters; a few words that only you put together are a good one", account.MinPassword)
	}
	return &backup.Lock{Passphrase: passphrase}, nil
}

// toOpen gives the lock of a backup that has one.
func (l lockFlags) toOpen(e *errand) (*backup.Lock, error) {
	passphrase, err := l.stated()
	if err == nil && passphrase == "" {
		passphrase, err = e.ask(e.book.Say("The passphrase of the backup: "))
	}
	return &backup.Lock{Passphrase: passphrase}, err
}

// terminal tells whether somebody types the answers.
func (e *errand) terminal() bool {
	f, ok := e.In.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// ask asks for a secret, which is not shown while it is typed.
func (e *errand) ask(question string) (string, error) {
	if e.In == nil {
		return "", form.UsageError("nobody is there to ask for the passphrase; name a file with --passphrase-file, or set PLUMBSTRIDE_PASSPHRASE")
	}
	fmt.Fprint(e.Err, question)
	if !e.terminal() {
		line, err := firstLine(e.In)
		if err == nil && line == "" {
			err = form.UsageError("no passphrase was given; nothing was done")
		}
		return line, err
	}
	text, err := term.ReadPassword(int(e.In.(*os.File).Fd()))
	fmt.Fprintln(e.Err)
	switch {
	case err != nil:
		return "", fmt.Errorf("the passphrase can't be read: %w", err)
	case len(text) == 0:
		return "", form.UsageError("no passphrase was given; nothing was done")
	}
	return string(text), nil
}
