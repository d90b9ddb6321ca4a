package check

import (
	"cmp"
	"context"
	"image"
	stddraw "image/draw"
	"math"
	"slices"

	"golang.org/x/image/draw"

	"plumbstride/internal/card"
	"plumbstride/internal/clip"
	"plumbstride/internal/form"
	"plumbstride/internal/geom"
)

// Still is one picture of a foot's stride, cropped to the body and made small.
// Faces are blurred unless the coach asked otherwise. Place takes a place in
// the track into it.
type Still struct {
	Side  form.Side
	TimeS float64 // of the frame, in the clip's own time
	Image *image.RGBA
	Place card.Place
}

// Around an event, the neighbours before and behind are kept too, at least
// neighbourS of real time apart, so that the coach can look where the foot
// really lands.
const (
	neighbours = 2
	neighbourS = 0.008
	stillTall  = 640 // px, the most
)

// stills cuts the phases of one stride of each foot, from the middle of the
// pass, with the frames around contact and toe-off.
func (s *sight) stills(ctx context.Context, deps Deps, info *clip.Info, ask Ask) ([]Still, error) {
	events := s.events()
	var out []Still
	for _, side := range []form.Side{form.Left, form.Right} {
		c := s.gait.Cycles[side]
		at := (c.Anchors[len(c.Anchors)/2] + c.ContactS) * s.clock.slowed
		var frames []int
		for _, p := range card.Phases(events, side, at, s.clock.slowed) {
			frames = append(frames, s.framesOf(p)...)
		}
		slices.Sort(frames)
		frames = slices.Compact(frames)
		frames = slices.DeleteFunc(frames, func(k int) bool { return !ask.ShowFace && !s.headSeen(k) })
		area := s.common(frames, image.Rect(0, 0, info.Width, info.Height))
		for some := range slices.Chunk(frames, 7) { // what is decoded at full size at once
			cut, err := s.cutStills(ctx, deps, info, side, some, area, ask)
			if err != nil {
				return nil, err
			}
			out = append(out, cut...)
		}
	}
	return out, nil
}

// framesOf are the frames of the pass that are kept of a phase.
func (s *sight) framesOf(p card.Phase) []int {
	t := s.gait.Motion.Times
	k, _ := slices.BinarySearch(t, p.TimeS/s.clock.slowed)
	k = min(k, len(t)-1)
	if k > 0 && p.TimeS/s.clock.slowed-t[k-1] < t[k]-p.TimeS/s.clock.slowed {
		k--
	}
	if p.Name != card.InitialContact && p.Name != card.ToeOff {
		return []int{k}
	}
	frame := (t[len(t)-1] - t[0]) / float64(len(t)-1)
	step := max(int(math.Round(neighbourS/frame)), 1)
	var out []int
	for i := k - neighbours*step; i <= k+neighbours*step; i += step {
		if i >= 0 && i < len(t) {
			out = append(out, i)
		}
	}
	return out
}

// headSeen tells whether the face in a frame can be found, to be blurred.
func (s *sight) headSeen(k int) bool {
	_, _, _, ok := s.face(s.gait.Motion.Times[k])
	return ok
}

// common is one part of the picture that shows the body in all the frames,
// where it hardly moves through the picture; empty where it does.
func (s *sight) common(frames []int, bounds image.Rectangle) image.Rectangle {
	var all image.Rectangle
	widest := 0
	for _, k := range frames {
		one := s.bodyArea(k, bounds)
		all, widest = all.Union(one), max(widest, one.Dx())
	}
	if all.Dx()*2 > widest*3 {
		return image.Rectangle{}
	}
	return all
}

func (s *sight) bodyArea(k int, bounds image.Rectangle) image.Rectangle {
	t := s.gait.Motion.Times[k]
	return around(bounds, func(j form.Joint) (geom.Vec, bool) {
		v, _, ok := s.gait.Motion.Spot(j, t)
		return s.shown(v, t*s.clock.slowed), ok
	})
}

func (s *sight) cutStills(ctx context.Context, deps Deps, info *clip.Info, side form.Side, frames []int, area image.Rectangle, ask Ask) ([]Still, error) {
	times := make([]float64, len(frames))
	for i, k := range frames {
		times[i] = s.track.Frames[k].Time
	}
	pictures, err := clip.Pick(ctx, deps.Tools, info, times)
	if err != nil {
		return nil, err
	}
	out := make([]Still, len(frames))
	for i, k := range frames {
		t := s.gait.Motion.Times[k]
		img := pictures[i]
		if !ask.ShowFace {
			if x, y, r, ok := s.face(t); ok {
				img = card.BlurFace(img, x, y, r)
			}
		}
		cut := area
		if cut.Empty() {
			cut = s.bodyArea(k, img.Bounds())
		}
		small := math.Min(1, stillTall/float64(cmp.Or(cut.Dy(), 1)))
		to := image.NewRGBA(image.Rect(0, 0, int(small*float64(cut.Dx())), int(small*float64(cut.Dy()))))
		draw.ApproxBiLinear.Scale(to, to.Bounds(), img, cut, stddraw.Src, nil)
		out[i] = Still{Side: side, TimeS: times[i], Image: to, Place: s.place(t, cut.Min).Then(card.Scaled(small))}
	}
	return out, nil
}
