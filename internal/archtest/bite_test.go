package archtest

import (
	"go/ast"
	"go/parser"
	"go/token"
	"testing"
)

// The rules themselves are tried on sources that break them, so that none
// passes for want of teeth.

func parse(t *testing.T, src string) *pkg {
	t.Helper()
	p := &pkg{fset: token.NewFileSet()}
	f, err := parser.ParseFile(p.fset, "x.go", src, parser.ParseComments)
	if err != nil {
		t.Fatal(err)
	}
	p.files = []*ast.File{f}
	return p
}

func TestImpureUsesBite(t *testing.T) {
	for _, tt := range []struct {
		name, src string
		want      int
	}{
		{"the clock", `package x; import "time"; var t = time.Now()`, 1},
		{"the clock under another name", `package x; import clock "time"; var t = clock.Since`, 1},
		{"global randomness", `package x; import "math/rand"; func f() int { return rand.Intn(3) }`, 1},
		{"global randomness, v2", `package x; import "math/rand/v2"; func f() int { return rand.IntN(3) }`, 1},
		{"a seeded generator", `package x; import "math/rand/v2"; func f() int { return rand.New(rand.NewPCG(1, 2)).IntN(3) }`, 0},
		{"standard output", `package x; import "fmt"; func f() { fmt.Println() }`, 1},
		{"a span of time", `package x; import "time"; const d = 3 * time.Second`, 0},
	} {
		if got := len(impureUses(parse(t, tt.src).files[0])); got != tt.want {
			t.Errorf("%s: %d uses found, want %d", tt.name, got, tt.want)
		}
	}
}

func TestNoStateBites(t *testing.T) {
	for _, tt := range []struct {
		name, src string
		want      int
	}{
		{"assignment", `package x; var n int; func f() { n = 1 }`, 1},
		{"counter", `package x; var n int; func f() { n++ }`, 1},
		{"element", `package x; var m = map[int]int{}; func f() { m[1] = 2 }`, 1},
		{"field", `package x; var s struct{ a int }; func f() { s.a = 2 }`, 1},
		{"local of the same name", `package x; var n int; func f() { n := 0; n++ }`, 0},
		{"parameter of the same name", `package x; var n int; func f(n int) { n++ }`, 0},
		{"reading", `package x; var n int; func f() int { return n }`, 0},
	} {
		p := parse(t, tt.src)
		got := 0
		for _, d := range p.files[0].Decls {
			if fn, ok := d.(*ast.FuncDecl); ok {
				got += len(assigned(fn, packageVars(p)))
			}
		}
		if got != tt.want {
			t.Errorf("%s: %d changes found, want %d", tt.name, got, tt.want)
		}
	}
}

func TestShapeBites(t *testing.T) {
	for _, tt := range []struct {
		name, comment string
		want          bool
	}{
		{"takes and gives", "Package x takes clips from the disk and\ngives frames to package y.", true},
		{"holds", "Package x holds the words.", true},
		{"says nothing", "Package x provides helpers.", false},
	} {
		if got := opening.MatchString(tt.comment); got != tt.want {
			t.Errorf("%s: %v, want %v", tt.name, got, tt.want)
		}
	}
	f := parse(t, "package x\n\n// Wrong words.\nfunc Name() {}\n\n// Good begins with its name.\nfunc Good() {}\n\n// Goodness is another.\nfunc Goods() {}\n").files[0]
	for i, want := range []bool{false, true, false} {
		fn := f.Decls[i].(*ast.FuncDecl)
		if got := explains(fn.Doc, fn.Name.Name); got != want {
			t.Errorf("%s: explained %v, want %v", fn.Name.Name, got, want)
		}
	}
}
