//go:build !linux

package sound

import (
	"os"
	"syscall"
)

// processAttributes is nothing special: if this process is killed outright,
// the child's input ends and so does the child.
func processAttributes() *syscall.SysProcAttr { return nil }

func killGroup(p *os.Process) error { return p.Kill() }

// inherited gives the file's own name.
func inherited(f *os.File) (name string, extra []*os.File) { return f.Name(), nil }
