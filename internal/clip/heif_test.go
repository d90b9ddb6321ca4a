package clip

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"plumbstride/internal/form"
)

// heic is the beginning of a HEIF picture as telephones write it.
const heic = "\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"

// reader puts a program of that name alone on the search path.
func reader(t *testing.T, name, script string) {
	t.Helper()
	if runtime.GOOS == "windows" {
		t.Skip("the stand-in for a reader is a shell script")
	}
	dir := t.TempDir()
	if name != "" {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("#!/bin/sh\n"+script), 0o700); err != nil {
			t.Fatal(err)
		}
	}
	t.Setenv("PATH", dir)
}

// Without a reader the coach is told what to install; other files are left
// as they are.
func TestUnpackWithoutReader(t *testing.T) {
	reader(t, "", "")
	path := write(t, "IMG 0001.HEIC", []byte(heic))
	if _, err := Unpack(context.Background(), path, t.TempDir()); form.CodeOf(err) != form.CodeMissing || !strings.Contains(err.Error(), "heif-convert") || !strings.Contains(err.Error(), "JPEG") {
		t.Errorf("no reader: %v", err)
	}
	for name, data := range map[string]string{"a.mp4": "\x00\x00\x00\x18ftypisom", "b.jpg": "\xFF\xD8\xFF\xE0", "c": "", "d.heic": "no"} {
		path := write(t, name, []byte(data))
		if got, err := Unpack(context.Background(), path, t.TempDir()); err != nil || got != path {
			t.Errorf("%s: %q, %v", name, got, err)
		}
	}
	if got, err := Unpack(context.Background(), "absent.heic", t.TempDir()); err != nil || got != "absent.heic" {
		t.Errorf("a file that isn't there is Probe's to refuse: %q, %v", got, err)
	}
}

// The reader is given absolute paths and makes a picture in the folder.
func TestUnpackWithReader(t *testing.T) {
	reader(t, "heif-convert", `case "$1" in /*) echo made > "$2" 2>/dev/null || printf made > "$2";; *) exit 9;; esac`)
	path := write(t, "-q.heic", []byte(heic))
	dir := t.TempDir()
	got, err := Unpack(context.Background(), path, dir)
	if err != nil || filepath.Dir(got) != dir || !strings.HasSuffix(got, ".png") {
		t.Fatalf("%q, %v", got, err)
	}
}

// A reader that fails, or makes nothing, is a fact about the picture.
func TestUnpackReaderFails(t *testing.T) {
	for name, script := range map[string]string{"fails": "echo 'no such codec' >&2; exit 1", "makes nothing": "exit 0"} {
		reader(t, "heif-dec", script)
		_, err := Unpack(context.Background(), write(t, "a.heic", []byte(heic)), t.TempDir())
		if form.CodeOf(err) != form.CodeClip || !strings.Contains(err.Error(), "JPEG") {
			t.Errorf("%s: %v", name, err)
		}
	}
}
