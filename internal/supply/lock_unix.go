//go:build !windows

package supply

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// TryLock takes the file for this process, until it is closed or the process
// ends, however it ends; false where another has it.
func TryLock(f *os.File) (bool, error) {
	err := unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	if errors.Is(err, unix.EWOULDBLOCK) || errors.Is(err, unix.EINTR) {
		return false, nil
	}
	return err == nil, err
}
