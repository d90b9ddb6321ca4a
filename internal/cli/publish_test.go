package cli

import (
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"plumbstride/internal/form"
)

// Each way of writing must make, replace, and leave nothing else behind.
func TestPublish(t *testing.T) {
	for name, put := range map[string]func(dir, name string, readers os.FileMode, fill func(*os.File) error) error{"whole": putWhole, "rename": putByRename} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			for _, content := range []string{"first", "second, longer", "3"} {
				if err := put(dir, "card.html", everyone, holding([]byte(content))); err != nil {
					t.Fatal(err)
				}
				got, err := os.ReadFile(filepath.Join(dir, "card.html"))
				if err != nil || string(got) != content {
					t.Fatalf("read %q, %v; want %q", got, err, content)
				}
				if names := listing(t, dir); len(names) != 1 {
					t.Fatalf("left behind: %v", names)
				}
			}
			if info, err := os.Stat(filepath.Join(dir, "card.html")); err != nil || (runtime.GOOS != "windows" && info.Mode().Perm()&0o600 != 0o600) {
				t.Errorf("mode %v, %v", info.Mode(), err)
			}
		})
	}
}

// A name that is taken by a folder can't be replaced; the failure must leave
// no hidden file beside it.
func TestPublishFails(t *testing.T) {
	dir := t.TempDir()
	taken := filepath.Join(dir, "card.html")
	if err := os.MkdirAll(filepath.Join(taken, "full"), 0o755); err != nil {
		t.Fatal(err)
	}
	for name, put := range map[string]func(dir, name string, readers os.FileMode, fill func(*os.File) error) error{"whole": putWhole, "rename": putByRename} {
		if err := put(dir, "card.html", everyone, holding([]byte("x"))); err == nil {
			t.Errorf("%s: a folder was replaced", name)
		}
		if names := listing(t, dir); len(names) != 1 {
			t.Errorf("%s: left behind: %v", name, names)
		}
	}
}

func TestFolder(t *testing.T) {
	dir := t.TempDir()
	fresh := filepath.Join(dir, "a", "b")
	undo, err := folder(fresh)
	if err != nil {
		t.Fatal(err)
	}
	undo()
	if _, err := os.Stat(fresh); !os.IsNotExist(err) {
		t.Error("an empty folder made for nothing is still there")
	}
	undo, err = folder(fresh)
	if err != nil {
		t.Fatal(err)
	}
	kept := filepath.Join(fresh, "card.html")
	if err := publish(kept, []byte("x")); err != nil {
		t.Fatal(err)
	}
	undo()
	if _, err := os.Stat(kept); err != nil {
		t.Errorf("a result was taken away: %v", err)
	}
	if _, err := folder(kept); form.CodeOf(err) != form.CodeUsage {
		t.Errorf("a file as folder: %v, want a usage error", err)
	}
}

func listing(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	names := make([]string, 0, len(entries))
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}
