package cli

import (
	"crypto/sha256"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// sums are the hashes of all files below a folder.
func sums(t *testing.T, dir string) map[string][32]byte {
	t.Helper()
	all := map[string][32]byte{}
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		content, err := os.ReadFile(path)
		all[path] = sha256.Sum256(content)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// TestServeReadOnly: one can sign in and look around, nothing can be changed,
// and not a byte of the data folder is written.
func TestServeReadOnly(t *testing.T) {
	r := newClinicRoom(t)
	r.serve()
	r.kill()
	tidy(t, r.dir)
	before := sums(t, r.dir)
	r.serve("--read-only")
	if status, body := r.do("GET", "/runner/"+r.runner.ID, "", nil); status != http.StatusOK || !strings.Contains(body, "Invented Ida") {
		t.Errorf("%d %s", status, body)
	}
	if status, body := r.announce("a.mp4", 100); status != http.StatusForbidden || !strings.Contains(body, "open for reading alone") {
		t.Errorf("%d %s", status, body)
	}
	for _, says := range []string{"Open for reading alone", "see runner " + r.runner.ID} {
		if !strings.Contains(r.out.String(), says) {
			t.Errorf("it doesn't say %q: %s", says, r.out)
		}
	}
	r.kill()
	after := sums(t, r.dir)
	for path, sum := range after {
		if before[path] != sum && !strings.HasSuffix(path, "-shm") && !strings.HasSuffix(path, "-wal") {
			t.Errorf("%s was written", path)
		}
	}
}

// tidy closes the records in order, as a program that was ended does.
func tidy(t *testing.T, dir string) {
	t.Helper()
	r, err := openFolder(t.Context(), dir, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.file.Alone(t.Context()); err != nil {
		t.Fatal(err)
	}
	r.close()
}
