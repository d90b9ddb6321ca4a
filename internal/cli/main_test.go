package cli

import (
	"context"
	"flag"
	"os"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "write the golden files anew")

// TestMain makes the test binary stand in for plumbstride in the scripts, so
// that they drive the real command line in a process of its own.
func TestMain(m *testing.M) {
	for _, name := range []string{"LC_ALL", "LC_MESSAGES", "LANG"} {
		os.Unsetenv(name) // the tests read English
	}
	testscript.Main(m, map[string]func(){
		"plumbstride": func() {
			os.Exit(Main(context.Background(), os.Args[1:], Stdio{In: os.Stdin, Out: os.Stdout, Err: os.Stderr}))
		},
	})
}

// TestScripts runs testdata/script/*.txt.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		Condition:           condition,
		Setup:               setting,
		Cmds:                commands(),
	})
}
