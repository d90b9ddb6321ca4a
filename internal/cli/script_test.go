package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"

	"plumbstride/internal/standin"
	"plumbstride/internal/supply"
	"plumbstride/internal/track"
)

// hostile is a file's name that would clear the screen and ring the bell.
const hostile = "a\x1b[2J\x07b"

// setting is the environment of every script: the networks of this machine,
// the program's own path in $PROGRAM (for scripts that change the search
// path), a hostile word, and runner.csv, the track of an invented runner of
// $HEIGHT.
func setting(env *testscript.Env) error {
	program, err := exec.LookPath("plumbstride")
	if err != nil {
		return err
	}
	runner := standin.DefaultRunner()
	env.Setenv("PROGRAM", program)
	env.Setenv("HOSTILE", hostile)
	env.Setenv("HEIGHT", fmt.Sprintf("%.0fcm", 100*runner.HeightM))
	if kit, err := supply.Find(os.Getenv); err == nil {
		env.Setenv(supply.ModelsVariable, filepath.Dir(kit.Models["full"]))
		env.Setenv(supply.RuntimeVariable, filepath.Dir(kit.Runtime))
	}
	points, _, err := standin.Track(runner, standin.DefaultCamera(), 8, rand.New(rand.NewPCG(1, 2)))
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := track.Write(&b, points); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(env.WorkDir, "runner.csv"), b.Bytes(), 0o644)
}

// condition knows [networks]: everything that a check of a clip needs is on
// this machine. In CI it always must be.
func condition(cond string) (bool, error) {
	if cond != "networks" {
		return false, fmt.Errorf("condition %q is not known", cond)
	}
	_, err := supply.Find(os.Getenv)
	if err != nil && os.Getenv("CI") != "" {
		return false, err
	}
	return err == nil, nil
}

func commands() map[string]func(*testscript.TestScript, bool, []string) {
	return map[string]func(*testscript.TestScript, bool, []string){
		"status": status, "object": object, "nothing-but": nothingBut, "copy-hostile": copyHostile, "cut": cut, "recording": recording, "behind": behind, "watch": watch,
	}
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
		ts.Fatalf("%v: exit status %d, want %d\n%s", args[1:], got, want, ts.ReadFile("stderr"))
	}
}

// object fails unless the file is one JSON object by the published schema,
// and nothing else.
func object(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) == 0 || len(args) > 2 {
		ts.Fatalf("usage: object FILE [compare|practice]")
	}
	path := schemaPath
	if len(args) == 2 {
		path = map[string]string{"compare": compareSchemaPath, "practice": practiceSchemaPath}[args[1]]
	}
	faults, err := faultsIn(path, []byte(ts.ReadFile(args[0])))
	ts.Check(err)
	if len(faults) > 0 {
		ts.Fatalf("%s: %s", args[0], strings.Join(faults, "\n"))
	}
}

// nothingBut fails unless the script's folder holds just these paths.
func nothingBut(ts *testscript.TestScript, neg bool, args []string) {
	if neg {
		ts.Fatalf("usage: nothing-but PATHS…")
	}
	root := ts.MkAbs(".")
	var have []string
	ts.Check(filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || path == root || filepath.Base(path) == ".tmp" {
			return err
		}
		rel, err := filepath.Rel(root, path)
		have = append(have, filepath.ToSlash(rel))
		return err
	}))
	tmp, err := os.ReadDir(ts.Getenv("TMPDIR"))
	ts.Check(err)
	for _, e := range tmp {
		have = append(have, "TMPDIR/"+e.Name())
	}
	want := slices.Sorted(slices.Values(args))
	slices.Sort(have)
	if !slices.Equal(have, want) {
		ts.Fatalf("there is %q, not just %q", have, want)
	}
}

// copyHostile copies a file to the hostile name with the suffix.
func copyHostile(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: copy-hostile FILE SUFFIX")
	}
	ts.Check(os.WriteFile(ts.MkAbs(hostile+args[1]), []byte(ts.ReadFile(args[0])), 0o644))
}

// cut writes the first bytes of a file to another.
func cut(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: cut FILE BYTES TO")
	}
	n, err := strconv.Atoi(args[1])
	ts.Check(err)
	content := ts.ReadFile(args[0])
	ts.Check(os.WriteFile(ts.MkAbs(args[2]), []byte(content[:min(n, len(content))]), 0o644))
}

// recording writes what a sensor at an invented body's back feels for 20 s at
// 100 Hz: half-sine steps of 0.36 s for running, small waves of 0.55 s for
// walking.
func recording(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: recording FILE running|walking")
	}
	var b strings.Builder
	b.WriteString("time_s,vertical,forward\n")
	for i := range 2000 {
		t := float64(i) / 100
		w := 2 * math.Pi * math.Mod(t, 0.55) / 0.55
		up, forward := 1+0.25*math.Sin(w)+0.08*math.Sin(2*w), 0.1*math.Cos(w)
		if args[1] == "running" {
			const step, contact = 0.36, 0.25
			up, forward = 0, -0.4*math.Sin(math.Pi*(math.Mod(t, step)-contact)/(step-contact))
			if x := math.Mod(t, step) / contact; x < 1 {
				up, forward = math.Pi/2*step/contact*math.Sin(math.Pi*x), -0.6*math.Sin(2*math.Pi*x)
			}
		}
		fmt.Fprintf(&b, "%.3f,%.4f,%.4f\n", t, up, forward)
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(b.String()), 0o644))
}
