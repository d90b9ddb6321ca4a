package supply

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// TryLock takes the file for this process, until it is closed or the process
// ends, however it ends; false where another has it.
func TryLock(f *os.File) (bool, error) {
	const flags = windows.LOCKFILE_EXCLUSIVE_LOCK | windows.LOCKFILE_FAIL_IMMEDIATELY
	err := windows.LockFileEx(windows.Handle(f.Fd()), flags, 0, 1, 0, &windows.Overlapped{})
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) {
		return false, nil
	}
	return err == nil, err
}
