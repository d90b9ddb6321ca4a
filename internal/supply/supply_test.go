package supply

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"plumbstride/internal/form"
)

// lacking skips on a developer's machine, and fails where everything must run.
func lacking(t *testing.T, format string, args ...any) {
	t.Helper()
	if os.Getenv("CI") != "" || os.Getenv("PLUMBSTRIDE_TEST_ALL") != "" {
		t.Fatalf(format, args...)
	}
	t.Skipf(format, args...)
}

// networksTarball gives the package of the networks, fetched once into a
// per-user cache.
func networksTarball(t *testing.T) string {
	t.Helper()
	cache, err := os.UserCacheDir()
	if err != nil {
		t.Fatal(err)
	}
	folder := filepath.Join(cache, "plumbstride-test")
	if err := os.MkdirAll(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	p := Networks()
	path := filepath.Join(folder, p.File)
	if verify(path, p.Size, p.SHA256) == nil {
		return path
	}
	if _, err := exec.LookPath("npm"); err != nil {
		lacking(t, "npm is lacking, which fetches the networks: %v", err)
	}
	if path, err = p.Fetch(context.Background(), folder, func(string, int64, int64) {}); err != nil {
		t.Fatal(err)
	}
	return path
}

// readyLibrary gives the folder of this machine's inference library.
func readyLibrary(t *testing.T) string {
	t.Helper()
	kit, err := Find(os.Getenv)
	if kit.Runtime == "" {
		lacking(t, "%v", err)
	}
	return filepath.Dir(kit.Runtime)
}

// environment looks variables up in a list of NAME, value, NAME, value …
func environment(pairs ...string) func(string) string {
	return func(name string) string {
		for i := 0; i+1 < len(pairs); i += 2 {
			if pairs[i] == name {
				return pairs[i+1]
			}
		}
		return ""
	}
}

// TestFindNothing: what is lacking is named, with what to do, under the code
// that gives exit status 4.
func TestFindNothing(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	kit, err := Find(environment(ModelsVariable, t.TempDir(), RuntimeVariable, t.TempDir()))
	if form.CodeOf(err) != form.CodeMissing {
		t.Fatalf("got %v", err)
	}
	for _, want := range []string{"detector", "lite", "full", "heavy", "inference library", "ffmpeg", "plumbstride setup"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%q is not in: %v", want, err)
		}
	}
	if kit.Runtime != "" || len(kit.Models) != 0 || kit.FFmpeg != "" {
		t.Errorf("found %+v", kit)
	}
}

// TestSetupFromFolder sets a machine up from a folder that holds the package
// of the networks packed and the library open, and checks that a damaged
// network is noticed and mended.
func TestSetupFromFolder(t *testing.T) {
	from, models, library := t.TempDir(), t.TempDir(), t.TempDir()
	link(t, networksTarball(t), from)
	p, ok := platformOf(runtime.GOOS, runtime.GOARCH)
	if !ok {
		t.Skipf("there is no inference library for %s on %s", runtime.GOOS, runtime.GOARCH)
	}
	for _, f := range p.files {
		link(t, filepath.Join(readyLibrary(t), filepath.Base(f.path)), from)
	}
	env := environment(ModelsVariable, models, RuntimeVariable, library)
	var steps []string
	kit, err := Setup(context.Background(), Options{From: from, Env: env, Progress: func(step string, done, total int64) {
		if done < 0 || done > total {
			t.Errorf("%s: %d of %d", step, done, total)
		}
		steps = append(steps, step)
	}})
	if err != nil {
		t.Fatal(err)
	}
	if len(steps) == 0 {
		t.Error("nothing was told of the progress")
	}
	for _, m := range Models() {
		if kit.Models[m] != filepath.Join(models, m+".onnx") || len(kit.Hash[m]) != 64 {
			t.Errorf("%s: %q, %q", m, kit.Models[m], kit.Hash[m])
		}
	}
	onlyWhole(t, models, 5)

	if err := os.WriteFile(kit.Models["lite"], []byte("damaged"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Find(env); err == nil || !strings.Contains(err.Error(), "lite") || strings.Contains(err.Error(), "full") {
		t.Errorf("a damaged network: %v", err)
	}
	if _, err := Setup(context.Background(), Options{From: from, Env: env}); err != nil {
		t.Errorf("mend it: %v", err)
	}
}

// link makes a file appear in a folder.
func link(t *testing.T, file, folder string) {
	t.Helper()
	if err := os.Symlink(file, filepath.Join(folder, filepath.Base(file))); err != nil {
		t.Fatal(err)
	}
}

// onlyWhole checks that a folder holds n files, none of them unfinished.
func onlyWhole(t *testing.T, folder string, n int) {
	t.Helper()
	list, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range list {
		if strings.HasPrefix(e.Name(), leftover) {
			t.Errorf("%s is left over", e.Name())
		}
	}
	if len(list) != n {
		t.Errorf("%d files, want %d: %v", len(list), n, list)
	}
}

// TestConversion holds the bytes that package convert gives to the hashes of
// the catalogue, and prints the new ones where they differ.
func TestConversion(t *testing.T) {
	src := source{Networks(), filepath.Dir(networksTarball(t)), func(string, int64, int64) {}}
	folder := t.TempDir()
	s := setup{places: places{models: folder}, Options: Options{From: src.folder, Progress: src.tell}}
	if err := s.networks(context.Background()); err != nil {
		t.Fatal(err)
	}
}

// TestFromFolderWithoutFiles says what the folder must hold.
func TestFromFolderWithoutFiles(t *testing.T) {
	models := t.TempDir()
	_, err := Setup(context.Background(), Options{From: t.TempDir(),
		Env: environment(ModelsVariable, models, RuntimeVariable, readyLibrary(t))})
	if form.CodeOf(err) != form.CodeMissing || !strings.Contains(err.Error(), Networks().File) {
		t.Errorf("got %v", err)
	}
	onlyWhole(t, models, 1)
}

// fakeNPM puts a program called npm on the path, before all others.
func fakeNPM(t *testing.T, script string) {
	t.Helper()
	if runtime.GOOS == "windows" {
		t.Skip("the stand-in for npm is a shell script")
	}
	folder := t.TempDir()
	if err := os.WriteFile(filepath.Join(folder, "npm"), []byte("#!/bin/sh\n"+script+"\n"), 0o755); err != nil {
		t.Fatal(err)
	}
	t.Setenv("PATH", folder+string(os.PathListSeparator)+os.Getenv("PATH"))
}

// TestFetchedPackageIsVerified: what npm brings is refused unless its hash is
// the known one, and nothing of it stays.
func TestFetchedPackageIsVerified(t *testing.T) {
	for name, script := range map[string]string{
		"another file of the same size": `head -c 40985403 /dev/zero > mediapipe-pose-0.5.1675469404.tgz`,
		"a short file":                  `echo no > mediapipe-pose-0.5.1675469404.tgz`,
		"nothing":                       `true`,
		"a complaint":                   `echo no such version >&2; exit 1`,
	} {
		t.Run(name, func(t *testing.T) {
			fakeNPM(t, script)
			models := t.TempDir()
			_, err := Setup(context.Background(), Options{Env: environment(ModelsVariable, models, RuntimeVariable, readyLibrary(t))})
			if form.CodeOf(err) != form.CodeMissing || !strings.Contains(err.Error(), "--from") {
				t.Errorf("got %v", err)
			}
			if name == "a complaint" && !strings.Contains(err.Error(), "no such version") {
				t.Errorf("npm's words are lost: %v", err)
			}
			onlyWhole(t, models, 1)
		})
	}
}

// TestFetchAsksForNameAndVersion: npm gets the package's name and version, no
// scripts are run, and no host is named.
func TestFetchAsksForNameAndVersion(t *testing.T) {
	said := filepath.Join(t.TempDir(), "said")
	fakeNPM(t, `echo "$@" > '`+said+`'; exit 1`)
	Networks().Fetch(context.Background(), t.TempDir(), func(string, int64, int64) {})
	words, err := os.ReadFile(said)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"pack @mediapipe/pose@0.5.1675469404", "--ignore-scripts"} {
		if !strings.Contains(string(words), want) {
			t.Errorf("%q is not in %q", want, words)
		}
	}
	if strings.Contains(string(words), "registry") || strings.Contains(string(words), "://") {
		t.Errorf("a host is named in %q", words)
	}
}

// TestTwoSetupsAtOnce: the second waits for the first and fetches nothing.
func TestTwoSetupsAtOnce(t *testing.T) {
	archive, count := networksTarball(t), filepath.Join(t.TempDir(), "count")
	fakeNPM(t, `echo once >> '`+count+`'; cp '`+archive+`' .`)
	models := t.TempDir()
	env := environment(ModelsVariable, models, RuntimeVariable, readyLibrary(t))
	var both sync.WaitGroup
	for range 2 {
		both.Go(func() {
			if _, err := Setup(context.Background(), Options{Env: env}); err != nil {
				t.Error(err)
			}
		})
	}
	both.Wait()
	words, err := os.ReadFile(count)
	if err != nil || strings.Count(string(words), "once") != 1 {
		t.Errorf("npm was run %d times (%v)", strings.Count(string(words), "once"), err)
	}
	onlyWhole(t, models, 5)
}

// TestMain stands in for the program in TestKilled.
func TestMain(m *testing.M) {
	if os.Getenv("SUPPLY_TEST_SETUP") != "" {
		if _, err := Setup(context.Background(), Options{}); err != nil {
			os.Stderr.WriteString(err.Error())
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// TestKilled kills a set-up while npm fetches: npm goes with it, and the next
// set-up clears up and works.
func TestKilled(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("only Linux ties a child to its parent")
	}
	archive, flag := networksTarball(t), filepath.Join(t.TempDir(), "pid")
	fakeNPM(t, `[ -e '`+flag+`' ] && { cp '`+archive+`' .; exit; }; touch half; echo $$ > '`+flag+`.new'; mv '`+flag+`.new' '`+flag+`'; exec sleep 600`)
	models := t.TempDir()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "SUPPLY_TEST_SETUP=1", ModelsVariable+"="+models, RuntimeVariable+"="+readyLibrary(t))
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	wait(t, "npm to start", func() bool { _, err := os.Stat(flag); return err == nil })
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	cmd.Wait()
	pid, err := os.ReadFile(flag)
	if err != nil {
		t.Fatal(err)
	}
	wait(t, "npm to end", func() bool {
		_, err := os.Stat(filepath.Join("/proc", strings.TrimSpace(string(pid)), "cwd"))
		return err != nil
	})
	if _, err := Setup(context.Background(), Options{Env: environment(ModelsVariable, models, RuntimeVariable, readyLibrary(t))}); err != nil {
		t.Fatal(err)
	}
	onlyWhole(t, models, 5)
}

func wait(t *testing.T, what string, done func() bool) {
	t.Helper()
	for end := time.Now().Add(time.Minute); !done(); time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("waited a minute for %s", what)
		}
	}
}

// TestStopped: a cancelled set-up ends soon, says that it was cancelled, and
// leaves nothing.
func TestStopped(t *testing.T) {
	fakeNPM(t, `exec sleep 600`)
	models := t.TempDir()
	ctx, stop := context.WithCancel(context.Background())
	_, err := Setup(ctx, Options{Env: environment(ModelsVariable, models, RuntimeVariable, readyLibrary(t)),
		Progress: func(step string, _, _ int64) {
			if strings.HasPrefix(step, "fetch") {
				stop()
			}
		}})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
	onlyWhole(t, models, 1)
}

// TestWithoutNPM says how to get it.
func TestWithoutNPM(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	s := setup{Options: Options{Progress: func(string, int64, int64) {}}}
	for _, step := range []func(context.Context) error{s.npm, s.decoder} {
		if err := step(context.Background()); form.CodeOf(err) != form.CodeMissing {
			t.Errorf("got %v", err)
		}
	}
	for _, name := range []string{"npm", "ffmpeg"} {
		for _, system := range []string{"linux", "darwin", "windows"} {
			if howTo(name, system) == "" {
				t.Errorf("nothing is said of %s on %s", name, system)
			}
		}
	}
}

// TestOwnLibrary: in a folder that the user names, another version of the
// library is taken, and known by its hash.
func TestOwnLibrary(t *testing.T) {
	folder := t.TempDir()
	if err := os.WriteFile(filepath.Join(folder, libraryNames()[0]), []byte("abc"), 0o644); err != nil {
		t.Fatal(err)
	}
	kit, _ := Find(environment(ModelsVariable, t.TempDir(), RuntimeVariable, folder))
	// SHA-256 of "abc": FIPS 180-2, appendix B.1.
	if kit.Hash["runtime"] != "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" {
		t.Errorf("got %q", kit.Hash["runtime"])
	}
}

// TestInspect: each finding that is not well says what to do.
func TestInspect(t *testing.T) {
	models := t.TempDir()
	bad := 0
	for _, f := range Inspect(environment(ModelsVariable, models, RuntimeVariable, filepath.Join(models, "none", "yet"))) {
		if f.Name == "" || f.Detail == "" || (!f.OK && f.Fix == "") || (f.OK && f.Fix != "") {
			t.Errorf("%+v", f)
		}
		if !f.OK {
			bad++
		}
	}
	if bad < 5 {
		t.Errorf("%d findings are not well, want the four networks and the library at least", bad)
	}
	onlyWhole(t, models, 0)
}

// TestCatalogue: hashes look like hashes, and names are told apart.
func TestCatalogue(t *testing.T) {
	seen := map[string]bool{}
	check := func(name, sum string, size int64) {
		if len(sum) != 64 || strings.Trim(sum, "0123456789abcdef") != "" || size <= 0 {
			t.Errorf("%s: %q, %d bytes", name, sum, size)
		}
		if seen[sum] {
			t.Errorf("%s: the hash %s stands twice", name, sum)
		}
		seen[sum] = true
	}
	for _, p := range []Package{Networks(), Library()} {
		check(p.Name, p.SHA256, p.Size)
		if p.Licence == "" {
			t.Errorf("%s has no licence", p.Name)
		}
	}
	for _, m := range models() {
		check(m.name, m.sha256, m.size)
		check(m.from.path, m.from.sha256, m.from.size)
	}
	for _, p := range platforms() {
		for _, f := range p.files {
			check(f.path, f.sha256, f.size)
		}
		if filepath.Base(p.files[0].path) != p.library {
			t.Errorf("%s/%s: the library is not the first file", p.system, p.processor)
		}
	}
}

// BenchmarkFind verifies all files.
func BenchmarkFind(b *testing.B) {
	for b.Loop() {
		if _, err := Find(os.Getenv); err != nil {
			b.Skip(err)
		}
	}
}
