//go:build darwin || linux

package infer

import (
	"fmt"

	"github.com/ebitengine/purego"
)

// symbol loads the shared library at path and finds one function in it.
func symbol(path, name string) (uintptr, error) {
	handle, err := purego.Dlopen(path, purego.RTLD_NOW|purego.RTLD_LOCAL)
	if err != nil {
		return 0, fmt.Errorf("load it: %w", err)
	}
	f, err := purego.Dlsym(handle, name)
	if err != nil {
		return 0, fmt.Errorf("find %s: %w", name, err)
	}
	return f, nil
}

// pathString is a path as the library wants it (ORTCHAR_T is char).
func pathString(path string) ([]byte, error) { return cString(path), nil }
