package supply

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"runtime"
)

// errNoInstaller says that this program may not install on this machine.
var errNoInstaller = errors.New("it can be installed unasked only on Debian or Ubuntu, as root or with sudo that asks for no password")

// install installs a package of the system where that can be done unasked:
// with apt-get, as root or through sudo without a password.
func (s setup) install(ctx context.Context, name string) error {
	apt, err := exec.LookPath("apt-get")
	if err != nil || runtime.GOOS != "linux" {
		return errNoInstaller
	}
	var before []string
	if os.Geteuid() != 0 {
		sudo, err := exec.LookPath("sudo")
		if err != nil || runChild(ctx, "", nil, sudo, "-n", "true") != nil {
			return errNoInstaller
		}
		before = []string{sudo, "-n"}
	}
	aptGet := func(args ...string) error {
		line := append(append([]string{}, before...), apt, "-q")
		line = append(line, args...)
		return runChild(ctx, "", []string{"DEBIAN_FRONTEND=noninteractive"}, line[0], line[1:]...)
	}
	s.Progress("install "+name, 0, 0)
	if err := aptGet("install", "-y", "--no-install-recommends", name); err == nil {
		return nil
	}
	// The lists of packages may be lacking or old.
	s.Progress("renew the list of packages", 0, 0)
	if err := aptGet("update"); err != nil {
		return err
	}
	s.Progress("install "+name, 0, 0)
	return aptGet("install", "-y", "--no-install-recommends", name)
}

// howTo says how a person gets a program on a system.
func howTo(name, system string) string {
	return map[string]map[string]string{
		"npm": {
			"linux":   "Debian, Ubuntu: sudo apt-get install npm. Fedora: sudo dnf install nodejs-npm. Then run: plumbstride setup",
			"darwin":  "With Homebrew: brew install node. Then run: plumbstride setup",
			"windows": "winget install OpenJS.NodeJS.LTS, then open a new window and run: plumbstride setup",
		},
		"ffmpeg": {
			"linux":   "Debian, Ubuntu: sudo apt-get install ffmpeg. Fedora: sudo dnf install ffmpeg-free. Then run: plumbstride setup",
			"darwin":  "With Homebrew: brew install ffmpeg. Then run: plumbstride setup",
			"windows": "winget install Gyan.FFmpeg, then open a new window and run: plumbstride setup",
		},
	}[name][system]
}
