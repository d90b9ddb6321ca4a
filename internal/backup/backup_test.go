package backup

import (
	"archive/tar"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/klauspost/compress/zstd"
	"pgregory.net/rapid"

	"plumbstride/internal/form"
)

// key is the name of a file on the shelf.
func key(drawer string, i int) string { return fmt.Sprintf("media/%s/%026d", drawer, i) }

func part(path string, content []byte) Part {
	return Part{path, func() (io.ReadCloser, int64, error) {
		return io.NopCloser(bytes.NewReader(content)), int64(len(content)), nil
	}}
}

var testHead = Head{Program: "plumbstride test", Schema: 3, Made: time.Date(2026, 3, 2, 18, 0, 0, 999, time.UTC)}

// quick is a lock that costs next to nothing to try.
func quick(passphrase string) *Lock { return &Lock{Passphrase: passphrase, WorkFactor: 2} }

func written(t testing.TB, parts []Part, lock *Lock) []byte {
	t.Helper()
	var b bytes.Buffer
	if _, err := Write(context.Background(), &b, testHead, parts, lock); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// taken reads a backup and keeps its parts.
func taken(data []byte, lock *Lock) (map[string][]byte, Contents, error) {
	parts := map[string][]byte{}
	c, err := Read(context.Background(), bytes.NewReader(data), lock, nil, func(path string, bytes int64, content io.Reader) error {
		all, err := io.ReadAll(content)
		parts[path] = all
		return err
	})
	return parts, c, err
}

// TestThereAndBack: whatever goes in comes out, locked or not.
func TestThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := map[string][]byte{Database: rapid.SliceOf(rapid.Byte()).Draw(t, "records")}
		parts := []Part{part(Database, want[Database])}
		for i := range rapid.IntRange(0, 5).Draw(t, "files") {
			path := key(rapid.SampledFrom([]string{"clips", "pictures", "tracks"}).Draw(t, "drawer"), i)
			want[path] = rapid.SliceOfN(rapid.Byte(), 0, 3000).Draw(t, "content")
			parts = append(parts, part(path, want[path]))
		}
		var lock *Lock
		if rapid.Bool().Draw(t, "locked") {
			lock = quick("a calm plumb bob")
		}
		var b bytes.Buffer
		wrote, err := Write(context.Background(), &b, testHead, parts, lock)
		if err != nil {
			t.Fatal(err)
		}
		got, read, err := taken(b.Bytes(), lock)
		if err != nil {
			t.Fatal(err)
		}
		if fmt.Sprint(got) != fmt.Sprint(want) || fmt.Sprint(read) != fmt.Sprint(wrote) {
			t.Errorf("%v\n%v\n%+v\n%+v", got, want, read, wrote)
		}
	})
}

// TestCutOffAnywhere: a backup that was cut off at any byte is refused.
func TestCutOffAnywhere(t *testing.T) {
	for _, lock := range []*Lock{nil, quick("a calm plumb bob")} {
		data := written(t, []Part{part(Database, []byte("records")), part(key("clips", 1), bytes.Repeat([]byte("clip"), 500))}, lock)
		for n := range len(data) {
			if _, _, err := taken(data[:n], lock); form.CodeOf(err) != form.CodeUsage {
				t.Fatalf("the first %d of %d bytes, locked %v: %v", n, len(data), lock != nil, err)
			}
		}
	}
}

// TestOneByteOff: a backup in which any byte is another is refused, or says
// the same.
func TestOneByteOff(t *testing.T) {
	for _, lock := range []*Lock{nil, quick("a calm plumb bob")} {
		data := written(t, []Part{part(Database, []byte("records")), part(key("clips", 1), []byte("an invented clip"))}, lock)
		for i := range data {
			off := bytes.Clone(data)
			off[i] ^= 0x20
			got, _, err := taken(off, lock)
			if err != nil && form.CodeOf(err) == "" {
				t.Errorf("byte %d: %v", i, err)
			}
			if err == nil && (string(got[Database]) != "records" || string(got[key("clips", 1)]) != "an invented clip") {
				t.Errorf("byte %d of another value went by unseen: %q", i, got)
			}
		}
	}
}

func TestLocked(t *testing.T) {
	secret := []byte("Quillon Vestergaard")
	data := written(t, []Part{part(Database, secret)}, quick("a calm plumb bob"))
	if !Locked(data) || Locked(written(t, []Part{part(Database, secret)}, nil)) {
		t.Error("it can't be told whether a backup is locked")
	}
	if bytes.Contains(data, secret) || bytes.Contains(data, []byte("backup.json")) {
		t.Error("what is locked can be read")
	}
	for says, lock := range map[string]*Lock{"none was given": nil, "is not the one": quick("a calm plumb bop")} {
		if _, _, err := taken(data, lock); form.CodeOf(err) != form.CodeUsage || !strings.Contains(err.Error(), says) {
			t.Errorf("%v; want %q", err, says)
		}
	}
}

// archive packs entries as somebody might who wants to do harm.
func archive(t testing.TB, entries ...tar.Header) []byte {
	t.Helper()
	var b bytes.Buffer
	z, err := zstd.NewWriter(&b)
	if err != nil {
		t.Fatal(err)
	}
	w := tar.NewWriter(z)
	for _, h := range entries {
		content := h.Linkname
		if h.Typeflag == tar.TypeReg {
			h.Linkname, h.Size = "", int64(len(content))
		}
		if err := w.WriteHeader(&h); err != nil {
			t.Fatal(err)
		}
		if h.Typeflag == tar.TypeReg {
			if _, err := io.WriteString(w, content); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := errors.Join(w.Close(), z.Close()); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

const goodHead = `{"what":"Plumbstride backup","format":1,"program":"plumbstride","schema":1,"made":"2026-03-02T18:00:00Z","bytes":0}`

// TestHostile: an archive that would write elsewhere, or isn't ours, is
// refused before any of its parts is handed on.
func TestHostile(t *testing.T) {
	head := tar.Header{Typeflag: tar.TypeReg, Name: headName, Linkname: goodHead}
	file := func(name string) tar.Header {
		return tar.Header{Typeflag: tar.TypeReg, Name: name, Linkname: "x"}
	}
	for name, c := range map[string]struct {
		data []byte
		says string
	}{
		"up":         {archive(t, head, file("../../etc/passwd")), "not safe"},
		"absolute":   {archive(t, head, file("/etc/passwd")), "not safe"},
		"hidden up":  {archive(t, head, file("media/clips/../../x")), "not safe"},
		"backslash":  {archive(t, head, file(`media\clips\aaaaaaaaaaaaaaaaaaaaaaaaaa`)), "not safe"},
		"incoming":   {archive(t, head, file("media/incoming/aaaaaaaaaaaaaaaaaaaaaaaaaa")), "not safe"},
		"link":       {archive(t, head, tar.Header{Typeflag: tar.TypeSymlink, Name: Database, Linkname: "/etc/passwd"}), "not safe"},
		"hard link":  {archive(t, head, tar.Header{Typeflag: tar.TypeLink, Name: key("clips", 1), Linkname: "/etc/passwd"}), "not safe"},
		"folder":     {archive(t, head, tar.Header{Typeflag: tar.TypeDir, Name: Database}), "not safe"},
		"twice":      {archive(t, head, file(Database), file(Database)), "not safe"},
		"no head":    {archive(t, file(Database)), "not a backup of Plumbstride"},
		"other head": {archive(t, tar.Header{Typeflag: tar.TypeReg, Name: headName, Linkname: `{"what":"another"}`}), "not a backup of Plumbstride"},
		"newer":      {archive(t, tar.Header{Typeflag: tar.TypeReg, Name: headName, Linkname: strings.Replace(goodHead, `"format":1`, `"format":2`, 1)}), "newer plumbstride"},
		"no list":    {archive(t, head, file(Database)), "cut off"},
		"wrong list": {archive(t, head, file(Database), tar.Header{Typeflag: tar.TypeReg, Name: contentsName, Linkname: `{"files":[]}`}), "another backup"},
		"text":       {[]byte("no backup at all"), "damaged, or it is none"},
		"empty":      {nil, "empty"},
	} {
		t.Run(name, func(t *testing.T) {
			parts, _, err := taken(c.data, nil)
			if form.CodeOf(err) == "" || !strings.Contains(err.Error(), c.says) {
				t.Errorf("%v; want %q", err, c.says)
			}
			for path := range parts {
				if !partName.MatchString(path) {
					t.Errorf("handed on %q", path)
				}
			}
		})
	}
}

// TestGoneMeanwhile: a file that is removed before its turn does no harm and
// is listed; one that shrinks is an error.
func TestGoneMeanwhile(t *testing.T) {
	gone := Part{key("clips", 1), func() (io.ReadCloser, int64, error) { return nil, 0, fmt.Errorf("taken away: %w", fs.ErrNotExist) }}
	parts, c, err := taken(written(t, []Part{part(Database, []byte("r")), gone, part(key("tracks", 2), []byte("t"))}, nil), nil)
	if err != nil || len(parts) != 2 || len(c.Missing) != 1 || c.Missing[0] != gone.Path {
		t.Errorf("%v %+v %v", parts, c, err)
	}
	short := Part{Database, func() (io.ReadCloser, int64, error) { return io.NopCloser(strings.NewReader("abc")), 5, nil }}
	if _, err := Write(t.Context(), io.Discard, testHead, []Part{short}, nil); err == nil || !strings.Contains(err.Error(), "3 bytes, and 5 were announced") {
		t.Error(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := Write(ctx, io.Discard, testHead, []Part{part(Database, nil)}, nil); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if _, err := Read(ctx, bytes.NewReader(written(t, []Part{part(Database, nil)}, nil)), nil, nil, nil); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

// TestHeadMayRefuse: nothing is handed on of a backup whose head was refused.
func TestHeadMayRefuse(t *testing.T) {
	no := form.MissingError("newer tables")
	_, err := Read(t.Context(), bytes.NewReader(written(t, []Part{part(Database, nil)}, nil)), nil,
		func(h Head) error {
			if h.Schema != 3 || h.Made.Nanosecond() != 0 {
				t.Errorf("%+v", h)
			}
			return no
		}, func(string, int64, io.Reader) error { t.Error("handed on"); return nil })
	if !errors.Is(err, error(no)) {
		t.Error(err)
	}
}

// TestOpenedByOthers: GNU tar lists and checks the archive; nobody needs this
// program to get at their own records.
func TestOpenedByOthers(t *testing.T) {
	for _, tool := range []string{"tar", "zstd"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skipf("%s is not on this machine", tool)
		}
	}
	path := filepath.Join(t.TempDir(), "a.tar.zst")
	if err := os.WriteFile(path, written(t, []Part{part(Database, []byte("records")), part(key("clips", 1), []byte("clip"))}, nil), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("tar", "--zstd", "-tf", path).CombinedOutput()
	if want := "backup.json\nplumbstride.db\n" + key("clips", 1) + "\ncontents.json\n"; err != nil || string(out) != want {
		t.Errorf("%s %v", out, err)
	}
}

// FuzzRead: whatever is read, parts have safe names, and what is taken for
// whole is whole.
func FuzzRead(f *testing.F) {
	f.Add(written(f, []Part{part(Database, []byte("records")), part(key("clips", 1), []byte("clip"))}, nil))
	f.Add(written(f, []Part{part(Database, []byte("records"))}, quick("x")))
	f.Add(archive(f, tar.Header{Typeflag: tar.TypeReg, Name: headName, Linkname: goodHead}, tar.Header{Typeflag: tar.TypeReg, Name: "../x", Linkname: "x"}))
	f.Add([]byte(ageBegins))
	f.Fuzz(func(t *testing.T, data []byte) {
		handed := map[string]int64{}
		c, err := Read(t.Context(), bytes.NewReader(data), quick("x"), nil, func(path string, size int64, content io.Reader) error {
			if !partName.MatchString(path) || strings.Contains(path, "..") {
				t.Errorf("handed on %q", path)
			}
			n, err := io.Copy(io.Discard, content)
			handed[path] = n
			return err
		})
		if err != nil {
			if form.CodeOf(err) == "" {
				t.Errorf("not a sentence for people: %v", err)
			}
			return
		}
		for _, file := range c.Files {
			if handed[file.Path] != file.Bytes {
				t.Errorf("%s: %d of %d bytes", file.Path, handed[file.Path], file.Bytes)
			}
		}
	})
}
