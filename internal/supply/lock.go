package supply

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"
)

// lockName is the file whose lock a set-up holds. The system frees the lock
// when the program ends, however it ends; the file itself stays.
const lockName = ".setup.lock"

// lock waits until no other set-up works in the folder, which is made if need
// be, and keeps others out until the given function is called.
func lock(ctx context.Context, folder string, waiting func()) (unlock func(), err error) {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return nil, fmt.Errorf("make the folder %s: %w", folder, err)
	}
	f, err := os.OpenFile(filepath.Join(folder, lockName), os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, fmt.Errorf("open the lock in %s: %w", folder, err)
	}
	for {
		ok, err := TryLock(f)
		if err != nil {
			f.Close()
			return nil, fmt.Errorf("lock %s: %w", folder, err)
		}
		if ok {
			return func() { f.Close() }, nil
		}
		waiting()
		select {
		case <-ctx.Done():
			f.Close()
			return nil, fmt.Errorf("wait for another set-up in %s: %w", folder, context.Cause(ctx))
		case <-time.After(200 * time.Millisecond):
		}
	}
}
