//go:build unix

package work

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// childVariable names the data folder of a child process that works.
const childVariable = "PLUMBSTRIDE_TEST_WORKER"

func TestMain(m *testing.M) {
	if dir := os.Getenv(childVariable); dir != "" {
		child(dir)
		return
	}
	os.Exit(m.Run())
}

// child works on the queue of the folder until it is killed: each job takes
// thirty steps, and says in a file that it was begun.
func child(dir string) {
	t := &testing.T{}
	s := openStore(t, filepath.Join(dir, "plumbstride.db"))
	q := New(s, Options{Lease: 400 * time.Millisecond, Poll: 20 * time.Millisecond, Kinds: map[string]Kind{"measure": {
		Do: func(ctx context.Context, j store.Job, tell func(store.Progress)) (func(context.Context, store.Store) error, error) {
			if err := appendLine(filepath.Join(dir, "begun"), j.ID); err != nil {
				return nil, err
			}
			for i := range 30 {
				tell(store.Progress{Stage: "measuring", Done: i, Total: 30})
				time.Sleep(10 * time.Millisecond)
			}
			return func(ctx context.Context, s store.Store) error {
				if err := note("result "+j.ID)(ctx, s); err != nil {
					return err
				}
				_, err := s.Measured(ctx, j.CheckID, store.Result{State: store.Refused, Refusal: "measured"})
				return err
			}, nil
		},
		Failed: func(ctx context.Context, s store.Store, j store.Job, reason string) error {
			_, err := s.Measured(ctx, j.CheckID, store.Result{State: store.Failed, Refusal: reason})
			return err
		},
	}}})
	q.Run(context.Background())
}

func appendLine(path, line string) error {
	f, err := os.OpenFile(path, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	if _, err := fmt.Fprintln(f, line); err != nil {
		return err
	}
	return f.Close()
}

// begin starts a child process.
func begin(t *testing.T, dir string) *exec.Cmd {
	t.Helper()
	cmd := exec.Command(os.Args[0], "-test.run=^$")
	cmd.Env = append(os.Environ(), childVariable+"="+dir)
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { kill(cmd) })
	return cmd
}

// kill ends a process as the power cut would: no word, no chance.
func kill(cmd *exec.Cmd) {
	_ = cmd.Process.Kill()
	_ = cmd.Wait()
}

func begun(t *testing.T, dir string) int {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, "begun"))
	if err != nil && !os.IsNotExist(err) {
		t.Fatal(err)
	}
	return bytes.Count(data, []byte("\n"))
}

func waitFor(t *testing.T, what string, done func() bool) {
	t.Helper()
	for deadline := time.Now().Add(2 * time.Minute); !done(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatalf("%s: it never came to that", what)
		}
	}
}

func checkWithJob(t *testing.T, s store.Store, tries int) (store.Check, store.Job) {
	t.Helper()
	r, err := s.AddRunner(t.Context(), roster.Runner{Name: "Ada"})
	if err != nil {
		t.Fatal(err)
	}
	c, err := s.AddCheck(t.Context(), store.Check{RunnerID: r.ID, Kind: store.Running})
	if err != nil {
		t.Fatal(err)
	}
	j, err := s.AddJob(t.Context(), store.Job{Kind: "measure", CheckID: c.ID, MaxTries: tries})
	if err != nil {
		t.Fatal(err)
	}
	return c, j
}

// TestKilled: the process is killed in the middle, four times, at different
// points, with another child taking over; in the end each check is finished
// exactly once.
func TestKilled(t *testing.T) {
	dir := t.TempDir()
	s := openStore(t, filepath.Join(dir, "plumbstride.db"))
	var checks []store.Check
	var jobs []store.Job
	for range 2 {
		c, j := checkWithJob(t, s, 50)
		checks, jobs = append(checks, c), append(jobs, j)
	}
	for round, steps := range []int{0, 5, 15, 25} {
		cmd := begin(t, dir)
		first := begun(t, dir)
		waitFor(t, "a job in the middle", func() bool {
			if begun(t, dir) == first {
				return false
			}
			for _, j := range jobs {
				if now := jobOf(t, s, j.ID); now.State == store.JobRunning && now.Progress.Done >= steps || now.State == store.JobDone {
					return true
				}
			}
			return false
		})
		kill(cmd)
		if q, err := s.Queue(t.Context()); round == 0 && (err != nil || len(q) != 2) {
			t.Fatalf("nothing was lost, but %d jobs are left, %v", len(q), err)
		}
	}
	before := begun(t, dir)
	begin(t, dir)
	waitFor(t, "both done", settled(t, s))
	if n := begun(t, dir); before < 2 || n <= 2 {
		t.Errorf("begun %d times in all: the kills proved nothing", n)
	}
	got := names(t, s)
	for i, j := range jobs {
		c, err := s.Check(t.Context(), checks[i].ID)
		if err != nil || c.State != store.Refused || c.Version != 2 {
			t.Errorf("%+v, %v", c, err)
		}
		if now := jobOf(t, s, j.ID); got["result "+j.ID] != 1 || now.State != store.JobDone {
			t.Errorf("job %s ended %d times: %+v", j.ID, got["result "+j.ID], now)
		}
	}
}

// TestKillsItsWorker: a clip that ends the process each time fails after its
// tries, and the one behind it is done.
func TestKillsItsWorker(t *testing.T) {
	dir := t.TempDir()
	s := openStore(t, filepath.Join(dir, "plumbstride.db"))
	poisoned, job := checkWithJob(t, s, 2)
	good, _ := checkWithJob(t, s, 50)
	for range 20 { // the job behind may come first, while the lease runs
		now := jobOf(t, s, job.ID)
		if now.Tries == job.MaxTries {
			break
		}
		cmd := begin(t, dir)
		waitFor(t, "begun", func() bool { return jobOf(t, s, job.ID).Tries > now.Tries })
		kill(cmd)
	}
	begin(t, dir)
	waitFor(t, "both ended", settled(t, s))
	c, err := s.Check(t.Context(), poisoned.ID)
	if err != nil || c.State != store.Failed || !strings.Contains(c.Refusal, "ended 2 times") {
		t.Errorf("%+v, %v", c, err)
	}
	if c, err := s.Check(t.Context(), good.ID); err != nil || c.State != store.Refused {
		t.Errorf("the one behind: %+v, %v", c, err)
	}
}
