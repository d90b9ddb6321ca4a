package infer

import (
	"fmt"
	"os"
	"path/filepath"
	"unsafe"
)

// Library is ONNX Runtime, loaded. It stays in memory until the program ends.
type Library struct {
	api     *table
	env     uintptr
	version string
}

// telemetryOff is the library's own switch. Set before the library starts, it
// keeps it from writing a device number and a store of events into the user's
// folders and from sending them to its maker; switching its events off later
// (DisableTelemetryEvents) comes after the first of them.
const telemetryOff = "ORT_DISABLE_TELEMETRY"

// Load loads the shared library at path, with its telemetry switched off. The error says what the system's
// loader or the library complains of.
func Load(path string) (*Library, error) {
	full, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("inference library %s: %w", path, err)
	}
	if err := os.Setenv(telemetryOff, "1"); err != nil {
		return nil, fmt.Errorf("inference library %s: switch telemetry off: %w", full, err)
	}
	getAPIBase, err := symbol(full, "OrtGetApiBase")
	if err != nil {
		return nil, fmt.Errorf("inference library %s: %w", full, err)
	}
	api, version, err := openTable(getAPIBase)
	if err != nil {
		return nil, fmt.Errorf("inference library %s: %w", full, err)
	}
	l := &Library{api: api, version: version}
	id := cString("plumbstride")
	if err := api.call(createEnv, logError, uintptr(unsafe.Pointer(&id[0])), uintptr(unsafe.Pointer(&l.env))); err != nil {
		return nil, fmt.Errorf("inference library %s: start it: %w", full, err)
	}
	if err := api.call(disableTelemetryEvents, l.env); err != nil {
		return nil, fmt.Errorf("inference library %s: switch telemetry off: %w", full, err)
	}
	return l, nil
}

// Version is the library's own version, for example "1.30.0".
func (l *Library) Version() string { return l.version }

// Close frees the library's state. Its sessions must be closed before.
func (l *Library) Close() error {
	l.api.release(releaseEnv, l.env)
	l.env = 0
	return nil
}
