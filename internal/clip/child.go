package clip

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"sync"
	"time"
)

// childLimits bounds a child process.
type childLimits struct {
	// Wait is how long the child may take (output), or how long it may stay
	// silent (a Reader).
	Wait time.Duration
	// Memory is the address space in bytes, where the system can hold a
	// child to it; 0 sets no limit.
	Memory uint64
	// MaxOutput is the most bytes of standard output taken by output.
	MaxOutput int64
}

var (
	errSilent   = errors.New("it took too long")
	errTooLarge = errors.New("it wrote more than was allowed")
)

// child is one running ffmpeg or ffprobe, in a process group of its own.
type child struct {
	stdout, stderr *os.File

	cmd  *exec.Cmd
	done chan struct{} // closed once the child is reaped
	err  error         // what Wait gave; read after done

	mu     sync.Mutex
	reaped bool
	why    error // the first reason for which it was killed
}

// spawn starts a program with arguments, never through a shell. The caller
// reads stdout and stderr to their ends and then calls wait.
//
// One goroutine holds one thread for the child's whole life: on Linux the
// child is told to die with the thread that started it, which is how it goes
// when this process is killed outright.
func spawn(ctx context.Context, program string, args []string, lim childLimits) (*child, error) {
	outR, outW, err := os.Pipe()
	if err != nil {
		return nil, fmt.Errorf("clip: can't make a pipe: %w", err)
	}
	errR, errW, err := os.Pipe()
	if err != nil {
		outR.Close()
		outW.Close()
		return nil, fmt.Errorf("clip: can't make a pipe: %w", err)
	}
	widen(outR)
	cmd := exec.Command(program, args...)
	cmd.Stdout, cmd.Stderr, cmd.Env = outW, errW, environment(os.Environ())
	cmd.SysProcAttr = processAttributes()
	c := &child{stdout: outR, stderr: errR, cmd: cmd, done: make(chan struct{})}
	started := make(chan error, 1)
	go func() {
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		err := cmd.Start()
		outW.Close()
		errW.Close()
		started <- err
		if err != nil {
			return
		}
		limitMemory(cmd.Process.Pid, lim.Memory)
		err = cmd.Wait()
		c.mu.Lock()
		c.reaped, c.err = true, err
		c.mu.Unlock()
		close(c.done)
	}()
	if err := <-started; err != nil {
		outR.Close()
		errR.Close()
		return nil, missing(program, err)
	}
	go func() {
		select {
		case <-ctx.Done():
			c.kill(context.Cause(ctx))
		case <-c.done:
		}
	}()
	return c, nil
}

// kill ends the child and whatever it started; the first reason is kept.
func (c *child) kill(why error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.why == nil {
		c.why = why
	}
	if !c.reaped {
		killGroup(c.cmd.Process)
	}
}

// wait gives why the child was killed, else how it ended.
func (c *child) wait() error {
	<-c.done
	c.stdout.Close()
	c.stderr.Close()
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.why != nil {
		return c.why
	}
	return c.err
}

// waitFor is wait, but kills a child that does not end in time. What it still
// writes to standard output is thrown away, so that it can end; heard is
// closed by whoever reads standard error to its end.
func (c *child) waitFor(d time.Duration, heard <-chan struct{}) error {
	timer := time.AfterFunc(d, func() { c.kill(errSilent) })
	defer timer.Stop()
	thrown := make(chan struct{})
	go func() {
		defer close(thrown)
		_, _ = io.Copy(io.Discard, c.stdout)
	}()
	<-heard
	<-thrown
	return c.wait()
}

// cpu is the processor time, user and system, of a child that has ended.
func (c *child) cpu() time.Duration {
	select {
	case <-c.done:
		if s := c.cmd.ProcessState; s != nil {
			return s.UserTime() + s.SystemTime()
		}
	default:
	}
	return 0
}

// output runs a program to its end and gives its standard output.
func output(ctx context.Context, program string, args []string, lim childLimits) ([]byte, *complaints, error) {
	c, err := spawn(ctx, program, args, lim)
	if err != nil {
		return nil, &complaints{}, err
	}
	timer := time.AfterFunc(lim.Wait, func() { c.kill(errSilent) })
	defer timer.Stop()
	said := &complaints{}
	heard := make(chan struct{})
	go func() {
		defer close(heard)
		readLines(c.stderr, said.add)
	}()
	out, err := io.ReadAll(io.LimitReader(c.stdout, lim.MaxOutput+1))
	if int64(len(out)) > lim.MaxOutput {
		c.kill(errTooLarge)
	}
	<-heard
	if werr := c.wait(); werr != nil {
		err = werr
	}
	return out, said, err
}

// environment drops what would make the children write files or colours.
func environment(from []string) []string {
	kept := make([]string, 0, len(from)+4)
	for _, e := range from {
		name, _, _ := strings.Cut(e, "=")
		switch strings.ToUpper(name) {
		case "FFREPORT", "AV_LOG_FORCE_COLOR", "AV_LOG_FORCE_256COLOR", "LC_ALL", "FFMPEG_DATADIR", "OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS":
			continue
		}
		kept = append(kept, e)
	}
	// The last two keep libraries that are linked in, and not used here,
	// from starting a thread for each processor.
	return append(kept, "AV_LOG_FORCE_NOCOLOR=1", "LC_ALL=C", "OPENBLAS_NUM_THREADS=1", "OMP_NUM_THREADS=1")
}
