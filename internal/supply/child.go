package supply

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"time"
)

// runChild runs a program in a folder, without a shell and without input, and
// waits for its end. The error holds the last lines that it wrote.
func runChild(ctx context.Context, folder string, environment []string, name string, args ...string) error {
	// Where the child is tied to the thread that starts it, that thread must
	// outlive the child.
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	cmd := exec.CommandContext(ctx, name, args...)
	cmd.Dir = folder
	cmd.Env = append(os.Environ(), environment...)
	cmd.WaitDelay = 10 * time.Second
	cmd.Cancel = func() error {
		if err := cmd.Process.Signal(os.Interrupt); err != nil {
			return cmd.Process.Kill()
		}
		return nil
	}
	tieToParent(cmd)
	said := &tail{limit: 2000}
	cmd.Stdout, cmd.Stderr = said, said
	err := cmd.Run()
	if err == nil {
		return nil
	}
	if ctx.Err() != nil {
		err = context.Cause(ctx)
	}
	if words := strings.TrimSpace(said.String()); words != "" && !errors.Is(err, context.Canceled) {
		return fmt.Errorf("%s: %w; it says: %s", cmd.Args[0], err, words)
	}
	return fmt.Errorf("%s: %w", cmd.Args[0], err)
}

// tail keeps the end of what is written to it.
type tail struct {
	bytes.Buffer
	limit int
}

// Write never fails.
func (t *tail) Write(p []byte) (int, error) {
	t.Buffer.Write(p)
	if over := t.Len() - t.limit; over > 0 {
		t.Next(over)
	}
	return len(p), nil
}
