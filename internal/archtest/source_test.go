package archtest

import (
	"bytes"
	"encoding/json"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"os/exec"
	"path"
	"path/filepath"
	"strings"
	"testing"
)

// module is the module's path, before "/internal/…".
const module = "plumbstride"

// pkg is one package of the module as `go list` knows it, with its syntax.
type pkg struct {
	ImportPath string
	Name       string
	Doc        string
	Dir        string
	GoFiles    []string
	// IgnoredGoFiles are left out on this system by a build constraint; the
	// rules hold for them all the same.
	IgnoredGoFiles []string
	Imports        []string

	fset  *token.FileSet
	files []*ast.File
}

// short is the name in the table of rules: "cli", "pose".
func (p *pkg) short() string { return strings.TrimPrefix(p.ImportPath, module+"/internal/") }

// internal tells whether the package is one of the house's own rooms, and
// not a command.
func (p *pkg) internal() bool { return strings.HasPrefix(p.ImportPath, module+"/internal/") }

// load lists and parses every package of the module, tests left out.
func load(t *testing.T) []*pkg {
	t.Helper()
	look(t)
	cmd := exec.Command("go", "list", "-json=ImportPath,Name,Doc,Dir,GoFiles,IgnoredGoFiles,Imports", "./...")
	cmd.Dir = root(t)
	out, err := cmd.Output()
	if err != nil {
		if exit, ok := errors.AsType[*exec.ExitError](err); ok {
			t.Fatalf("go list: %s", exit.Stderr)
		}
		t.Fatal(err)
	}
	var pkgs []*pkg
	for dec := json.NewDecoder(bytes.NewReader(out)); ; {
		p := &pkg{fset: token.NewFileSet()}
		if err := dec.Decode(p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		p.parse(t)
		pkgs = append(pkgs, p)
	}
	if len(pkgs) < 3 {
		t.Fatalf("go list gave %d packages; the rules were not tried", len(pkgs))
	}
	return pkgs
}

// look reads the module's folders, so that `go test` knows that its cached
// result is old when a file was added: it does not see what `go list` reads.
func look(t *testing.T) {
	t.Helper()
	for _, dir := range []string{"cmd", "internal"} {
		err := filepath.WalkDir(filepath.Join(root(t), dir), func(_ string, _ fs.DirEntry, err error) error { return err })
		if err != nil {
			t.Fatal(err)
		}
	}
}

func (p *pkg) parse(t *testing.T) {
	t.Helper()
	for _, name := range append(p.GoFiles, p.IgnoredGoFiles...) {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(p.fset, filepath.Join(p.Dir, name), nil, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		p.files = append(p.files, f)
	}
}

// place is file:line of a node, below the repository.
func (p *pkg) place(n ast.Node) string {
	at := p.fset.Position(n.Pos())
	return path.Join(p.short(), filepath.Base(at.Filename)) + ":" + itoa(at.Line)
}

// imports lists what the files import, whatever system they are built for.
func (p *pkg) imports() map[string]ast.Node {
	all := map[string]ast.Node{}
	for _, f := range p.files {
		for _, i := range f.Imports {
			all[strings.Trim(i.Path.Value, `"`)] = i
		}
	}
	return all
}

// root is the repository's root: the folder of the go.mod file.
func root(t *testing.T) string {
	t.Helper()
	out, err := exec.Command("go", "env", "GOMOD").Output()
	if err != nil {
		t.Fatal(err)
	}
	return filepath.Dir(strings.TrimSpace(string(out)))
}

func itoa(n int) string {
	b, _ := json.Marshal(n)
	return string(b)
}
