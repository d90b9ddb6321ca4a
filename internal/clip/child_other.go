//go:build !unix

package clip

import (
	"os"
	"syscall"
)

func processAttributes() *syscall.SysProcAttr { return nil }

func killGroup(p *os.Process) {
	// The process is gone when it has just ended by itself.
	_ = p.Kill()
}

func limitMemory(int, uint64) {}

func widen(*os.File) {}
