package sound

import (
	"os"
	"syscall"
)

// processAttributes puts the child into its own group, and has the kernel
// kill it when the thread that started it is gone.
func processAttributes() *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}
}

func killGroup(p *os.Process) error { return syscall.Kill(-p.Pid, syscall.SIGKILL) }

// inherited gives the name under which a child finds an open file, which may
// have none of its own, and what it must inherit for that.
func inherited(f *os.File) (name string, extra []*os.File) {
	return "/proc/self/fd/3", []*os.File{f}
}
