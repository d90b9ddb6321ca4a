package archtest

import (
	"go/ast"
	"go/token"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// TestEveryPackageHasARule: no room of the house without a line in the
// table, and no line without a room.
func TestEveryPackageHasARule(t *testing.T) {
	have := map[string]bool{}
	for _, p := range load(t) {
		if !p.internal() {
			continue
		}
		have[p.short()] = true
		if _, ok := house[p.short()]; !ok {
			t.Errorf("package %s has no rule; add it to the table in rules.go and to .golangci.yml", p.short())
		}
	}
	for name := range house {
		if !have[name] {
			t.Errorf("there is a rule for package %s, which isn't there", name)
		}
	}
}

// TestArchitectureNamesEveryPackage: no package that ARCHITECTURE.md leaves
// out.
func TestArchitectureNamesEveryPackage(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(root(t), "ARCHITECTURE.md"))
	if err != nil {
		t.Fatal(err)
	}
	for name := range house {
		first, _, _ := strings.Cut(name, "/")
		if !strings.Contains(string(text), "`"+name+"`") && !strings.Contains(string(text), "`"+first+"`") {
			t.Errorf("ARCHITECTURE.md does not name package %s", name)
		}
	}
}

// TestTable holds the table itself to the direction of the house, so that a
// line in it can't quietly turn an arrow round.
func TestTable(t *testing.T) {
	order := []string{"clip", "scene", "pose", "track", "gait", "stand", "measure", "accelerometry", "judge", "card", "recheck", "beside", "clinic", "explain", "plan", "practice", "handout", "roster", "check"}
	for name, r := range house {
		for _, to := range r.may {
			if to == "*" {
				if r.layer != front {
					t.Errorf("%s may import everything, but only the front may", name)
				}
				continue
			}
			other, ok := house[to]
			switch {
			case !ok:
				t.Errorf("%s may import %s, which has no rule", name, to)
			case r.pure && !other.pure:
				t.Errorf("%s is pure and may not import %s, which isn't", name, to)
			case r.layer < other.layer && other.layer >= leaf:
				t.Errorf("%s may not import the leaf %s", name, to)
			case r.layer == leaf && other.layer == leaf && !other.pure && !sameFolder(name, to):
				t.Errorf("%s is a leaf and may not import the leaf %s, which isn't pure", name, to)
			case r.layer == words && other.layer != words:
				t.Errorf("%s holds words and may not import the stage %s", name, to)
			case r.layer == stage && other.layer == stage && slices.Index(order, to) >= slices.Index(order, name):
				t.Errorf("%s may not import the later stage %s", name, to)
			}
		}
	}
}

// sameFolder tells whether two packages lie in the same folder of the house,
// as paper and paper/fonts do.
func sameFolder(a, b string) bool {
	a, _, _ = strings.Cut(a, "/")
	b, _, _ = strings.Cut(b, "/")
	return a == b
}

// TestDirection holds every import within the module to the table.
func TestDirection(t *testing.T) {
	for _, p := range load(t) {
		r := house[p.short()]
		for imported, at := range p.imports() {
			to, inside := strings.CutPrefix(imported, module+"/internal/")
			switch {
			case !inside:
			case strings.HasPrefix(p.ImportPath, module+"/training/") && to == "standin":
				// What draws lessons for a network is no part of the program.
			case !p.internal() && to != "cli":
				t.Errorf("%s: a command imports cli and nothing else, not %s", p.place(at), to)
			case p.internal() && !slices.Contains(r.may, to) && !slices.Contains(r.may, "*"):
				t.Errorf("%s: %s may not import %s", p.place(at), p.short(), to)
			}
		}
	}
}

// TestWireBuildsAlone: within the command line, only wire.go (and the verbs'
// own tests) may import the leaves that reach networks, decoders and caches.
func TestWireBuildsAlone(t *testing.T) {
	builders := []string{"clip", "pose", "infer", "supply", "store/sqlite", "home"}
	for _, p := range load(t) {
		if p.short() != "cli" {
			continue
		}
		for _, f := range p.files {
			name := p.fset.Position(f.Pos()).Filename
			if strings.HasSuffix(name, "/wire.go") || strings.HasSuffix(name, `\wire.go`) {
				continue
			}
			for _, i := range f.Imports {
				to := strings.TrimPrefix(strings.Trim(i.Path.Value, `"`), module+"/internal/")
				if slices.Contains(builders, to) {
					t.Errorf("%s: only wire.go builds with %s", p.place(i), to)
				}
			}
		}
	}
}

// TestPure: a pure package opens no door to the outside, reads no clock and
// draws from no global source of random numbers.
func TestPure(t *testing.T) {
	for _, p := range load(t) {
		if !house[p.short()].pure {
			continue
		}
		for imported, at := range p.imports() {
			for _, door := range impureImports {
				if imported == door || strings.HasPrefix(imported, door+"/") {
					t.Errorf("%s: %s is pure and may not import %s", p.place(at), p.short(), imported)
				}
			}
		}
		for _, f := range p.files {
			for _, call := range impureUses(f) {
				t.Errorf("%s: %s is pure and may not use %s.%s", p.place(call), p.short(), call.X, call.Sel.Name)
			}
		}
	}
}

// impureUses finds the clock and the global randomness in a file.
func impureUses(f *ast.File) []*ast.SelectorExpr {
	forbidden := map[string][]string{} // by the name the file gives the package
	for _, i := range f.Imports {
		full := strings.Trim(i.Path.Value, `"`)
		names, ok := impureCalls[full]
		if !ok {
			continue
		}
		local := localName(full)
		if i.Name != nil {
			local = i.Name.Name
		}
		forbidden[local] = names
	}
	var uses []*ast.SelectorExpr
	ast.Inspect(f, func(n ast.Node) bool {
		s, ok := n.(*ast.SelectorExpr)
		if !ok {
			return true
		}
		if x, ok := s.X.(*ast.Ident); ok && slices.Contains(forbidden[x.Name], s.Sel.Name) {
			uses = append(uses, s)
		}
		return true
	})
	return uses
}

// localName is the name by which a package of the standard library is used.
func localName(full string) string {
	parts := strings.Split(full, "/")
	last := parts[len(parts)-1]
	if last == "v2" {
		last = parts[len(parts)-2]
	}
	return last
}

// TestNoState: no function of a pure package assigns to a variable of the
// package, so that none of them remembers anything.
func TestNoState(t *testing.T) {
	for _, p := range load(t) {
		if !house[p.short()].pure {
			continue
		}
		vars := packageVars(p)
		for _, f := range p.files {
			for _, d := range f.Decls {
				fn, ok := d.(*ast.FuncDecl)
				if !ok || fn.Body == nil {
					continue
				}
				for _, a := range assigned(fn, vars) {
					t.Errorf("%s: %s changes the package's variable %s", p.place(a), fn.Name.Name, a.Name)
				}
			}
		}
	}
}

func packageVars(p *pkg) map[string]bool {
	vars := map[string]bool{}
	for _, f := range p.files {
		for _, d := range f.Decls {
			g, ok := d.(*ast.GenDecl)
			if !ok || g.Tok != token.VAR {
				continue
			}
			for _, s := range g.Specs {
				for _, n := range s.(*ast.ValueSpec).Names {
					vars[n.Name] = true
				}
			}
		}
	}
	return vars
}

// assigned finds the identifiers at the root of an assignment, ++ or & that
// are package variables and are nowhere declared in the function.
func assigned(fn *ast.FuncDecl, vars map[string]bool) []*ast.Ident {
	local := map[string]bool{}
	ast.Inspect(fn, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.AssignStmt:
			if n.Tok == token.DEFINE {
				for _, l := range n.Lhs {
					if id, ok := l.(*ast.Ident); ok {
						local[id.Name] = true
					}
				}
			}
		case *ast.Field:
			for _, id := range n.Names {
				local[id.Name] = true
			}
		case *ast.ValueSpec:
			for _, id := range n.Names {
				local[id.Name] = true
			}
		case *ast.RangeStmt:
			for _, e := range []ast.Expr{n.Key, n.Value} {
				if id, ok := e.(*ast.Ident); ok && n.Tok == token.DEFINE {
					local[id.Name] = true
				}
			}
		}
		return true
	})
	var found []*ast.Ident
	note := func(e ast.Expr) {
		if id := rootOf(e); id != nil && vars[id.Name] && !local[id.Name] {
			found = append(found, id)
		}
	}
	ast.Inspect(fn.Body, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.AssignStmt:
			if n.Tok != token.DEFINE {
				for _, l := range n.Lhs {
					note(l)
				}
			}
		case *ast.IncDecStmt:
			note(n.X)
		}
		return true
	})
	return found
}

// rootOf is x of x, x[i], x.f, *x.
func rootOf(e ast.Expr) *ast.Ident {
	for {
		switch v := e.(type) {
		case *ast.Ident:
			return v
		case *ast.IndexExpr:
			e = v.X
		case *ast.SelectorExpr:
			e = v.X
		case *ast.StarExpr:
			e = v.X
		case *ast.ParenExpr:
			e = v.X
		default:
			return nil
		}
	}
}
