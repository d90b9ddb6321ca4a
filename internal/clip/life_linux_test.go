package clip

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"
)

// children lists the processes that this one has started and not reaped.
func children(t *testing.T, pid int) []int {
	t.Helper()
	var pids []int
	tasks, err := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/children", pid))
	if err != nil {
		t.Fatal(err)
	}
	for _, task := range tasks {
		data, err := os.ReadFile(task)
		if err != nil {
			continue // the thread has ended
		}
		for _, word := range strings.Fields(string(data)) {
			if pid, err := strconv.Atoi(word); err == nil {
				pids = append(pids, pid)
			}
		}
	}
	return pids
}

// alive tells whether a process runs (a zombie does not).
func alive(pid int) bool {
	data, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return false
	}
	_, rest, _ := strings.Cut(string(data), ") ")
	return !strings.HasPrefix(rest, "Z") && !strings.HasPrefix(rest, "X")
}

// eventually waits for a condition.
func eventually(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for range 3000 {
		if ok() {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Fatal("still not so after a minute: " + what)
}

func longClip(t *testing.T) *Info {
	t.Helper()
	return probe(t, makeSized(t, "long.mp4", 320, 240, 60, 900, "-c:v", "libx264", "-preset", "ultrafast"))
}

// Whatever ends a Reader, its child is gone and so are its goroutines.
func TestNoStrayChild(t *testing.T) {
	info := longClip(t)
	before := runtime.NumGoroutine()
	open := func(ctx context.Context) (*Reader, int) {
		r, err := Open(ctx, Tools{}, info, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := r.Next(); err != nil {
			t.Fatal(err)
		}
		pids := children(t, os.Getpid())
		if len(pids) != 1 {
			t.Fatalf("%d children", len(pids))
		}
		return r, pids[0]
	}
	gone := func(pid int) {
		t.Helper()
		eventually(t, "the child is gone", func() bool { return !alive(pid) && len(children(t, os.Getpid())) == 0 })
		eventually(t, "the goroutines are gone", func() bool { return runtime.NumGoroutine() <= before })
	}

	r, pid := open(context.Background())
	if err := r.Close(); err != nil {
		t.Error(err)
	}
	if alive(pid) {
		t.Error("the child lives after Close")
	}
	if _, _, err := readAll(t, r); !errors.Is(err, errClosed) {
		t.Errorf("after Close: %v", err)
	}
	gone(pid)

	ctx, cancel := context.WithCancelCause(context.Background())
	r, pid = open(ctx)
	why := errors.New("the coach changed her mind")
	cancel(why)
	if _, _, err := readAll(t, r); !errors.Is(err, why) {
		t.Errorf("after cancel: %v", err)
	}
	gone(pid)

	for _, ended := range []context.Context{ctx} {
		if _, err := Probe(ended, Tools{}, info.File, Limits{}); !errors.Is(err, why) {
			t.Errorf("probe: %v", err)
		}
		if _, err := Pick(ended, Tools{}, info, []float64{1}); !errors.Is(err, why) {
			t.Errorf("pick: %v", err)
		}
	}
	eventually(t, "no child is left", func() bool { return len(children(t, os.Getpid())) == 0 })
}

// A child that says nothing is ended, with all that it started.
func TestSilentChild(t *testing.T) {
	info := longClip(t)
	script := filepath.Join(t.TempDir(), "stuck")
	mark := filepath.Join(t.TempDir(), "pids")
	text := "#!/bin/sh\nsleep 1000 &\necho $! $$ >>" + mark + "\nwait\n"
	if err := os.WriteFile(script, []byte(text), 0o700); err != nil {
		t.Fatal(err)
	}
	stuck := Tools{FFmpeg: script, FFprobe: script}
	r, err := Open(context.Background(), stuck, info, Options{Silence: 3 * time.Second})
	if err != nil {
		t.Fatal(err)
	}
	_, err = r.Next()
	wantClipError(t, err, "gave no picture for 3s")
	_, err = Probe(context.Background(), stuck, info.File, Limits{ProbeTimeout: 3 * time.Second})
	wantClipError(t, err, "within 3s")
	words := strings.Fields(string(load(t, mark)))
	if len(words) != 4 {
		t.Fatalf("processes %v", words)
	}
	for _, word := range words {
		pid, err := strconv.Atoi(word)
		if err != nil {
			t.Fatal(err)
		}
		eventually(t, "process "+word+" is gone", func() bool { return !alive(pid) })
	}
}

// A slow reader is not taken for a silent decoder.
func TestSlowReader(t *testing.T) {
	info := longClip(t)
	r, err := Open(context.Background(), Tools{}, info, Options{Silence: 5 * time.Second})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	for range 3 {
		time.Sleep(2 * time.Second)
		if _, err := r.Next(); err != nil {
			t.Fatal(err)
		}
	}
	if index, _, _ := readAll(t, r); len(index) != len(info.Times)-3 {
		t.Errorf("%d more pictures", len(index))
	}
}

// When this process is killed outright, its decoder goes too. The test runs
// itself as that process.
func TestKilledOutright(t *testing.T) {
	if path := os.Getenv("CLIP_TEST_DECODE"); path != "" {
		r, err := Open(context.Background(), Tools{}, probe(t, path), Options{})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := r.Next(); err != nil {
			t.Fatal(err)
		}
		fmt.Println("decoding")
		time.Sleep(time.Minute)
		return
	}
	info := longClip(t)
	cmd := exec.Command(os.Args[0], "-test.run=^TestKilledOutright$", "-test.v")
	cmd.Env = append(os.Environ(), "CLIP_TEST_DECODE="+info.File)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(out)
	for lines.Scan() && lines.Text() != "decoding" {
	}
	pids := children(t, cmd.Process.Pid)
	if len(pids) != 1 {
		t.Errorf("%d decoders", len(pids))
	}
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = cmd.Wait() // it was killed
	for _, pid := range pids {
		eventually(t, "the decoder is gone", func() bool { return !alive(pid) })
	}
}

// The child is held to an amount of memory, which leaves room for 4K.
func TestMemoryLimit(t *testing.T) {
	c, err := spawn(context.Background(), "sleep", []string{"100"}, childLimits{Memory: 5 << 30})
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		c.kill(errClosed)
		_ = c.wait() // it was killed
	}()
	eventually(t, "the limits are set", func() bool {
		limits := string(load(t, fmt.Sprintf("/proc/%d/limits", c.cmd.Process.Pid)))
		memory, core := false, false
		for line := range strings.Lines(limits) {
			memory = memory || strings.HasPrefix(line, "Max address space") && strings.Contains(line, "5368709120")
			core = core || strings.HasPrefix(line, "Max core file size") && strings.Fields(line)[4] == "0"
		}
		return memory && core
	})
}

// A child that writes without end is stopped.
func TestOutputLimit(t *testing.T) {
	_, _, err := output(context.Background(), "ffmpeg",
		[]string{"-nostdin", "-loglevel", "level+error", "-f", "lavfi", "-i", "color=s=64x64", "-f", "rawvideo", "-"},
		childLimits{Wait: time.Minute, MaxOutput: 1 << 20})
	if !errors.Is(err, errTooLarge) {
		t.Error(err)
	}
}

// The environment can't make the tools write files.
func TestNoReportFile(t *testing.T) {
	info := probe(t, makeClip(t, "a.mp4", 30, 6, "-c:v", "libx264"))
	report := filepath.Join(t.TempDir(), "report.log")
	t.Setenv("FFREPORT", "file="+report+":level=32")
	probe(t, info.File)
	if _, err := read(t, info, Options{}); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(report); err == nil {
		t.Error("a report was written")
	}
}

// Several readers at once do not disturb each other.
func TestReadersSideBySide(t *testing.T) {
	info := probe(t, makeClip(t, "a.mp4", 30, 90, "-c:v", "libx264", "-bf", "2"))
	done := make(chan error)
	for range 4 {
		go func() {
			r, err := Open(context.Background(), Tools{}, info, Options{Threads: 1})
			if err != nil {
				done <- err
				return
			}
			defer r.Close()
			for k := 0; ; k++ {
				f, err := r.Next()
				if err != nil {
					if k != 90 {
						err = errors.Join(err, fmt.Errorf("%d pictures", k))
					}
					done <- err
					return
				}
				if f.Index != k || number(f) != k {
					done <- fmt.Errorf("index %d shows %d", f.Index, number(f))
					return
				}
				r.Recycle(f)
			}
		}()
	}
	for range 4 {
		if err := <-done; err.Error() != "EOF" {
			t.Error(err)
		}
	}
}
