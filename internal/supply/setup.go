package supply

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"

	"plumbstride/internal/convert"
	"plumbstride/internal/form"
)

// Options of Setup.
type Options struct {
	// From is a folder that holds the two packages (.tgz, as `npm pack`
	// writes them) or the files of them that are needed; empty to fetch.
	From string
	// Env looks environment variables up; nil means the process's own.
	Env func(string) string
	// Progress is told what is done now, and how many bytes of how many; it
	// may be nil, and is called by one goroutine at a time.
	Progress func(step string, done, total int64)
}

// Setup puts in place what Find lacks, and nothing else. It may be stopped or
// killed at any time, and run by several processes at once. The error is a
// form.Error where the user can do something about it.
func Setup(ctx context.Context, o Options) (Kit, error) {
	if o.Env == nil {
		o.Env = os.Getenv
	}
	if o.Progress == nil {
		o.Progress = func(string, int64, int64) {}
	}
	p, err := placesOf(o.Env)
	if err != nil {
		return Kit{}, err
	}
	s := setup{places: p, Options: o}
	kit, lacks := p.find()
	for _, step := range s.steps(lacks) {
		if err := step(ctx); err != nil {
			return kit, err
		}
	}
	return Find(o.Env)
}

// setup is one run of Setup.
type setup struct {
	places
	Options
}

// steps chooses what has to be done, the decoder first: it is the one that may
// need the user.
func (s setup) steps(lacks []lack) []func(context.Context) error {
	var networks, library, decoder bool
	for _, l := range lacks {
		switch l.name {
		case "ffmpeg":
			decoder = true
		case "runtime":
			library = true
		default:
			networks = true
		}
	}
	var out []func(context.Context) error
	if decoder {
		out = append(out, s.decoder)
	}
	if (networks || library) && s.From == "" {
		out = append(out, s.npm)
	}
	if networks {
		out = append(out, s.networks)
	}
	if library {
		out = append(out, s.library)
	}
	return out
}

// networks fetches and converts the networks that are lacking.
func (s setup) networks(ctx context.Context) error {
	return s.within(ctx, s.models, func() error {
		lacking := map[string]model{}
		var wanted []member
		for _, m := range models() {
			if verify(s.model(m), m.size, m.sha256) != nil {
				lacking[m.from.path] = m
				wanted = append(wanted, m.from)
			}
		}
		if len(wanted) == 0 { // another set-up was faster
			return nil
		}
		src := source{Networks(), s.From, s.Progress}
		return s.explain(src, src.each(ctx, s.models, wanted, func(f member, r io.Reader) error {
			if err := ctx.Err(); err != nil {
				return context.Cause(ctx)
			}
			m := lacking[f.path]
			data, err := readWhole(f, r)
			if err != nil {
				return err
			}
			s.Progress("convert "+m.name, 0, m.size)
			onnx, err := convert.ONNX(data, m.spec())
			if err != nil {
				return fmt.Errorf("convert it: %w", err)
			}
			if err := place(s.model(m), m.size, m.sha256, bytes.NewReader(onnx)); err != nil {
				return fmt.Errorf("write %s (%d bytes, SHA-256 %x): %w", s.model(m), len(onnx), sha256.Sum256(onnx), err)
			}
			s.Progress("convert "+m.name, m.size, m.size)
			return nil
		}))
	})
}

// library fetches the inference library.
func (s setup) library(ctx context.Context) error {
	if !s.supported {
		return form.MissingError("there is no ready inference library for %s on %s: put ONNX Runtime's shared library, "+
			"1.14 or newer, into a folder and name the folder in %s", runtime.GOOS, runtime.GOARCH, RuntimeVariable)
	}
	return s.within(ctx, s.runtime, func() error {
		if _, _, err := s.places.library(); err == nil { // another set-up was faster
			return nil
		}
		src := source{Library(), s.From, s.Progress}
		return s.explain(src, src.each(ctx, s.runtime, s.platform.files, func(f member, r io.Reader) error {
			if err := ctx.Err(); err != nil {
				return context.Cause(ctx)
			}
			at := filepath.Join(s.runtime, filepath.Base(f.path))
			if err := place(at, f.size, f.sha256, r); err != nil {
				return fmt.Errorf("write %s: %w", at, err)
			}
			return nil
		}))
	})
}

// within works in a folder that no other set-up works in, cleared of what a
// killed one has left.
func (s setup) within(ctx context.Context, folder string, work func() error) error {
	said := false
	unlock, err := lock(ctx, folder, func() {
		if !said {
			s.Progress("wait for another set-up", 0, 0)
		}
		said = true
	})
	if err != nil {
		return s.explainFolder(folder, err)
	}
	defer unlock()
	if err := sweep(folder); err != nil {
		return s.explainFolder(folder, err)
	}
	return work()
}

func (s setup) explainFolder(folder string, err error) error {
	if errors.Is(err, fs.ErrPermission) || errors.Is(err, fs.ErrExist) {
		return form.MissingError("the folder %s can't be written (%w): make it writable, or name others in %s and %s",
			folder, err, ModelsVariable, RuntimeVariable)
	}
	return err
}

// explain turns what went wrong with a package into what the user can do.
func (s setup) explain(src source, err error) error {
	if err == nil || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	if s.From != "" {
		return form.MissingError("%s can't be set up from %s: %w. It must hold %s and %s, as `npm pack %s@%s` and "+
			"`npm pack %s@%s` write them on a machine with a network", src.pack.Name, s.From, err,
			Networks().File, Library().File, Networks().Name, Networks().Version,
			Library().Name, Library().Version)
	}
	return form.MissingError("set-up failed: %w. Without a network: bring %s in a folder and run: "+
		"plumbstride setup --from FOLDER", err, src.pack.File)
}

// npm installs npm where it is lacking.
func (s setup) npm(ctx context.Context) error {
	if _, err := exec.LookPath("npm"); err == nil {
		return nil
	}
	if err := s.install(ctx, "npm"); err != nil {
		return form.MissingError("npm, which fetches the packages, is lacking (%w). %s", err, howTo("npm", runtime.GOOS))
	}
	return nil
}

// decoder installs ffmpeg and ffprobe, which come together.
func (s setup) decoder(ctx context.Context) error {
	if err := s.install(ctx, "ffmpeg"); err != nil {
		return form.MissingError("ffmpeg with ffprobe, which decode the clips, is lacking (%w). %s",
			err, howTo("ffmpeg", runtime.GOOS))
	}
	return nil
}
