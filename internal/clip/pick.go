package clip

import (
	"context"
	"errors"
	"fmt"
	"image"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// Pick gives the pictures nearest to some times (s, on the scale of
// Info.Times), at the full size shown and in colour. A picture is only given
// if the decoder says that it is the one; the order is that of times, and the
// same picture asked for twice is shared. Errors are form.Errors unless the
// context has ended.
func Pick(ctx context.Context, tools Tools, info *Info, times []float64) ([]*image.RGBA, error) {
	if info == nil || info.path == "" || len(info.line.ticks) == 0 {
		panic("clip: Pick wants an Info made by Probe")
	}
	want := make([]int, len(times))
	for i, t := range times {
		k, err := info.pictureAt(t)
		if err != nil {
			return nil, err
		}
		want[i] = k
	}
	distinct := slices.Compact(slices.Sorted(slices.Values(want)))
	found := make(map[int]*image.RGBA, len(distinct))
	for _, group := range info.neighbours(distinct) {
		if err := info.pick(ctx, tools, group, found); err != nil {
			return nil, err
		}
	}
	pictures := make([]*image.RGBA, len(times))
	for i, k := range want {
		pictures[i] = found[k]
	}
	return pictures, nil
}

// pictureAt gives the index of the picture nearest to a time, which must not
// lie outside the clip by more than a step.
func (i *Info) pictureAt(t float64) (int, error) {
	last := i.Times[len(i.Times)-1]
	step := medianStep(i.Times)
	if !(t >= -step-1e-6 && t <= last+step+1e-6) {
		return 0, fmt.Errorf("clip: %g s lies outside the clip, which is %g s long", t, i.DurationS())
	}
	best := 0
	for k, v := range i.Times {
		if abs(v-t) < abs(i.Times[best]-t) {
			best = k
		}
	}
	return best, nil
}

func abs(x float64) float64 { return max(x, -x) }

// neighbours puts pictures that lie within half a second of each other into
// one group, to be had with one run of the decoder. A file without
// presentation times can't be entered half-way: there all are one group.
func (i *Info) neighbours(indices []int) [][]int {
	var groups [][]int
	for n, k := range indices {
		if n > 0 && (i.line.byOrder || i.Times[k]-i.Times[indices[n-1]] < 0.5) {
			groups[len(groups)-1] = append(groups[len(groups)-1], k)
			continue
		}
		groups = append(groups, []int{k})
	}
	return groups
}

// pick decodes one group of pictures, entering the file near the first if it
// can be, else from its beginning.
func (i *Info) pick(ctx context.Context, tools Tools, group []int, found map[int]*image.RGBA) error {
	seek := i.seekable(group[0])
	err := i.pickFrom(ctx, tools, group, seek, found)
	if seek && errors.Is(err, errNotThere) && ctx.Err() == nil {
		err = i.pickFrom(ctx, tools, group, false, found)
	}
	return err
}

// pickPatience is how long one picture may take.
const pickPatience = 2 * time.Minute

var errNotThere = errors.New("clip: the decoder did not give the picture asked for")

func (i *Info) pickFrom(ctx context.Context, tools Tools, group []int, seek bool, found map[int]*image.RGBA) error {
	d, err := i.decode(ctx, tools, order{
		want: group, silence: pickPatience,
		chain: func(m mark) string { return i.pickFilters(m, group) },
	}, seek)
	if err != nil {
		return err
	}
	got := 0
	for n, k := range group {
		img := image.NewRGBA(image.Rect(0, 0, i.Width, i.Height))
		index, perr := d.picture(img.Pix, group, n)
		if perr != nil || index != k {
			err = errors.Join(errNotThere, perr)
			break
		}
		found[k] = img
		got++
	}
	if got == len(group) {
		err = errEnough // what follows is not wanted
	}
	ended := d.end(err)
	switch {
	case ctx.Err() != nil:
		return context.Cause(ctx)
	case got == len(group):
		return nil
	}
	why := "it is not there"
	if d.said.count > 0 {
		why = d.said.words()
	}
	return because(errors.Join(err, ended), "the picture at %.2f s of %s can't be read again: %s",
		i.Times[group[got]], printable(filepath.Base(i.File), 80), why)
}

// pickFilters keeps the pictures of a group and makes them R'G'B'.
func (i *Info) pickFilters(name mark, group []int) string {
	key, at := "pts", func(k int) int64 { return i.line.ticks[k] }
	if i.line.byOrder || i.Still {
		key, at = "n", func(k int) int64 { return int64(k) }
	}
	terms := make([]string, len(group))
	for n, k := range group {
		terms[n] = fmt.Sprintf("eq(%s\\,%d)", key, at(k))
	}
	w, h := i.Width, i.Height
	if i.turn.swaps() {
		w, h = h, w
	}
	chain := append([]string{"select=" + strings.Join(terms, "+"), name.filter()}, i.toneFilters()...)
	chain = append(chain,
		fmt.Sprintf("scale=w=%d:h=%d:flags=bicubic+accurate_rnd+full_chroma_int:%s:in_color_matrix=%s", w, h, i.fromStored(), i.matrix()),
		"format=rgba")
	return strings.Join(append(chain, i.turn.filters()...), ",")
}
