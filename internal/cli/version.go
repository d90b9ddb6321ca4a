package cli

import (
	"fmt"
	"runtime"
)

// Version is the program's version, by semantic versioning.
const Version = "0.1.0"

type versionVerb struct{}

// Run prints the version, and what it was built with and for.
func (versionVerb) Run(e *errand) error {
	_, err := fmt.Fprintf(e.Out, "plumbstride %s (%s, %s/%s)\n", Version, runtime.Version(), runtime.GOOS, runtime.GOARCH)
	return err
}
