package check

import (
	"context"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"plumbstride/internal/clip"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
)

// Clips checks several clips of one runner who passes the camera, as one
// check; a single clip may show anything that Clip takes. Clips in which
// nobody runs past are refused by name.
func Clips(ctx context.Context, deps Deps, paths []string, ask Ask) (*Outcome, error) {
	if len(paths) == 0 {
		panic("check: Clips wants at least one clip")
	}
	dir := "" // made only where it is needed: a killed check leaves nothing
	if slices.ContainsFunc(paths, clip.Packed) {
		var err error
		if dir, err = os.MkdirTemp("", "plumbstride-"); err != nil {
			return nil, fmt.Errorf("can't make a folder for temporary files: %w", err)
		}
		defer os.RemoveAll(dir)
	}
	var all []*sight
	var notes []string
	var films []*film
	var names []string
	of := map[*sight]*film{}
	if ask.View == form.ViewBack {
		if len(paths) > 1 {
			return nil, form.UsageError("a clip from behind is checked on its own; name one")
		}
		return behindAlone(ctx, deps, paths[0], ask)
	}
	for _, path := range paths {
		f, err := open(ctx, deps, path, dir, ask)
		if err == nil && f.stands(ask) {
			if len(paths) == 1 {
				return f.standing(ctx, deps, ask)
			}
			err = form.ClipError("it shows somebody standing; check it on its own")
		}
		var seen []*sight
		if err == nil {
			seen, err = f.passes(ctx, deps, ask)
		}
		if err != nil && len(paths) > 1 && form.CodeOf(err) == form.CodeClip {
			return nil, form.ClipError("%s: %w", filepath.Base(path), err)
		}
		if err != nil {
			return nil, err
		}
		for _, s := range seen {
			if len(paths) > 1 {
				if s.gait.Setting != gait.OverGround {
					return nil, form.ClipError("%s shows a runner who stays in place; several clips are only taken together where the runner passes the camera. Check it on its own", filepath.Base(path))
				}
				s.file = filepath.Base(path)
			}
			of[s] = f
		}
		all, films = append(all, seen...), append(films, f)
		names = append(names, filepath.Base(f.info.File))
		notes = append(notes, f.notesAmong(len(paths))...)
	}
	return pooled(ctx, deps, ask, batch{all, films, of, names, notes})
}

// batch is every pass of all clips: which film each is of, the clips' names,
// and what is to be noted of them.
type batch struct {
	passes []*sight
	films  []*film
	of     map[*sight]*film
	names  []string
	notes  []string
}

// pooled is the check of all passes as one, and of the clip from behind, if
// there is one.
func pooled(ctx context.Context, deps Deps, ask Ask, b batch) (*Outcome, error) {
	seen, lead := pool(b.passes)
	behind, err := second(ctx, deps, ask, seen)
	if err != nil {
		return nil, err
	}
	seen.join(behind)
	out := seen.outcome(deps, ask)
	best := b.of[lead]
	out.Card.Clip.File = strings.Join(b.names, " + ")
	out.Card.Networks = networksOf(b.films, deps)
	out.Card.Notes = append(out.Card.Notes, once(b.notes)...)
	out.Track = best.laid()
	frames := func(ctx context.Context, times []float64) ([]*image.RGBA, error) {
		return clip.Pick(ctx, deps.Tools, best.info, times)
	}
	near, err := pictures(ctx, frames, seen, ask)
	if err != nil {
		return nil, err
	}
	out.Card.Pictures = append(near, out.Card.Pictures...)
	if ask.Stride {
		out.Stills, err = lead.stills(ctx, frames, ask)
	}
	return out, err
}

// open reads what a file is and watches it. dir is for temporary files, which
// the film needs as long as it is used.
func open(ctx context.Context, deps Deps, path, dir string, ask Ask) (*film, error) {
	readable, err := clip.Unpack(ctx, path, dir)
	if err != nil {
		return nil, err
	}
	info, err := clip.Probe(ctx, deps.Tools, readable, clip.Limits{MaxSeconds: ask.LongestS})
	if err != nil {
		return nil, err
	}
	info.File = path
	return watch(ctx, deps, info, ask)
}

// passes understands the passes of a runner.
func (f *film) passes(ctx context.Context, deps Deps, ask Ask) ([]*sight, error) {
	if ask.View != "" {
		f.found.Track.View = ask.View
	}
	seen, err := f.understand(ctx, deps, ask)
	f.forget()
	return seen, err
}

// notesAmong are the clip's notes, with its name where there are several.
func (f *film) notesAmong(clips int) []string {
	notes := f.notes(f.info)
	for i := range notes {
		if clips > 1 {
			notes[i] = filepath.Base(f.info.File) + ": " + notes[i]
		}
	}
	return notes
}

// once keeps the first of equal notes.
func once(notes []string) []string {
	var out []string
	seen := map[string]bool{}
	for _, n := range notes {
		if !seen[n] {
			seen[n] = true
			out = append(out, n)
		}
	}
	return out
}
