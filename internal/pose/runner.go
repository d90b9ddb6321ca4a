package pose

import (
	"math"

	"plumbstride/internal/form"
)

// leadRatio keeps the lead from changing to and fro.
const leadRatio = 1.2

// chooseRunner gives the person who most looks like the runner: the largest
// sum of likeness over the clip. Whoever leads now stays unless another is
// clearly ahead; nil where nobody has been seen often enough.
func chooseRunner(people []*person, lead *person) *person {
	best := lead
	if best != nil && best.merged {
		best = nil
	}
	for _, p := range people {
		switch {
		case p.merged || p.steps < confirmSteps || p == best:
		case best == nil || p.score > best.score*ratioFor(best, lead):
			best = p
		}
	}
	return best
}

func ratioFor(best, lead *person) float64 {
	if best == lead {
		return leadRatio
	}
	return 1
}

// Limits within which a measured body is the runner's while another person
// is in the way: sides of the region, ratio of sizes.
const (
	hiddenOff  = 0.05
	hiddenSize = 1.12
)

// hideOthers marks the crops in which the network measured somebody who
// passes before or behind the runner: the other's region is in the way, and
// the measured body is not where the runner was expected or not of their size.
func hideOthers(crops []*Crop, runner *person, people []*person, frames []form.Frame) {
	for i, c := range crops {
		if c == nil || c.seen == nil {
			continue
		}
		body := c.seen.next(c.Region, bodyFactor)
		if body.fits(c.Region, hiddenOff, hiddenSize) {
			continue
		}
		for _, p := range people {
			if p == runner || p.merged || p.steps < confirmSteps {
				continue
			}
			other := p.regionAt(frames[i].Time).Scaled(c.scale)
			if other.None() {
				continue
			}
			size := math.Max(other.Side, c.Region.Side)
			if math.Abs(other.X-c.Region.X) < 1.5*contestWidth*size {
				c.hidden = true
			}
		}
	}
}

// CutOff tells in which share (0…1) of the frames with the runner some part
// of them lay outside the picture.
type CutOff struct {
	Head, Feet, Left, Right, Any float64
}

// cutOff counts the frames in which the head's points (nose, eyes, ears) or
// the feet's (ankles, heels, toes) lie above or below the picture, or any
// point beyond its left or right edge.
func cutOff(track form.Track) CutOff {
	var c CutOff
	n := 0
	for t := range track.Frames {
		f := &track.Frames[t]
		if !f.Spots[0].Seen() {
			continue
		}
		n++
		var head, feet, left, right bool
		for j, s := range f.Spots {
			if !s.Seen() {
				continue
			}
			point := form.Joint(j).Point()
			head = head || point <= form.Ear && s.Y < 0
			feet = feet || point >= form.Ankle && s.Y > float64(track.Height)
			left = left || s.X < 0
			right = right || s.X > float64(track.Width)
		}
		for _, part := range []struct {
			out   bool
			share *float64
		}{{head, &c.Head}, {feet, &c.Feet}, {left, &c.Left}, {right, &c.Right}, {head || feet || left || right, &c.Any}} {
			if part.out {
				*part.share++
			}
		}
	}
	for _, share := range []*float64{&c.Head, &c.Feet, &c.Left, &c.Right, &c.Any} {
		if n > 0 {
			*share /= float64(n)
		}
	}
	return c
}
