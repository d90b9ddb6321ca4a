package archtest

import (
	"flag"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write .golangci.yml anew")

// TestLinterConfig: .golangci.yml is made from the table of rules, so that
// the linter and these tests hold the same house.
func TestLinterConfig(t *testing.T) {
	path := filepath.Join(root(t), ".golangci.yml")
	want := linterConfig()
	if *update {
		if err := os.WriteFile(path, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, string(got)); diff != "" {
		t.Errorf(".golangci.yml and the table of rules differ (-table +file; -update writes it anew):\n%s", diff)
	}
}

const linterHead = `# Made from internal/archtest/rules.go: go test ./internal/archtest -update
version: "2"
linters:
  default: none
  enable:
    - depguard
    - errcheck
    - errorlint
    - govet
    - ineffassign
    - misspell
    - staticcheck
    - unconvert
    - unused
  exclusions:
    presets:
      - std-error-handling
    rules:
      - path: _test\.go
        linters:
          - errcheck
  settings:
    errcheck:
      exclude-functions:
        - os.Remove
        - os.RemoveAll
    staticcheck:
      checks:
        - all
        - "-QF*"
        - "-ST*"
    depguard:
      rules:
`

func linterConfig() string {
	var b strings.Builder
	b.WriteString(linterHead)
	for _, name := range slices.Sorted(maps.Keys(house)) {
		r := house[name]
		if slices.Contains(r.may, "*") {
			continue
		}
		fmt.Fprintf(&b, "        %s:\n          list-mode: lax\n          files:\n", name)
		fmt.Fprintf(&b, "            - \"**/internal/%s/*.go\"\n            - \"!$test\"\n", name)
		if len(r.may) > 0 {
			b.WriteString("          allow:\n")
			for _, to := range r.may {
				fmt.Fprintf(&b, "            - %s/internal/%s$\n", module, to)
			}
		}
		b.WriteString("          deny:\n")
		fmt.Fprintf(&b, "            - pkg: %s/internal\n              desc: not among the packages that %s may import\n", module, name)
		if !r.pure {
			continue
		}
		for _, door := range impureImports {
			fmt.Fprintf(&b, "            - pkg: %s\n              desc: %s is pure\n", door, name)
		}
	}
	return b.String()
}
