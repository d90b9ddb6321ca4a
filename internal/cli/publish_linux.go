package cli

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"golang.org/x/sys/unix"
)

// putWhole uses a file that has no name until it is complete, so that even
// a run killed in the middle leaves nothing behind. Where the file system
// can't do that, it goes by rename.
func putWhole(dir, name string, readers os.FileMode, fill func(*os.File) error) error {
	fd, err := unix.Open(dir, unix.O_TMPFILE|unix.O_RDWR|unix.O_CLOEXEC, uint32(readers))
	if err != nil {
		return putByRename(dir, name, readers, fill)
	}
	f := os.NewFile(uintptr(fd), name)
	if err := fillAndSync(f, fill); err != nil {
		return errors.Join(err, f.Close())
	}
	err = nameIt(f, dir, name)
	if errors.Is(err, errors.ErrUnsupported) {
		err = putByRename(dir, name, readers, fill)
	}
	return errors.Join(err, f.Close())
}

// nameIt gives the nameless file its name. An existing file can only be
// replaced by a rename, so there the new one is called .name.part for an
// instant.
func nameIt(f *os.File, dir, name string) error {
	self := fmt.Sprintf("/proc/self/fd/%d", f.Fd())
	link := func(path string) error {
		return unix.Linkat(unix.AT_FDCWD, self, unix.AT_FDCWD, path, unix.AT_SYMLINK_FOLLOW)
	}
	final := filepath.Join(dir, name)
	err := link(final)
	switch {
	case err == nil:
		return nil
	case !errors.Is(err, unix.EEXIST):
		return errors.Join(errors.ErrUnsupported, err)
	}
	part := filepath.Join(dir, fmt.Sprintf(".%s.%d.part", name, os.Getpid()))
	if err := link(part); err != nil {
		return errors.Join(errors.ErrUnsupported, err)
	}
	if err := os.Rename(part, final); err != nil {
		return errors.Join(err, ignoreGone(os.Remove(part)))
	}
	return nil
}
