package infer

import (
	"encoding/binary"
	"fmt"

	"golang.org/x/sys/windows"
)

// symbol loads the shared library at path and finds one function in it. What
// the library itself needs is sought beside it and in the system's folder.
func symbol(path, name string) (uintptr, error) {
	const flags = windows.LOAD_LIBRARY_SEARCH_DLL_LOAD_DIR | windows.LOAD_LIBRARY_SEARCH_SYSTEM32
	handle, err := windows.LoadLibraryEx(path, 0, flags)
	if err != nil {
		return 0, fmt.Errorf("load it: %w", err)
	}
	f, err := windows.GetProcAddress(handle, name)
	if err != nil {
		return 0, fmt.Errorf("find %s: %w", name, err)
	}
	return f, nil
}

// pathString is a path as the library wants it (ORTCHAR_T is wchar_t).
func pathString(path string) ([]byte, error) {
	wide, err := windows.UTF16FromString(path)
	if err != nil {
		return nil, err
	}
	out := make([]byte, 0, 2*len(wide))
	for _, u := range wide {
		out = binary.LittleEndian.AppendUint16(out, u)
	}
	return out, nil
}
