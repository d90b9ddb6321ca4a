package supply

import (
	"os/exec"
	"syscall"
)

// tieToParent ends the child when this program is killed.
func tieToParent(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGTERM}
}
