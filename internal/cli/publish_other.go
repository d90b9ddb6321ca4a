//go:build !linux

package cli

// putWhole goes by rename, which replaces a file in one step on macOS and
// Windows too.
func putWhole(dir, name string, content []byte) error { return putByRename(dir, name, content) }
