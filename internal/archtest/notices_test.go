package archtest

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"
)

// dependency is a module from outside with its licence.
type dependency struct {
	Path, Version, Dir string

	licence, text string
}

const noticesMark = "<!-- modules: from here on made by go test ./internal/archtest -update -->\n"

// TestThirdParty: THIRD_PARTY.md names every module in the binary on any of
// the systems it is built for, with its whole licence, and every module that
// the tests use besides.
func TestThirdParty(t *testing.T) {
	path := filepath.Join(root(t), "THIRD_PARTY.md")
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	head, have, ok := strings.Cut(string(content), noticesMark)
	if !ok {
		t.Fatalf("%s has lost its mark %q", path, noticesMark)
	}
	want := notices(t)
	if *update {
		if err := os.WriteFile(path, []byte(head+noticesMark+want), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if want != have {
		t.Errorf("THIRD_PARTY.md is out of date (go test ./internal/archtest -update writes it anew); names (-modules +file):\n%s",
			gocmp.Diff(names(want), names(have)))
	}
}

// names are the lines of a list of modules that name one.
func names(text string) []string {
	var out []string
	for line := range strings.Lines(text) {
		if strings.HasPrefix(line, "### ") || strings.HasPrefix(line, "| `") {
			out = append(out, strings.TrimSpace(line))
		}
	}
	return out
}

func notices(t *testing.T) string {
	t.Helper()
	shipped := map[string]dependency{}
	for _, target := range []string{"linux/amd64", "windows/amd64", "darwin/arm64"} {
		system, processor, _ := strings.Cut(target, "/")
		for _, d := range dependencies(t, []string{"GOOS=" + system, "GOARCH=" + processor}, "./cmd/...") {
			shipped[d.Path] = d
		}
	}
	var tests []dependency
	for _, d := range dependencies(t, nil, "-test", "./...") {
		if _, ok := shipped[d.Path]; !ok {
			tests = append(tests, d)
		}
	}
	var b strings.Builder
	b.WriteString("\n## Go modules in the binary\n")
	goroot, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		t.Fatal(err)
	}
	license, err := os.ReadFile(filepath.Join(strings.TrimSpace(string(goroot)), "LICENSE"))
	if err != nil {
		t.Fatal(err)
	}
	writeNotice(&b, "The Go standard library and runtime", "BSD-3-Clause", string(license))
	for _, d := range sorted(shipped) {
		writeNotice(&b, d.Path+" "+d.Version, d.licence, d.text)
	}
	b.WriteString("\n## Go modules of the tests alone\n\n| module | licence |\n|---|---|\n")
	for _, d := range tests {
		fmt.Fprintf(&b, "| `%s` %s | %s |\n", d.Path, d.Version, d.licence)
	}
	return b.String()
}

func writeNotice(b *strings.Builder, name, licence, text string) {
	fmt.Fprintf(b, "\n### %s\n\n%s\n\n```text\n%s\n```\n", name, licence, strings.TrimSpace(strings.ReplaceAll(text, "\r\n", "\n")))
}

func sorted(m map[string]dependency) []dependency {
	var out []dependency
	for _, d := range m {
		out = append(out, d)
	}
	slices.SortFunc(out, func(a, b dependency) int { return cmp.Compare(a.Path, b.Path) })
	return out
}

// dependencies lists the modules behind packages, in order, each once.
func dependencies(t *testing.T, env []string, args ...string) []dependency {
	t.Helper()
	cmd := exec.Command("go", append([]string{"list", "-deps", "-json=Module"}, args...)...)
	cmd.Dir = root(t)
	cmd.Env = append(append(os.Environ(), "CGO_ENABLED=0"), env...)
	out, err := cmd.Output()
	if err != nil {
		if exit, ok := errors.AsType[*exec.ExitError](err); ok {
			t.Fatalf("go list: %s", exit.Stderr)
		}
		t.Fatal(err)
	}
	seen := map[string]dependency{}
	for dec := json.NewDecoder(bytes.NewReader(out)); ; {
		var p struct{ Module *dependency }
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		if p.Module == nil || p.Module.Path == module {
			continue
		}
		if _, ok := seen[p.Module.Path]; ok {
			continue
		}
		p.Module.text = licenceText(t, *p.Module)
		p.Module.licence = licenceName(p.Module.text)
		if p.Module.licence == "" {
			t.Errorf("%s: a licence that isn't known here; read it, and add it or do without the module", p.Module.Path)
		}
		seen[p.Module.Path] = *p.Module
	}
	return sorted(seen)
}

// elsewhere are the licences in a module's folder that, by the module's own
// words, are about files that are neither in this repository nor in the binary.
var elsewhere = map[string][]string{
	"github.com/muktihari/fit": {"LICENSE-FIT-SDK"}, // its generator's table and test files of a kit
}

// licenceText reads the licence files at a module's root.
func licenceText(t *testing.T, d dependency) string {
	t.Helper()
	entries, err := os.ReadDir(d.Dir)
	if err != nil {
		t.Fatalf("%s: %v", d.Path, err)
	}
	var texts []string
	for _, e := range entries {
		name := strings.ToUpper(e.Name())
		if e.IsDir() || !(strings.HasPrefix(name, "LICEN") || strings.HasPrefix(name, "COPYING") || strings.HasPrefix(name, "NOTICE")) {
			continue
		}
		if slices.Contains(elsewhere[d.Path], e.Name()) {
			continue
		}
		text, err := os.ReadFile(filepath.Join(d.Dir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		texts = append(texts, string(text))
	}
	return strings.Join(texts, "\n")
}

// licenceName recognises the licences that a permissive program can stand
// on; "" is any other.
func licenceName(text string) string {
	text = strings.Join(strings.Fields(text), " ")
	switch {
	case strings.Contains(text, "Mozilla Public License Version 2.0"), strings.Contains(text, "Mozilla Public License, version 2.0"):
		return "MPL-2.0"
	case strings.Contains(text, "Apache License Version 2.0"):
		return "Apache-2.0"
	case strings.Contains(text, "Permission is hereby granted, free of charge"):
		return "MIT"
	case strings.Contains(text, "Redistribution and use in source and binary forms") && strings.Contains(text, "either the name"):
		return "BSD-3-Clause"
	case strings.Contains(text, "Redistribution and use in source and binary forms"):
		return "BSD-2-Clause"
	default:
		return ""
	}
}
