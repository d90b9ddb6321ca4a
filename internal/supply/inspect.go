package supply

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"time"
)

// Finding is one line of what `plumbstride doctor` tells.
type Finding struct {
	Name   string // what was looked at
	OK     bool
	Detail string // what was found
	Fix    string // what to do about it; empty where nothing is to be done
}

// Inspect looks at everything that Find needs and Setup uses, and changes
// nothing.
func Inspect(env func(string) string) []Finding {
	p, err := placesOf(env)
	if err != nil {
		return []Finding{{Name: "cache folder", Detail: err.Error(), Fix: "Name folders in " + ModelsVariable + " and " + RuntimeVariable + "."}}
	}
	const fix = "Run: plumbstride setup (without a network: plumbstride setup --from FOLDER)"
	var out []Finding
	kit, lacks := p.find()
	wrong := map[string]string{}
	for _, l := range lacks {
		wrong[l.name] = l.what
	}
	for _, m := range models() {
		f := Finding{Name: "network " + m.name, OK: wrong[m.name] == "", Detail: p.model(m)}
		if !f.OK {
			f.Detail, f.Fix = wrong[m.name]+": "+p.model(m), fix
		}
		out = append(out, f)
	}
	f := Finding{Name: "inference library", OK: wrong["runtime"] == "", Detail: kit.Runtime}
	if !f.OK {
		f.Detail, f.Fix = wrong["runtime"]+": "+p.runtime, fix
		if !p.supported {
			f.Fix = "Put ONNX Runtime's shared library into a folder and name the folder in " + RuntimeVariable + "."
		}
	}
	out = append(out, f, program("ffmpeg", kit.FFmpeg, "ffmpeg"), program("ffprobe", kit.FFprobe, "ffmpeg"))
	npm, _ := exec.LookPath("npm")
	if n := program("npm", npm, "npm"); n.OK || len(lacks) > 0 {
		out = append(out, n)
	} else {
		out = append(out, Finding{Name: "npm", OK: true, Detail: "not there, and not needed now"})
	}
	return append(out, writable("folder of the networks", p.models), writable("folder of the library", p.runtime))
}

// program tells where a program is and what it says of its version.
func program(name, path, pack string) Finding {
	if path == "" {
		return Finding{Name: name, Detail: "not on the path", Fix: howTo(pack, runtime.GOOS)}
	}
	flag := "-version"
	if name == "npm" {
		flag = "--version"
	}
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	said, err := exec.CommandContext(ctx, path, flag).Output()
	if err != nil {
		return Finding{Name: name, Detail: fmt.Sprintf("%s does not run: %v", path, err), Fix: howTo(pack, runtime.GOOS)}
	}
	first, _, _ := strings.Cut(strings.TrimSpace(string(said)), "\n")
	return Finding{Name: name, OK: true, Detail: path + ": " + strings.TrimSpace(first)}
}

// writable tells whether set-up could write into the folder.
func writable(name, folder string) Finding {
	f := Finding{Name: name, OK: true, Detail: folder}
	at := folder
	for {
		if info, err := os.Stat(at); err == nil {
			if !info.IsDir() {
				f.OK, f.Detail = false, at+" is no folder"
				f.Fix = "Remove it, or name other folders in " + ModelsVariable + " and " + RuntimeVariable + "."
				return f
			}
			break
		}
		up := filepath.Dir(at)
		if up == at {
			break
		}
		at = up
	}
	probe, err := os.CreateTemp(at, leftover+"*")
	if err != nil {
		f.Detail = folder + " (read only: set-up can't change it)"
		return f
	}
	probe.Close()
	os.Remove(probe.Name())
	return f
}
