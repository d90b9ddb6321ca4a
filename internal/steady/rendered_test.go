package steady

import (
	"context"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/standin"
)

// The size of the invented pictures.
const wide, high = 480, 270

// filmed is an invented clip, followed as a check would.
type filmed struct {
	follower *Follower
	cam      standin.Camera
	runner   standin.Runner
	boxes    []Box
	times    []float64
}

func film(t testing.TB, seconds, rate float64, change func(*standin.Runner, *standin.Camera, *standin.Scene)) filmed {
	r := standin.DefaultRunner()
	r.Treadmill = false
	cam := standin.DefaultCamera()
	cam.Width, cam.Height, cam.RateHz = wide, high, rate
	cam.DistanceM, cam.FOVDeg = 7, 24
	scene := standin.DefaultScene()
	scene.Place = standin.Outdoors
	scene.Noise = 2
	change(&r, &cam, &scene)
	cam = cam.Passing(r, seconds)
	m, err := standin.NewMotion(r, seconds, rand.New(rand.NewPCG(1, 2)))
	if err != nil {
		t.Fatal(err)
	}
	out := filmed{follower: NewFollower(), cam: cam, runner: r}
	track := m.Track(cam, nil)
	err = m.Render(context.Background(), cam, scene, nil, func(s standin.Stamp, img *image.RGBA) error {
		out.follower.Add(Prepare(grey(img)), s.Time)
		out.boxes = append(out.boxes, around(track.Frames[len(out.times)]))
		out.times = append(out.times, s.Time)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func grey(img *image.RGBA) Luma {
	b := img.Bounds()
	l := Luma{Width: b.Dx(), Height: b.Dy(), Stride: b.Dx(), Pix: make([]byte, b.Dx()*b.Dy())}
	for i := range l.Pix {
		p := img.Pix[4*i:]
		l.Pix[i] = byte((299*int(p[0]) + 587*int(p[1]) + 114*int(p[2])) / 1000)
	}
	return l
}

func around(f form.Frame) Box {
	b := Box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, s := range f.Spots {
		if s.Seen() {
			b.X0, b.X1 = math.Min(b.X0, s.X-18), math.Max(b.X1, s.X+18)
			b.Y0, b.Y1 = math.Min(b.Y0, s.Y-18), math.Max(b.Y1, s.Y+18)
		}
	}
	return b
}

func (f filmed) solve() Motion {
	return f.follower.Solve(func(k int) Box { return f.boxes[k] }, 1, f.times[len(f.times)/2], f.times[len(f.times)/2])
}

// worst is how far the motion is from the truth, pixels, over a grid of places
// 60 % of the picture wide: a place shown in frame k, laid into the steady
// picture, should be where the middle frame's lens sees that direction.
func (f filmed) worst(m Motion) float64 {
	mid := len(f.times) / 2
	lens := func(t float64) ([3]standin.Vec3, float64) {
		l := f.cam.LensAt(t, f.runner.SpeedMS*t)
		return l.Turn()
	}
	zero, focal := lens(f.times[mid])
	dot := func(a, b standin.Vec3) float64 { return a.X*b.X + a.Y*b.Y + a.Z*b.Z }
	worst := 0.0
	for _, t := range f.times {
		axes, _ := lens(t)
		for _, sx := range []float64{-0.3, 0, 0.3} {
			x, y := sx*wide, sx*0.3*wide
			// The direction in the world, then in the middle frame.
			var d standin.Vec3
			for i, c := range []float64{x / focal, y / focal, 1} {
				d.X, d.Y, d.Z = d.X+c*axes[i].X, d.Y+c*axes[i].Y, d.Z+c*axes[i].Z
			}
			ahead := dot(d, zero[2])
			wantX, wantY := wide/2+focal*dot(d, zero[0])/ahead, high/2+focal*dot(d, zero[1])/ahead
			if math.Abs(wantX-wide/2) > 0.75*wide {
				continue
			}
			gotX, gotY, ok := m.Steady(t, wide/2+x, high/2+y)
			if !ok {
				return math.Inf(1)
			}
			worst = math.Max(worst, math.Hypot(gotX-wantX, gotY-wantY))
		}
	}
	return worst
}

// A camera that turns after the runner, held by hand: every frame is laid into
// the steady picture to within 1.5 pixels of where the lens's own geometry
// puts it, and the lens's focal length is found.
func TestFollowsAPan(t *testing.T) {
	f := film(t, 1.4, 20, func(_ *standin.Runner, c *standin.Camera, _ *standin.Scene) {
		c.Sway = standin.Sway{Follow: 1, ShakeDeg: 0.5, Seed: 3}
	})
	m := f.solve()
	lens := f.cam.Lens()
	_, focal := lens.Turn()
	off := math.Abs(math.Log(m.FocalPx / focal))
	t.Logf("pan %.1f°, focal %.0f ± %.0f %% (truth %.0f), misses %.2f px, worst %.2f px", m.PanDeg, m.FocalPx, 100*m.FocalSD, focal, m.MissPx, f.worst(m))
	if m.Verdict != Moving || m.PanDeg < 20 || off > 0.06 || off > 3*m.FocalSD {
		t.Errorf("verdict %d, pan %.1f°, focal %.0f ± %.0f %%, truth %.0f", m.Verdict, m.PanDeg, m.FocalPx, 100*m.FocalSD, focal)
	}
	if w := f.worst(m); w > 1.5 {
		t.Errorf("a place is laid %.1f pixels astray", w)
	}
	x, y, _ := m.Steady(0.1, 100, 50)
	if x, y, ok := m.Shown(0.1, x, y); !ok || math.Hypot(x-100, y-50) > 1e-6 {
		t.Errorf("there and back is %.3f, %.3f", x, y)
	}
}

// On a tripod nothing moves, whatever the runner does; a hand is seen; a bare
// hall tells nothing; a camera flung about is lost.
func TestVerdicts(t *testing.T) {
	for name, c := range map[string]struct {
		sway    standin.Sway
		place   standin.Place
		verdict Verdict
		off     float64
	}{
		"tripod":      {standin.Sway{}, standin.Outdoors, Still, 0.2},
		"hand":        {standin.Sway{ShakeDeg: 0.6, ShakeM: 0.01, Seed: 5}, standin.Outdoors, Moving, 4},
		"bare hall":   {standin.Sway{ShakeDeg: 0.6, Seed: 5}, standin.Blank, Bare, -1},
		"flung about": {standin.Sway{ShakeDeg: 30, Seed: 5}, standin.Outdoors, Lost, -1},
	} {
		t.Run(name, func(t *testing.T) {
			f := film(t, 0.8, 20, func(_ *standin.Runner, cam *standin.Camera, s *standin.Scene) {
				cam.Sway, s.Place = c.sway, c.place
			})
			m := f.solve()
			if m.Verdict != c.verdict {
				t.Errorf("verdict %d, want %d", m.Verdict, c.verdict)
			}
			if w := f.worst(m); c.off >= 0 && w > c.off {
				t.Errorf("a place is laid %.1f pixels astray", w)
			}
		})
	}
}

func BenchmarkFrame(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 1))
	l := Luma{Width: 1920, Height: 1080, Stride: 1920, Pix: make([]byte, 1920*1080)}
	for y := range 1080 {
		for x := range 1920 {
			l.Pix[y*1920+x] = byte(128 + 60*math.Sin(float64(x)/17)*math.Cos(float64(y)/23) + 10*rng.NormFloat64())
		}
	}
	f := NewFollower()
	for i := range b.N {
		f.Add(Prepare(l), float64(i)/60)
	}
}
