package pose

import (
	"context"
	"fmt"
)

// Refine has chosen frames of a Result looked at again by the heavier network
// Options.Refine names, from the crops kept, in several sessions side by side,
// and gives the Result with their points in place (Net tells which). frames
// are entries of the Result; those without a kept crop stay as they are, and
// so does the Result given in. The leg network's points are left out, so that
// all of the body is the whole-body networks'.
func Refine(ctx context.Context, nets Networks, found *Result, frames []int, o Options) (*Result, error) {
	o = o.withDefaults()
	out := *found
	out.crops = make([]*Crop, len(found.crops))
	for i, c := range found.crops {
		if out.crops[i] = c; c != nil && c.legs != nil {
			plain := *c
			plain.legs = nil
			out.crops[i] = &plain
		}
	}
	out.Net = append([]string(nil), found.Net...)
	out.Depth = append(found.Depth[:0:0], found.Depth...)
	out.raw.Frames = append(found.raw.Frames[:0:0], found.raw.Frames...)

	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	t := newTeam(ctx, nets, o.Refine, o)
	defer t.close()
	chosen := make(map[int]bool, len(frames))
	for _, i := range frames {
		if i < 0 || i >= len(out.crops) {
			return nil, fmt.Errorf("pose: Refine: frame %d of %d", i, len(out.crops))
		}
		if c := out.crops[i]; !chosen[i] && c != nil && c.pic != nil && c.net != o.Refine {
			chosen[i] = true
			again := *c
			out.crops[i] = &again
			t.measure(&again)
			if o.Progress != nil {
				o.Progress(len(chosen))
			}
		}
	}
	if err := t.wait(); err != nil {
		return nil, err
	}
	out.assemble()
	return &out, nil
}

// Forget lets go of the crops' pictures; Refine then has nothing to look at.
func (r *Result) Forget() {
	for _, c := range r.crops {
		if c != nil {
			c.pic = nil
		}
	}
}
