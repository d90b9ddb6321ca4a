package archtest

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// checkRow is a line of docs/checks.md that names a test.
var checkRow = regexp.MustCompile("(?m)^\\| (.+?) \\| (.+?) \\| `([a-z/]+)\\.(Test[A-Za-z0-9]+)` \\|$")

// firstName is a source's first name with its year, or the first alone.
var firstName = regexp.MustCompile(`^((?:de |van |Van )?[A-Z][\p{L}]+)|^([a-z]+\.[a-z-]+)`)

// TestChecksExist: every test that docs/checks.md names exists, and its file
// names the source that the page gives.
func TestChecksExist(t *testing.T) {
	page, err := os.ReadFile(filepath.Join("..", "..", "docs", "checks.md"))
	if err != nil {
		t.Fatal(err)
	}
	rows := checkRow.FindAllStringSubmatch(string(page), -1)
	if lines := strings.Count(string(page), "`\u0020|\n"); len(rows) < 30 || lines != len(rows) {
		t.Fatalf("%d rows are read of %d", len(rows), lines)
	}
	seen := map[string]bool{}
	for _, row := range rows {
		source, pkg, test := row[2], row[3], row[4]
		if seen[pkg+test] {
			t.Errorf("%s.%s is named twice", pkg, test)
		}
		seen[pkg+test] = true
		text := fileOfTest(t, pkg, test)
		if text == "" {
			t.Errorf("docs/checks.md names %s.%s, and there is none", pkg, test)
			continue
		}
		name := firstName.FindString(source)
		if name != "" && !strings.Contains(strings.ToLower(text), strings.ToLower(name)) {
			t.Errorf("%s.%s: its file does not name %q, which docs/checks.md gives", pkg, test, name)
		}
	}
}

// fileOfTest is the text of the file in which a package has a test; "" where
// it has none.
func fileOfTest(t *testing.T, pkg, test string) string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join("..", filepath.FromSlash(pkg), "*_test.go"))
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range files {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		f, err := parser.ParseFile(token.NewFileSet(), path, text, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range f.Decls {
			if fn, ok := d.(*ast.FuncDecl); ok && fn.Recv == nil && fn.Name.Name == test {
				return string(text)
			}
		}
	}
	return ""
}
