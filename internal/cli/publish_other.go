//go:build !linux

package cli

import "os"

// putWhole goes by rename, which replaces a file in one step on macOS and
// Windows too.
func putWhole(dir, name string, readers os.FileMode, fill func(*os.File) error) error {
	return putByRename(dir, name, readers, fill)
}
