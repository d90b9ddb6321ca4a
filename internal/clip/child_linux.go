package clip

import (
	"os"
	"syscall"

	"golang.org/x/sys/unix"
)

// processAttributes puts the child into its own group, and has the kernel
// kill it when the thread that started it is gone.
func processAttributes() *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}
}

func killGroup(p *os.Process) {
	// The group is gone when the child has just ended by itself.
	_ = syscall.Kill(-p.Pid, syscall.SIGKILL)
}

// limitMemory holds the child's address space to a number of bytes. The child
// may already have ended, which is no error.
func limitMemory(pid int, bytes uint64) {
	if bytes > 0 {
		_ = unix.Prlimit(pid, unix.RLIMIT_AS, &unix.Rlimit{Cur: bytes, Max: bytes}, nil)
	}
	_ = unix.Prlimit(pid, unix.RLIMIT_CORE, &unix.Rlimit{}, nil)
}

// widen makes a pipe as large as an ordinary user may have it, so that the
// child needs fewer turns for a picture. It stays as it was if that fails.
func widen(pipe *os.File) {
	raw, err := pipe.SyscallConn()
	if err != nil {
		return
	}
	_ = raw.Control(func(fd uintptr) { _, _ = unix.FcntlInt(fd, unix.F_SETPIPE_SZ, 1<<20) })
}
