package check

import (
	"math"
	"slices"

	"plumbstride/internal/clip"
	"plumbstride/internal/form"
	"plumbstride/internal/pose"
	"plumbstride/internal/scene"
)

// stills passes frames on and keeps a copy of the brightness of a few, evenly
// spread, from which the level of the camera is read.
type stills struct {
	pose.Source
	every  int
	n      int
	planes []scene.Luma
	frames []int
	scale  float64
}

// keptStills is how many frames are kept.
const keptStills = 6

func newStills(src pose.Source, total int) *stills {
	return &stills{Source: src, every: max(total/keptStills, 1)}
}

// Next gives the next frame and keeps every n-th.
func (s *stills) Next() (*clip.Frame, error) {
	f, err := s.Source.Next()
	if err != nil {
		return nil, err
	}
	if s.n%s.every == s.every/2 && len(s.planes) < keptStills {
		s.planes = append(s.planes, scene.Luma{Width: f.Width, Height: f.Height, Stride: f.YStride, Pix: slices.Clone(f.Y)})
		s.frames = append(s.frames, s.n)
		s.scale = f.Scale
	}
	s.n++
	return f, nil
}

// boxes gives where the runner is in each kept frame, with a margin.
func (s *stills) boxes(found *pose.Result) []scene.Box {
	boxes := make([]scene.Box, len(s.frames))
	for i, k := range s.frames {
		if k < len(found.Track.Frames) {
			boxes[i] = boxOf(&found.Track.Frames[k], s.scale)
		}
	}
	return boxes
}

func boxOf(f *form.Frame, scale float64) scene.Box {
	b := scene.Box{X0: math.Inf(1), Y0: math.Inf(1), X1: math.Inf(-1), Y1: math.Inf(-1)}
	for _, spot := range f.Spots {
		if spot.Seen() {
			b.X0, b.X1 = math.Min(b.X0, spot.X), math.Max(b.X1, spot.X)
			b.Y0, b.Y1 = math.Min(b.Y0, spot.Y), math.Max(b.Y1, spot.Y)
		}
	}
	if b.X1 < b.X0 {
		return scene.Box{}
	}
	margin := 0.12 * (b.Y1 - b.Y0)
	return scene.Box{
		X0: (b.X0 - margin) / scale, Y0: (b.Y0 - margin) / scale,
		X1: (b.X1 + margin) / scale, Y1: (b.Y1 + margin) / scale,
	}
}
