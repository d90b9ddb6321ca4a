package check

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/measure"
)

// passesOf understands a track pass by pass: a runner over ground may go by
// several times, both ways. Somebody who stays in place is one pass. The error
// is that of the first pass where none can be used; notes tell of passes left
// out.
func passesOf(points form.Track, level gait.Level, ask Ask, clk clock) (passes []*sight, notes []string, err error) {
	slowed := math.Max(clk.slowed, 1)
	parts := gait.Passes(quicken(points, slowed))
	if len(parts) == 1 {
		part := quicken(parts[0], 1/slowed)
		if len(part.Frames) < len(points.Frames) || part.Facing != points.Facing {
			ask.Facing = form.Both // the way the runner goes tells
		}
		s, err := understand(part, level, ask, clk)
		if err != nil {
			return nil, nil, err
		}
		return []*sight{s}, nil, nil
	}
	ask.Facing = form.Both
	for _, part := range parts {
		part = quicken(part, 1/slowed)
		s, e := understand(part, level, ask, clk)
		if e != nil {
			if err == nil || errors.Is(e, gait.ErrWalking) {
				err = e
			}
			notes = append(notes, leftOut(part, e))
			continue
		}
		clk = s.clock
		passes = append(passes, s)
	}
	if len(passes) == 0 {
		return nil, nil, err
	}
	return passes, notes, nil
}

// leftOut says which pass was not used and why.
func leftOut(part form.Track, why error) string {
	from, to := part.Frames[0].Time, part.Frames[len(part.Frames)-1].Time
	reason := "it shows too little of a run"
	if errors.Is(why, gait.ErrWalking) {
		reason = "it is a walk"
	}
	return fmt.Sprintf("The pass from %.1f to %.1f s was left out: %s.", from, to, reason)
}

// pool makes one sight out of the passes: the measures of all, and what is
// shown – events, pictures, plane – from the pass seen best, the lead.
func pool(passes []*sight) (whole, lead *sight) {
	best := passes[0]
	for _, s := range passes[1:] {
		if s.better(best) {
			best = s
		}
	}
	if len(passes) == 1 {
		return best, best
	}
	out := *best
	out.passes = passes
	var in []measure.Pass
	for _, s := range passes {
		in = append(in, measure.Pass{
			Near: s.gait.Near, SpeedMS: s.gait.SpeedMS, ScaleSD: s.gait.Plane.ScaleSD,
			Measures: s.measures, Refused: s.refused,
		})
	}
	out.measures, out.refused, out.notes = measure.Pool(in)
	out.notes = append([]string{passNote(passes)}, out.notes...)
	return &out, best
}

// better tells whether a pass shows more steps side-on than another.
func (s *sight) better(o *sight) bool {
	steps := func(s *sight) int {
		return len(s.gait.Cycles[form.Left].Anchors) + len(s.gait.Cycles[form.Right].Anchors)
	}
	return steps(s) > steps(o)
}

// beats is how many steps a sight is made from.
func (s *sight) beats() int {
	if s.passes == nil {
		return len(s.gait.Beats[form.Left]) + len(s.gait.Beats[form.Right])
	}
	n := 0
	for _, p := range s.passes {
		n += p.beats()
	}
	return n
}

// passNote says what was pooled.
func passNote(passes []*sight) string {
	way := map[form.Side]int{}
	steps := 0
	for _, s := range passes {
		way[s.gait.Plane.Facing]++
		steps += s.beats()
	}
	text := fmt.Sprintf("%d passes with %d steps are taken together", len(passes), steps)
	if l, r := way[form.Left], way[form.Right]; l > 0 && r > 0 {
		return fmt.Sprintf("%s: %d to the left and %d to the right, so that each side was once the near one.", text, l, r)
	}
	return fmt.Sprintf("%s, all to the %s: let the runner come back too, so that both sides are once the near one.", text, passes[0].gait.Plane.Facing)
}

// cardPasses lists the passes for the card's JSON, in the clip's own times;
// nothing where there is only one.
func (s *sight) cardPasses() []card.Pass {
	var out []card.Pass
	for _, p := range s.passes {
		out = append(out, card.Pass{
			File: p.file, FromS: p.track.Frames[0].Time, ToS: p.track.Frames[len(p.track.Frames)-1].Time,
			Facing: p.gait.Plane.Facing.String(), SpeedMS: card.Number(p.gait.SpeedMS), Steps: p.beats(),
		})
	}
	return out
}

// speedMS is the passes' mean speed.
func (s *sight) speedMS() float64 {
	if s.passes == nil {
		return s.gait.SpeedMS
	}
	sum := 0.0
	for _, p := range s.passes {
		sum += p.gait.SpeedMS / float64(len(s.passes))
	}
	return sum
}

// allEvents are the events of all passes of one file, in the clip's own times.
func (s *sight) allEvents() []form.Event {
	if s.passes == nil {
		return s.events()
	}
	var out []form.Event
	for _, p := range s.passes {
		if p.file == s.file {
			out = append(out, p.events()...)
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Time < out[j].Time })
	return out
}

// gaitNotes are the stages' notes, each once.
func (s *sight) gaitNotes() []string {
	list := s.passes
	if list == nil {
		list = []*sight{s}
	}
	var out []string
	seen := map[string]bool{}
	for _, p := range list {
		for _, n := range append(p.clock.told(), p.gait.Notes...) {
			if !seen[n] {
				seen[n] = true
				out = append(out, n)
			}
		}
	}
	return append(out, s.notes...)
}
