//go:build !linux

package cli

// exchange gives each of two folders the other's name.
func exchange(a, b string) error { return exchangeByRename(a, b) }
