package supply

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"

	"plumbstride/internal/form"
)

// Kit is all that a check needs from outside the program.
type Kit struct {
	Runtime string            // path of the inference library
	Models  map[string]string // detector, lite, full, heavy → path
	Hash    map[string]string // the same names and "runtime" → SHA-256 in hex
	FFmpeg  string            // path of the decoder
	FFprobe string            // path of its companion that reads the container
}

// Find looks for everything and verifies it. Where something is lacking or
// damaged, the error is a form.Error that names it and says what to do; the
// kit then holds what was found.
func Find(env func(string) string) (Kit, error) {
	p, err := placesOf(env)
	if err != nil {
		return Kit{}, err
	}
	kit, lacks := p.find()
	if len(lacks) == 0 {
		return kit, nil
	}
	var words []string
	for _, l := range lacks {
		words = append(words, l.what)
	}
	return kit, form.MissingError("this machine lacks %s; run: plumbstride setup", strings.Join(words, ", "))
}

// lack is one thing that is not there.
type lack struct{ name, what string }

// places is where things are looked for and put.
type places struct {
	models, runtime string
	ownRuntime      bool // the user chose the folder, and may keep another version there
	platform        platform
	supported       bool // the runtime package has a library for this machine
}

// placesOf reads the environment.
func placesOf(env func(string) string) (places, error) {
	p := places{models: env(ModelsVariable), runtime: env(RuntimeVariable)}
	p.ownRuntime = p.runtime != ""
	p.platform, p.supported = platformOf(runtime.GOOS, runtime.GOARCH)
	if p.models != "" && p.runtime != "" {
		return p, nil
	}
	cache, err := os.UserCacheDir()
	if err != nil {
		return p, form.MissingError("this user has no cache folder (%w); name folders in %s and %s",
			err, ModelsVariable, RuntimeVariable)
	}
	if p.models == "" {
		p.models = filepath.Join(cache, "plumbstride", "models")
	}
	if p.runtime == "" {
		p.runtime = filepath.Join(cache, "plumbstride", "runtime")
	}
	return p, nil
}

// find verifies all files, a few at a time, and looks for the programs.
func (p places) find() (Kit, []lack) {
	kit := Kit{Models: map[string]string{}, Hash: map[string]string{}}
	list := models()
	faults := make([]error, len(list)+1)
	var all sync.WaitGroup
	for i, m := range list {
		all.Go(func() { faults[i] = verify(p.model(m), m.size, m.sha256) })
	}
	var library, hash string
	all.Go(func() { library, hash, faults[len(list)] = p.library() })
	all.Wait()

	var lacks []lack
	for i, m := range list {
		if faults[i] != nil {
			lacks = append(lacks, lack{m.name, fmt.Sprintf("the network %s (%v)", m.name, faults[i])})
			continue
		}
		kit.Models[m.name], kit.Hash[m.name] = p.model(m), m.sha256
	}
	if err := faults[len(list)]; err != nil {
		lacks = append(lacks, lack{"runtime", fmt.Sprintf("the inference library (%v)", err)})
	} else {
		kit.Runtime, kit.Hash["runtime"] = library, hash
	}
	for name, path := range map[string]*string{"ffmpeg": &kit.FFmpeg, "ffprobe": &kit.FFprobe} {
		found, err := exec.LookPath(name)
		if err == nil {
			*path = found
		}
	}
	if kit.FFmpeg == "" || kit.FFprobe == "" {
		lacks = append(lacks, lack{"ffmpeg", "the decoder ffmpeg with ffprobe"})
	}
	return kit, lacks
}

func (p places) model(m model) string { return filepath.Join(p.models, m.name+".onnx") }

// library finds the inference library. In the user's cache it is the version
// of the catalogue; in a folder of the user's own it may be another.
func (p places) library() (path, hash string, err error) {
	if p.supported {
		for _, f := range p.platform.files {
			at := filepath.Join(p.runtime, filepath.Base(f.path))
			if err = verify(at, f.size, f.sha256); err != nil {
				break
			}
		}
		if err == nil {
			return filepath.Join(p.runtime, p.platform.library), p.platform.files[0].sha256, nil
		}
	} else {
		err = fmt.Errorf("none is known for %s on %s", runtime.GOOS, runtime.GOARCH)
	}
	if !p.ownRuntime {
		return "", "", err
	}
	for _, name := range libraryNames() {
		at := filepath.Join(p.runtime, name)
		if hash, other := hashOf(at); other == nil {
			return at, hash, nil
		}
	}
	return "", "", err
}

// libraryNames lists what the inference library is called here.
func libraryNames() []string {
	switch runtime.GOOS {
	case "windows":
		return []string{"onnxruntime.dll"}
	case "darwin":
		return []string{"libonnxruntime.1.dylib", "libonnxruntime.dylib"}
	}
	return []string{"libonnxruntime.so.1", "libonnxruntime.so"}
}

// errDamaged says that a file is not the one that is known.
var errDamaged = errors.New("damaged or of another version")

// verify compares a file with what it must be.
func verify(path string, size int64, want string) error {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return errors.New("not there")
	case err != nil:
		return err
	case !info.Mode().IsRegular() || info.Size() != size:
		return errDamaged
	}
	got, err := hashOf(path)
	if err == nil && got != want {
		err = errDamaged
	}
	return err
}

// hashOf is the SHA-256 of a file, in hex.
func hashOf(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// Models lists the names of the networks: detector finds people, the others
// find a person's points.
func Models() []string {
	var names []string
	for _, m := range models() {
		names = append(names, m.name)
	}
	return names
}
