package supply

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

type entry struct {
	name string
	kind byte
	data string
	link string
}

func tgz(tb testing.TB, entries ...entry) []byte {
	tb.Helper()
	var out bytes.Buffer
	z := gzip.NewWriter(&out)
	w := tar.NewWriter(z)
	for _, e := range entries {
		if err := w.WriteHeader(&tar.Header{Name: e.name, Typeflag: e.kind, Size: int64(len(e.data)), Linkname: e.link, Mode: 0o644}); err != nil {
			tb.Fatal(err)
		}
		if _, err := io.WriteString(w, e.data); err != nil {
			tb.Fatal(err)
		}
	}
	if err := errors.Join(w.Close(), z.Close()); err != nil {
		tb.Fatal(err)
	}
	return out.Bytes()
}

func memberOf(path, data string) member {
	sum := sha256.Sum256([]byte(data))
	return member{path, int64(len(data)), hex.EncodeToString(sum[:])}
}

// TestUnpack takes the wanted members and nothing else, and refuses what is
// not as it must be.
func TestUnpack(t *testing.T) {
	net, other := memberOf("a/net", "weights"), memberOf("b", "more")
	good := []entry{{"package/x", tar.TypeReg, "unwanted", ""}, {"package/a/net", tar.TypeReg, "weights", ""}, {"package/b", tar.TypeReg, "more", ""}}
	for _, c := range []struct {
		name    string
		archive []byte
		limit   int64
		want    string // part of the error; empty for none
	}{
		{"whole", tgz(t, good...), 1 << 20, ""},
		{"no archive", []byte("<!doctype html>"), 1 << 20, "open the package"},
		{"cut", tgz(t, good...)[:60], 1 << 20, "package"},
		{"a member lacks", tgz(t, good[:2]...), 1 << 20, "holds no b"},
		{"a member of another size", tgz(t, entry{"package/a/net", tar.TypeReg, "weight", ""}), 1 << 20, "a/net"},
		{"a changed member", tgz(t, entry{"package/a/net", tar.TypeReg, "weightz", ""}), 1 << 20, "damaged"},
		{"a link in place of a member", tgz(t, entry{"package/a/net", tar.TypeSymlink, "", "/etc/passwd"}), 1 << 20, "a/net"},
		{"a way out", tgz(t, entry{"package/../../a/net", tar.TypeReg, "weights", ""}), 1 << 20, "holds no"},
		{"too much", tgz(t, append([]entry{{"package/zeros", tar.TypeReg, strings.Repeat("\x00", 1<<20), ""}}, good...)...), 1 << 16, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := map[string]string{}
			err := unpack(bytes.NewReader(c.archive), []member{net, other}, c.limit, func(m member, r io.Reader) error {
				data, err := readWhole(m, r)
				got[m.path] = string(data)
				return err
			})
			switch {
			case c.name == "whole" && (err != nil || got["a/net"] != "weights" || got["b"] != "more" || len(got) != 2):
				t.Errorf("got %v, %v", got, err)
			case c.name != "whole" && err == nil:
				t.Errorf("no error; got %v", got)
			case err != nil && !strings.Contains(err.Error(), c.want):
				t.Errorf("got %v, want an error with %q", err, c.want)
			}
		})
	}
}

// TestPlace: the place keeps what it held unless the new file is whole.
func TestPlace(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "net.onnx")
	m := memberOf("net", "weights")
	if err := place(path, m.size, m.sha256, strings.NewReader("weights")); err != nil {
		t.Fatal(err)
	}
	for name, r := range map[string]io.Reader{
		"short": strings.NewReader("wei"), "long": strings.NewReader("weights and more"),
		"changed": strings.NewReader("weightz"), "broken off": io.MultiReader(strings.NewReader("wei"), broken{}),
	} {
		if err := place(path, m.size, m.sha256, r); err == nil {
			t.Errorf("%s: no error", name)
		}
		if data, err := os.ReadFile(path); err != nil || string(data) != "weights" {
			t.Errorf("%s: the place holds %q, %v", name, data, err)
		}
	}
	onlyWhole(t, folder, 1)
}

type broken struct{}

func (broken) Read([]byte) (int, error) { return 0, errors.New("broken off") }

// FuzzUnpack looks for archives that panic, or that yield a member other than
// the known one.
func FuzzUnpack(f *testing.F) {
	m := memberOf("a", "weights")
	f.Add(tgz(f, entry{"package/a", tar.TypeReg, "weights", ""}))
	f.Add(tgz(f, entry{"package/a", tar.TypeSymlink, "", "/etc/passwd"}, entry{"package/a", tar.TypeReg, "weightz", ""}))
	f.Add([]byte{0x1f, 0x8b})
	f.Fuzz(func(t *testing.T, archive []byte) {
		unpack(bytes.NewReader(archive), []member{m}, 1<<16, func(m member, r io.Reader) error {
			data, err := readWhole(m, r)
			if err == nil && string(data) != "weights" {
				t.Fatalf("got %q", data)
			}
			return err
		})
	})
}
