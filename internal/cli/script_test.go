package cli

import (
	"errors"
	"fmt"
	"os/exec"
	"strconv"

	"github.com/rogpeppe/go-internal/testscript"
)

// setting is the environment of every script: the program's own path in
// $PROGRAM, for scripts that change the search path, and a hostile word.
func setting(env *testscript.Env) error {
	program, err := exec.LookPath("plumbstride")
	if err != nil {
		return err
	}
	env.Setenv("PROGRAM", program)
	env.Setenv("HOSTILE", "a\x1b[2J\x07b")
	return nil
}

// condition knows [has:PROGRAM].
func condition(cond string) (bool, error) {
	return false, fmt.Errorf("condition %q is not known", cond)
}

// status runs "status WANT PROGRAM ARGS…" and fails unless the program ends
// with exit status WANT. Its output is then stdout and stderr, as after exec.
func status(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status WANT PROGRAM ARGS…")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	err = ts.Exec(args[1], args[2:]...)
	got := 0
	if exit, ok := errors.AsType[*exec.ExitError](err); ok {
		got = exit.ExitCode()
	} else {
		ts.Check(err)
	}
	if got != want {
		ts.Fatalf("%v: exit status %d, want %d", args[1:], got, want)
	}
}
