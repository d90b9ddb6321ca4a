package infer_test

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"

	"plumbstride/internal/infer"
	"plumbstride/internal/supply"
)

// TestLoadRefuses: the error names the file and what is wrong with it.
func TestLoadRefuses(t *testing.T) {
	none := filepath.Join(t.TempDir(), "none")
	text := filepath.Join(t.TempDir(), "text.so")
	if err := os.WriteFile(text, []byte("no library"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{none, text, t.TempDir()} {
		if lib, err := infer.Load(path); err == nil || lib != nil || !strings.Contains(err.Error(), path) {
			t.Errorf("%s: %v, %v", path, lib, err)
		}
	}
}

// TestLoadOtherLibrary: a shared library of another kind has no such function.
func TestLoadOtherLibrary(t *testing.T) {
	if runtime.GOOS != "linux" || runtime.GOARCH != "amd64" {
		t.Skip("the place of the C library is known for Linux on amd64 alone")
	}
	const libm = "/lib/x86_64-linux-gnu/libm.so.6"
	if _, err := os.Stat(libm); err != nil {
		t.Skip(err)
	}
	if _, err := infer.Load(libm); err == nil || !strings.Contains(err.Error(), "OrtGetApiBase") {
		t.Errorf("got %v", err)
	}
}

// TestOpenRefuses: what the library says comes through as a StatusError.
func TestOpenRefuses(t *testing.T) {
	lib := library(t)
	if lib.Version() == "" {
		t.Error("the library tells no version")
	}
	bad := filepath.Join(t.TempDir(), "bad.onnx")
	for name, data := range map[string]string{"text": "no network", "empty": ""} {
		if err := os.WriteFile(bad, []byte(data), 0o644); err != nil {
			t.Fatal(err)
		}
		refused(t, lib, name, bad)
	}
	refused(t, lib, "none", filepath.Join(t.TempDir(), "none.onnx"))
	refused(t, lib, "a folder", t.TempDir())
}

func refused(t *testing.T, lib *infer.Library, name, path string) {
	t.Helper()
	s, err := lib.Open(path, 1)
	status, ok := errors.AsType[*infer.StatusError](err)
	if s != nil || !ok || status.Code == 0 || status.Message == "" || !strings.Contains(err.Error(), path) {
		t.Errorf("%s: %v, %v", name, s, err)
	}
}

// TestSession: outputs have their names and sizes, stay in the same memory,
// and depend on the picture alone; the wrong size and a closed session are
// errors.
func TestSession(t *testing.T) {
	s := open(t, library(t), packed(t, supply.Networks()), "lite")
	picture, _ := input("lite")
	out, err := s.Run(picture)
	if err != nil {
		t.Fatal(err)
	}
	for name, n := range map[string]int{"landmarks": 195, "presence": 1, "heatmap": 64 * 64 * 39, "world": 117} {
		if len(out[name]) != n {
			t.Errorf("%s has %d numbers, want %d", name, len(out[name]), n)
		}
	}
	first := slices.Clone(out["landmarks"])
	if _, err := s.Run(make([]float32, len(picture))); err != nil {
		t.Fatal(err)
	}
	if slices.Equal(first, out["landmarks"]) {
		t.Error("another picture gives the same landmarks")
	}
	copy(s.Input(), picture)
	again, err := s.Run(s.Input())
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(first, again["landmarks"]) || &again["landmarks"][0] != &out["landmarks"][0] {
		t.Error("the same picture gives other landmarks, or other memory")
	}
	for _, n := range []int{0, 1, len(picture) + 1} {
		if _, err := s.Run(make([]float32, n)); err == nil {
			t.Errorf("a picture of %d numbers is taken", n)
		}
	}
	other, err := s.Share()
	if err != nil {
		t.Fatal(err)
	}
	if err := other.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := other.Run(picture); err == nil {
		t.Error("a closed session runs")
	}
	if _, err := other.Share(); err == nil {
		t.Error("a closed session is shared")
	}
	if other.Close() == nil {
		t.Error("a session closes twice")
	}
	if _, err := s.Run(picture); err != nil {
		t.Errorf("the first session, after the second was closed: %v", err)
	}
}

// TestSharedSessions: sessions that share a network and run at the same time
// give what one alone gives, whichever is closed first.
func TestSharedSessions(t *testing.T) {
	lib, networks := library(t), packed(t, supply.Networks())
	first := open(t, lib, networks, "lite")
	list := []*infer.Session{}
	for range 4 {
		s, err := first.Share()
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, s)
	}
	views := pictures(256)
	want := map[string][]float32{}
	for name, picture := range views {
		out, err := first.Run(picture)
		if err != nil {
			t.Fatal(err)
		}
		want[name] = slices.Clone(out["heatmap"])
	}
	var all sync.WaitGroup
	for _, s := range list {
		all.Go(func() {
			defer s.Close()
			for name, picture := range views {
				out, err := s.Run(picture)
				if err != nil || !slices.Equal(out["heatmap"], want[name]) {
					t.Errorf("%s: another heat map (%v)", name, err)
				}
				runtime.GC() // what the library writes to must not move or go
			}
		})
	}
	all.Wait()
}
