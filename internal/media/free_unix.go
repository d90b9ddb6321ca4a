//go:build unix

package media

import "golang.org/x/sys/unix"

// freeBytes is what is left for us on the disk with the path.
func freeBytes(path string) (int64, error) {
	var s unix.Statfs_t
	if err := unix.Statfs(path, &s); err != nil {
		return 0, err
	}
	return int64(s.Bavail) * int64(s.Bsize), nil //nolint:unconvert // the types differ between systems
}
