package cli

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// exchange gives each of two folders the other's name, in one step where the
// file system can.
func exchange(a, b string) error {
	err := unix.Renameat2(unix.AT_FDCWD, a, unix.AT_FDCWD, b, unix.RENAME_EXCHANGE)
	if errors.Is(err, unix.EINVAL) || errors.Is(err, unix.ENOSYS) {
		return exchangeByRename(a, b)
	}
	if err != nil {
		return &os.LinkError{Op: "exchange", Old: a, New: b, Err: err}
	}
	return nil
}
