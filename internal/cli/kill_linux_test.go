package cli

import (
	"bytes"
	"encoding/json"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"plumbstride/internal/standin"
	"plumbstride/internal/supply"
	"plumbstride/internal/track"
)

// started starts plumbstride with its own folder for temporary files.
func started(t *testing.T, dir string, args ...string) (cmd *exec.Cmd, said *bytes.Buffer) {
	t.Helper()
	program, err := exec.LookPath("plumbstride")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Join(dir, "tmp"), 0o755); err != nil {
		t.Fatal(err)
	}
	cmd = exec.Command(program, args...)
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "TMPDIR="+filepath.Join(dir, "tmp"))
	said = &bytes.Buffer{}
	cmd.Stderr = said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return cmd, said
}

// ready gives what a check of a clip needs from this machine. In CI it is
// always there.
func ready(t *testing.T) supply.Kit {
	t.Helper()
	kit, err := supply.Find(os.Getenv)
	if err != nil && os.Getenv("CI") != "" {
		t.Fatal(err)
	}
	if err != nil {
		t.Skipf("the networks are not set up, run plumbstride setup: %v", err)
	}
	return kit
}

// noise makes a clip of moving colours, which keeps decoder and networks
// busy for a while, with the decoder that a check uses.
func noise(t *testing.T, dir string) string {
	t.Helper()
	kit := ready(t)
	path := filepath.Join(dir, "noise.mp4")
	out, err := exec.Command(kit.FFmpeg, "-v", "error", "-f", "lavfi", "-i", "testsrc2=size=1280x720:rate=60:duration=4",
		"-pix_fmt", "yuv420p", "-preset", "ultrafast", path).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	return path
}

// childrenOn counts the processes whose command line holds the path.
func childrenOn(t *testing.T, path string) int {
	t.Helper()
	lines, err := filepath.Glob("/proc/[0-9]*/cmdline")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, l := range lines {
		text, err := os.ReadFile(l)
		if err == nil && bytes.Contains(text, []byte(path)) {
			n++
		}
	}
	return n
}

// gone waits until no process works on the path.
func gone(t *testing.T, path string) {
	t.Helper()
	for range 100 {
		if childrenOn(t, path) == 0 {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Errorf("%d processes still work on %s after 5 s", childrenOn(t, path), filepath.Base(path))
}

// atWork waits until a child of the check works on the path.
func atWork(t *testing.T, path string) {
	t.Helper()
	for range 1000 {
		if childrenOn(t, path) > 1 { // the check itself is one
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Fatal("no decoder was seen at work within 20 s")
}

// TestKilledCheck: a check that is killed, before or while its decoder is at
// work, leaves no child process, no temporary file and no half-written
// result.
func TestKilledCheck(t *testing.T) {
	dir := t.TempDir()
	path := noise(t, dir)
	for _, later := range []time.Duration{-1, 0, 100 * time.Millisecond, 700 * time.Millisecond} {
		cmd, _ := started(t, dir, "check", path, "--height", "172cm", "--out", filepath.Join(dir, "card"))
		if later < 0 {
			time.Sleep(20 * time.Millisecond)
		} else {
			atWork(t, path)
			time.Sleep(later)
		}
		if err := cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		cmd.Wait()
		gone(t, path)
		whole(t, filepath.Join(dir, "card"))
		if names := listing(t, filepath.Join(dir, "tmp")); len(names) > 0 {
			t.Errorf("killed %v after the decoder began: left in the temporary folder: %v", later, names)
		}
	}
}

// TestInterruptedCheck: an interrupt ends a check in order.
func TestInterruptedCheck(t *testing.T) {
	dir := t.TempDir()
	path := noise(t, dir)
	cmd, said := started(t, dir, "check", path, "--height", "172cm", "--out", filepath.Join(dir, "card"))
	atWork(t, path)
	if err := cmd.Process.Signal(syscall.SIGINT); err != nil {
		t.Fatal(err)
	}
	cmd.Wait()
	if got := cmd.ProcessState.ExitCode(); got != exitOther {
		t.Errorf("exit status %d, want %d: %s", got, exitOther, said)
	}
	if !strings.Contains(said.String(), "stopped; nothing half-done was left behind") {
		t.Errorf("it says %q", said)
	}
	gone(t, path)
	if names := listing(t, dir); len(names) != 2 { // the clip and tmp
		t.Errorf("left behind: %v", names)
	}
}

// TestKilledWhileWriting: whenever a run is killed, each result is there
// whole or not at all.
func TestKilledWhileWriting(t *testing.T) {
	dir := t.TempDir()
	points, _, err := standin.Track(standin.DefaultRunner(), standin.DefaultCamera(), 5, rand.New(rand.NewPCG(1, 2)))
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := track.Write(&b, points); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "runner.csv")
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	card := filepath.Join(dir, "card")
	began := time.Now()
	if cmd, said := started(t, dir, "check", path, "--height", "175cm", "--out", card); cmd.Wait() != nil {
		t.Fatal(said)
	}
	span := time.Since(began)
	rng := rand.New(rand.NewPCG(3, 4))
	for range 25 { // the moments lie thickest where the results are written
		cmd, _ := started(t, dir, "check", path, "--height", "175cm", "--out", card)
		time.Sleep(time.Duration((0.5 + 0.6*rng.Float64()) * float64(span)))
		_ = cmd.Process.Kill() // it may be done already
		cmd.Wait()
		whole(t, card)
	}
}

// whole fails for a result that is not complete, or a file that is none.
func whole(t *testing.T, card string) {
	t.Helper()
	if _, err := os.Stat(card); os.IsNotExist(err) {
		return
	}
	for _, name := range listing(t, card) {
		content, err := os.ReadFile(filepath.Join(card, name))
		if err != nil {
			t.Fatal(err)
		}
		text := strings.TrimSpace(string(content))
		ok := false
		switch name {
		case "card.html":
			ok = strings.HasSuffix(text, "</html>")
		case "card.pdf":
			ok = strings.HasSuffix(text, "%%EOF")
		case "check.json":
			ok = json.Valid(content)
		case "track.csv":
			ok = strings.HasSuffix(string(content), "\n") && strings.Count(text, "\n") > 100
		}
		if !ok {
			t.Errorf("%s lies there half-done, or should not be there (%d bytes)", name, len(content))
		}
	}
}

// TestNothingElseIsKept: a check of a clip, to its end, leaves nothing in
// the user's home or in the folder for temporary files. The inference
// library would keep a device number and a store of events there, and send
// them, if its telemetry were not switched off before it starts.
func TestNothingElseIsKept(t *testing.T) {
	kit := ready(t)
	dir := t.TempDir()
	path := noise(t, dir)
	home := filepath.Join(dir, "home")
	if err := os.Mkdir(home, 0o755); err != nil {
		t.Fatal(err)
	}
	t.Setenv(supply.ModelsVariable, filepath.Dir(kit.Models["full"]))
	t.Setenv(supply.RuntimeVariable, filepath.Dir(kit.Runtime))
	t.Setenv("HOME", home)
	t.Setenv("XDG_CACHE_HOME", "")
	t.Setenv("XDG_DATA_HOME", "")
	cmd, said := started(t, dir, "check", path, "--height", "172cm")
	cmd.Wait()
	if got := cmd.ProcessState.ExitCode(); got != exitClip {
		t.Errorf("a clip without a runner: exit status %d, want %d: %s", got, exitClip, said)
	}
	for _, folder := range []string{home, filepath.Join(dir, "tmp")} {
		if names := listing(t, folder); len(names) > 0 {
			t.Errorf("left in %s: %v", filepath.Base(folder), names)
		}
	}
}
