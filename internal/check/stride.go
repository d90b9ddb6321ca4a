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

// Neighbours is how many frames before and behind an event are kept too, at
// least neighbourS of real time apart, so that the coach can look where the
// foot really lands.
const (
	Neighbours = 2
	neighbourS = 0.008
	stillTall  = 640 // px, the most
)

// stills cuts the phases of one stride of each foot, from the middle of the
// pass, with the frames around contact and toe-off.
func (s *sight) stills(ctx context.Context, pick Frames, ask Ask) ([]Still, error) {
	events := s.events()
	times := make([]float64, len(s.track.Frames))
	for i := range times {
		times[i] = s.track.Frames[i].Time
	}
	var out []Still
	for _, side := range []form.Side{form.Left, form.Right} {
		c := s.gait.Cycles[side]
		at := (c.Anchors[len(c.Anchors)/2] + c.ContactS) * s.clock.slowed
		var frames []int
		for _, p := range card.Phases(events, side, at, s.clock.slowed) {
			frames = append(frames, FramesOf(p, times, s.clock.slowed)...)
		}
		slices.Sort(frames)
		frames = slices.Compact(frames)
		frames = slices.DeleteFunc(frames, func(k int) bool { return !ask.ShowFace && !s.headSeen(k) })
		area := s.common(frames, image.Rect(0, 0, s.track.Width, s.track.Height))
		for some := range slices.Chunk(frames, 7) { // what is decoded at full size at once
			cut, err := s.cutStills(ctx, pick, side, some, area, ask)
			if err != nil {
				return nil, err
			}
			out = append(out, cut...)
		}
	}
	return out, nil
}

// FramesOf are the frames that are looked at for a phase: the nearest and,
// around contact and toe-off, Neighbours before and behind. times are the
// frames' in the clip's own clock, which runs slowed times slower than life.
func FramesOf(p card.Phase, times []float64, slowed float64) []int {
	if len(times) < 2 {
		return nil
	}
	k, _ := slices.BinarySearch(times, p.TimeS)
	k = min(k, len(times)-1)
	if k > 0 && p.TimeS-times[k-1] < times[k]-p.TimeS {
		k--
	}
	if p.Name != card.InitialContact && p.Name != card.ToeOff {
		return []int{k}
	}
	frame := (times[len(times)-1] - times[0]) / float64(len(times)-1)
	step := max(int(math.Round(neighbourS*slowed/frame)), 1)
	var out []int
	for i := k - Neighbours*step; i <= k+Neighbours*step; i += step {
		if i >= 0 && i < len(times) {
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

func (s *sight) cutStills(ctx context.Context, pick Frames, side form.Side, frames []int, area image.Rectangle, ask Ask) ([]Still, error) {
	times := make([]float64, len(frames))
	for i, k := range frames {
		times[i] = s.track.Frames[k].Time
	}
	pictures, err := pick(ctx, times)
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
