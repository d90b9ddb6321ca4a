package archtest

import (
	"go/ast"
	"go/token"
	"regexp"
	"strings"
	"testing"
)

// opening is how the comment of a package begins: what it takes from whom,
// and what it gives to whom. The shared words take nothing.
var opening = regexp.MustCompile(`(?s)^Package \w+ (is [^:]+: it )?(takes\s.+\sgives?\s|holds\s)`)

// TestPackageComments: every package says what it takes and gives.
func TestPackageComments(t *testing.T) {
	for _, p := range load(t) {
		var doc string
		for _, f := range p.files {
			if f.Doc != nil && len(f.Doc.Text()) > len(doc) {
				doc = f.Doc.Text()
			}
		}
		switch {
		case doc == "":
			t.Errorf("package %s has no comment", p.short())
		case p.internal() && !opening.MatchString(doc):
			t.Errorf("the comment of package %s does not say what it takes and what it gives: %.70q", p.short(), doc)
		}
	}
}

// TestFunctionLength: no function is longer than can be read at a glance.
func TestFunctionLength(t *testing.T) {
	for _, p := range load(t) {
		for _, f := range p.files {
			for _, d := range f.Decls {
				fn, ok := d.(*ast.FuncDecl)
				if !ok || fn.Body == nil || isTable(fn) {
					continue
				}
				lines := p.fset.Position(fn.End()).Line - p.fset.Position(fn.Pos()).Line + 1
				if lines > maxFunctionLines {
					t.Errorf("%s: %s has %d lines, more than %d", p.place(fn), fn.Name.Name, lines, maxFunctionLines)
				}
			}
		}
	}
}

// isTable tells whether a function only writes a table down: no branch, no
// loop, and a literal at its end.
func isTable(fn *ast.FuncDecl) bool {
	n := len(fn.Body.List)
	if n == 0 || hasLogic(fn.Body) {
		return false
	}
	ret, ok := fn.Body.List[n-1].(*ast.ReturnStmt)
	if !ok || len(ret.Results) == 0 {
		return false
	}
	_, ok = ret.Results[0].(*ast.CompositeLit)
	return ok
}

func hasLogic(n ast.Node) bool {
	found := false
	ast.Inspect(n, func(n ast.Node) bool {
		switch n.(type) {
		case *ast.ForStmt, *ast.RangeStmt, *ast.IfStmt, *ast.GoStmt, *ast.SelectStmt:
			found = true
		}
		return !found
	})
	return found
}

// TestExportedNamesAreExplained: every exported name outside tests has a
// comment that begins with it, or stands in a group that has one.
func TestExportedNamesAreExplained(t *testing.T) {
	for _, p := range load(t) {
		if p.Name == "main" {
			continue
		}
		for _, f := range p.files {
			for _, d := range f.Decls {
				switch d := d.(type) {
				case *ast.FuncDecl:
					if d.Name.IsExported() && reachable(d) && !explains(d.Doc, d.Name.Name) {
						t.Errorf("%s: %s has no comment that begins with its name", p.place(d), d.Name.Name)
					}
				case *ast.GenDecl:
					unexplained(t, p, d)
				}
			}
		}
	}
}

// reachable tells whether a function is one, or belongs to a type, that
// other packages can name.
func reachable(fn *ast.FuncDecl) bool {
	if fn.Recv == nil {
		return true
	}
	id := rootOf(fn.Recv.List[0].Type)
	return id != nil && id.IsExported()
}

func unexplained(t *testing.T, p *pkg, d *ast.GenDecl) {
	t.Helper()
	if d.Tok == token.IMPORT {
		return
	}
	for _, s := range d.Specs {
		switch s := s.(type) {
		case *ast.TypeSpec:
			if s.Name.IsExported() && !explains(s.Doc, s.Name.Name) && !explains(d.Doc, s.Name.Name) {
				t.Errorf("%s: type %s has no comment that begins with its name", p.place(s), s.Name.Name)
			}
		case *ast.ValueSpec:
			for _, n := range s.Names {
				if n.IsExported() && s.Doc == nil && s.Comment == nil && d.Doc == nil {
					t.Errorf("%s: %s has no comment", p.place(n), n.Name)
				}
			}
		}
	}
}

// explains tells whether a comment begins with the name, with or without an
// article.
func explains(doc *ast.CommentGroup, name string) bool {
	if doc == nil {
		return false
	}
	text := strings.TrimSpace(doc.Text())
	for _, article := range []string{"", "A ", "An ", "The "} {
		if rest, ok := strings.CutPrefix(text, article+name); ok && (rest == "" || !isLetter(rest[0])) {
			return true
		}
	}
	return false
}

func isLetter(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' || c >= '0' && c <= '9' || c == '_' }
