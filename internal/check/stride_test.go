package check

import (
	"context"
	"image"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"plumbstride/internal/card"
	"plumbstride/internal/clip"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/standin"
	"plumbstride/internal/testkit"
)

// rendered is a short clip of an invented runner and what was seen in it, the
// points being the true ones: no network is asked.
func rendered(t *testing.T) (Frames, *sight, standin.Runner) {
	t.Helper()
	tools, err := clip.Find(context.Background(), clip.Tools{})
	if err != nil {
		testkit.Lacks(t, "no decoder: %v", err)
	}
	r, cam, scene, _ := standin.Demo()
	cam.Width, cam.Height = 960, 540
	path := filepath.Join(t.TempDir(), "runner.mp4")
	const seconds = 2.6
	if _, err := standin.WriteClip(context.Background(), tools.FFmpeg, path, r, cam, scene, seconds, nil, nil); err != nil {
		t.Fatal(err)
	}
	info, err := clip.Probe(context.Background(), tools, path, clip.Limits{MaxSeconds: 60})
	if err != nil {
		t.Fatal(err)
	}
	tr, _, err := standin.Track(r, cam, seconds, rand.New(rand.NewPCG(1, 2)))
	if err != nil {
		t.Fatal(err)
	}
	s, err := understand(tr, gait.Level{}, Ask{HeightM: r.HeightM}, clock{slowed: 1})
	if err != nil {
		t.Fatal(err)
	}
	return func(ctx context.Context, times []float64) ([]*image.RGBA, error) {
		return clip.Pick(ctx, tools, info, times)
	}, s, r
}

// TestStrideStills: the pictures of a stride of each foot show the frames that they
// say, at the place that they say, with the face blurred unless it may be
// seen; every phase has one within half a frame.
func TestStrideStills(t *testing.T) {
	frames, s, r := rendered(t)
	ctx := context.Background()
	for _, showFace := range []bool{false, true} {
		stills, err := s.stills(ctx, frames, Ask{HeightM: r.HeightM, ShowFace: showFace})
		if err != nil {
			t.Fatal(err)
		}
		if n := len(stills); n < 18 || n > 26 {
			t.Errorf("%d pictures", n)
		}
		for _, side := range []form.Side{form.Left, form.Right} {
			c := s.gait.Cycles[side]
			phases := card.Phases(s.events(), side, c.Anchors[len(c.Anchors)/2]+c.ContactS, 1)
			if len(phases) != 5 {
				t.Errorf("%d phases of the %s foot", len(phases), side)
			}
			for _, p := range phases {
				best := math.Inf(1)
				for _, one := range stills {
					if one.Side == side {
						best = math.Min(best, math.Abs(one.TimeS-p.TimeS))
					}
				}
				if best > 0.5/60+1e-6 {
					t.Errorf("%s of the %s foot at %.3f s: no picture within %.3f s", p.Name, side, p.TimeS, best)
				}
			}
		}
		for _, i := range []int{0, len(stills) / 2, len(stills) - 1} {
			compare(t, frames, s, stills[i], showFace)
		}
	}
}

// compare holds a still to the clip's own picture.
func compare(t *testing.T, frames Frames, s *sight, one Still, showFace bool) {
	t.Helper()
	whole, err := frames(context.Background(), []float64{one.TimeS})
	if err != nil {
		t.Fatal(err)
	}
	back, ok := one.Place.Back()
	if !ok {
		t.Fatal("no way back")
	}
	fx, fy, fr, ok := s.face(one.TimeS)
	if !ok {
		t.Fatal("no face")
	}
	inside, outside := difference{}, difference{}
	b := one.Image.Bounds()
	if b.Dy() > stillTall || b.Dy() < 200 {
		t.Errorf("%d px tall", b.Dy())
	}
	for y := 2; y < b.Dy()-2; y += 3 {
		for x := 2; x < b.Dx()-2; x += 3 {
			u, v := back.At(float64(x)+0.5, float64(y)+0.5)
			if d := math.Hypot(u-fx, v-fy); d < 0.6*fr {
				inside.add(one.Image, x, y, whole[0], u, v)
			} else if d > 1.1*fr {
				outside.add(one.Image, x, y, whole[0], u, v)
			}
		}
	}
	if outside.mean() > 4 {
		t.Errorf("at %.3f s the picture is not where it says: %.1f grey levels off", one.TimeS, outside.mean())
	}
	if hidden := inside.mean() > 4; hidden == showFace {
		t.Errorf("at %.3f s the face differs by %.1f grey levels; it may be seen: %v", one.TimeS, inside.mean(), showFace)
	}
	heel, _, _ := s.gait.Motion.Spot(form.At(form.Heel, s.gait.Near), one.TimeS)
	if x, y := one.Place.At(heel.X, heel.Y); !(image.Point{int(x), int(y)}).In(b) {
		t.Errorf("the heel lies outside, at %.0f, %.0f", x, y)
	}
}

type difference struct{ sum, n float64 }

func (d *difference) add(a *image.RGBA, x, y int, b *image.RGBA, u, v float64) {
	p, q := a.RGBAAt(x, y), b.RGBAAt(int(u), int(v))
	d.sum += math.Abs(float64(p.G) - float64(q.G))
	d.n++
}

func (d *difference) mean() float64 { return d.sum / d.n }
