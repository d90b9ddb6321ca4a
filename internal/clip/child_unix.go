//go:build unix && !linux

package clip

import (
	"os"
	"syscall"
)

// processAttributes puts the child into its own group. If this process is
// killed outright, the child ends at its next write to the broken pipe.
func processAttributes() *syscall.SysProcAttr { return &syscall.SysProcAttr{Setpgid: true} }

func killGroup(p *os.Process) {
	// The group is gone when the child has just ended by itself.
	_ = syscall.Kill(-p.Pid, syscall.SIGKILL)
}

func limitMemory(int, uint64) {}

func widen(*os.File) {}
