package standin

import (
	"bytes"
	"context"
	"errors"
	"image"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"plumbstride/internal/form"
)

// covered tells which pixels the figures cover at least by half.
func covered(p *painter) (at func(x, y int) bool, box image.Rectangle) {
	hit := make([]bool, p.room.w*p.room.h)
	p.eachCovered(func(i, n int, _ paint) {
		if 2*n >= samples*samples {
			hit[i] = true
			box = box.Union(image.Rect(i%p.room.w, i/p.room.w, i%p.room.w+1, i/p.room.w+1))
		}
	})
	return func(x, y int) bool {
		return x >= 0 && y >= 0 && x < p.room.w && y < p.room.h && hit[y*p.room.w+x]
	}, box
}

// The drawn figure lies over its joints, from every side and whatever it does.
func TestFigureCoversItsJoints(t *testing.T) {
	for _, c := range []struct {
		name   string
		runner Runner
		change func(*Camera)
	}{
		{"running, from the right", DefaultRunner(), func(*Camera) {}},
		{"running, from the left", DefaultRunner(), func(c *Camera) { c.Facing = form.Left }},
		{"running, rolled and off side-on", DefaultRunner(), func(c *Camera) { c.RollDeg, c.YawDeg = 3, 15 }},
		{"running, from the front", DefaultRunner(), func(c *Camera) { c.View = form.ViewFront }},
		{"walking", Walker(), func(*Camera) {}},
		{"standing, from the front", Stander(), func(c *Camera) { c.View = form.ViewFront }},
	} {
		cam := DefaultCamera()
		c.change(&cam)
		m := mustMove(t, c.runner, 1, nil)
		p := newPainter(m, newRoom(m, cam, DefaultScene()), DefaultScene())
		for tm := 0.05; tm < 0.8; tm += 0.09 {
			pose := m.Pose(tm)
			p.moment(tm)
			hit, _ := covered(p)
			for j := range form.Joint(form.NumJoints) {
				x, y, _ := p.room.lens.Project(pose.Joint(j))
				// Heel, toe and nose lie on the outline: within 2.5 px of it.
				found := false
				for dy := -2; dy <= 2; dy++ {
					for dx := -2; dx <= 2; dx++ {
						found = found || hit(int(math.Floor(x))+dx, int(math.Floor(y))+dy)
					}
				}
				inner := hit(int(math.Floor(x)), int(math.Floor(y)))
				outline := j == 0 || j.Point() == form.Heel || j.Point() == form.Toe || j.Point() == form.Eye
				if !found || !outline && !inner {
					t.Errorf("%s at %.2f s: the figure does not cover the %v", c.name, tm, j)
				}
			}
		}
	}
}

// A standing figure is as high in the picture as its height and its soles
// project to, within 2 %; its shoes are as long as heel and toe lie apart.
func TestFigureHasItsSize(t *testing.T) {
	for _, height := range []float64{1.5, 1.75, 2.0} {
		r := Stander()
		r.HeightM, r.HeadForwardM, r.TrunkLeanDeg, r.KneeStandingDeg = height, 0.02, 1, 1
		cam := DefaultCamera()
		cam.DistanceM, cam.FOVDeg = 8, 18
		m := mustMove(t, r, 1, nil)
		p := newPainter(m, newRoom(m, cam, DefaultScene()), DefaultScene())
		p.moment(0.5)
		_, box := covered(p)
		_, top, _ := p.room.lens.Project(Vec3{0, height + 0.024, 0}) // in shoes of 24 mm
		_, sole, _ := p.room.lens.Project(Vec3{})
		near(t, "height in the picture", float64(box.Dy())/(sole-top), 1, 0.02)
	}
	m := mustMove(t, DefaultRunner(), 1, nil)
	cam := DefaultCamera()
	p := newPainter(m, newRoom(m, cam, DefaultScene()), DefaultScene())
	pose := m.Pose(0.12)
	p.moment(0.12)
	hit, _ := covered(p)
	l := &pose.Limbs[legRight]
	heel, y, _ := p.room.lens.Project(l.Heel)
	toe, _, _ := p.room.lens.Project(l.Toe)
	left, right := math.Inf(1), 0.0
	for x := int(heel) - 20; x < int(toe)+20; x++ {
		for dy := range 5 {
			if hit(x, int(y)+dy-1) {
				left, right = math.Min(left, float64(x)), math.Max(right, float64(x+1))
			}
		}
	}
	near(t, "rearmost shoe surface", left, heel, 2)
	near(t, "foremost shoe surface", right, toe, 2)
}

// What moves is drawn where it moves: an empty scene shows the belt alone, a
// dim scene is darker, noise has the size that was asked for.
func TestScene(t *testing.T) {
	m := mustMove(t, DefaultRunner(), 1, nil)
	cam := DefaultCamera()
	draw := func(change func(*Scene)) *image.RGBA {
		scene := DefaultScene()
		change(&scene)
		room := newRoom(m, cam, scene)
		img := room.newFrame()
		newPainter(m, room, scene).paint(img, 0.3, 0)
		return img
	}
	full := draw(func(*Scene) {})
	empty := draw(func(s *Scene) { s.Empty = true })
	dim := draw(func(s *Scene) { s.Light = 0.3 })
	noisy := draw(func(s *Scene) { s.Noise = 4 })
	blurred := draw(func(s *Scene) { s.Shutter = 0.5 })
	crowded := draw(func(s *Scene) { s.Bystander = true })
	differ := func(a, b *image.RGBA) (n int, sq, mean float64) {
		for i := 0; i < len(a.Pix); i += 4 {
			d := float64(b.Pix[i+1]) - float64(a.Pix[i+1])
			if d != 0 {
				n++
			}
			sq, mean = sq+d*d, mean+d
		}
		k := float64(len(a.Pix) / 4)
		return n, math.Sqrt(sq / k), mean / k
	}
	n, _, _ := differ(full, empty)
	if part := float64(n) / (1280 * 720); part < 0.03 || part > 0.25 {
		t.Errorf("the runner changes %.3f of the picture", part)
	}
	if _, _, mean := differ(full, dim); mean > -30 {
		t.Errorf("the dim room is %.1f levels darker", -mean)
	}
	_, sd, _ := differ(full, noisy)
	near(t, "noise", sd, 4, 0.5)
	if n, _, _ := differ(full, blurred); n < 3000 || n > 100000 {
		t.Errorf("%d pixels are blurred", n)
	}
	if n, _, _ := differ(full, crowded); n < 5000 {
		t.Errorf("the bystander covers %d pixels", n)
	}
}

// Frames come in order, each with its stamp, and the same on every run.
func TestRenderInOrder(t *testing.T) {
	cam := DefaultCamera()
	cam.Width, cam.Height, cam.RateHz = 320, 180, 30
	scene := DefaultScene()
	scene.Noise = 2
	run := func() (out [][]byte) {
		last := -1.0
		err := Render(t.Context(), DefaultRunner(), cam, scene, 0.5, nil, func(s Stamp, img *image.RGBA) error {
			if s.Time <= last {
				t.Errorf("frame at %.3f s after %.3f s", s.Time, last)
			}
			last = s.Time
			out = append(out, bytes.Clone(img.Pix))
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	a, b := run(), run()
	if len(a) != 15 || len(b) != 15 {
		t.Fatalf("%d and %d frames, want 15", len(a), len(b))
	}
	for i := range a {
		if !bytes.Equal(a[i], b[i]) {
			t.Errorf("frame %d is not the same on the second run", i)
		}
		if i > 0 && bytes.Equal(a[i], a[i-1]) {
			t.Errorf("frame %d is the same as the one before", i)
		}
	}
}

// Rendering stops at the first error of whoever takes the frames, and when it
// is told to.
func TestRenderStops(t *testing.T) {
	cam := DefaultCamera()
	cam.Width, cam.Height = 160, 90
	full := errors.New("no room left")
	err := Render(t.Context(), DefaultRunner(), cam, DefaultScene(), 2, nil, func(Stamp, *image.RGBA) error { return full })
	if !errors.Is(err, full) {
		t.Errorf("error %v, want %v", err, full)
	}
	ctx, cancel := context.WithCancel(t.Context())
	n := 0
	err = Render(ctx, DefaultRunner(), cam, DefaultScene(), 20, nil, func(Stamp, *image.RGBA) error {
		if n++; n == 3 {
			cancel()
		}
		return nil
	})
	if !errors.Is(err, context.Canceled) || n > 10 {
		t.Errorf("after cancelling: error %v, %d frames", err, n)
	}
}

func small() (Runner, Camera, Scene) {
	cam := DefaultCamera()
	cam.Width, cam.Height, cam.RateHz = 320, 180, 30
	return DefaultRunner(), cam, DefaultScene()
}

// A clip appears whole, with the frames that were drawn, or not at all.
func TestWriteClip(t *testing.T) {
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("ffmpeg is not installed on this machine: no clip can be written")
	}
	r, cam, scene := small()
	dir := t.TempDir()
	path := filepath.Join(dir, "-y file:strange name.mp4")
	told := 0
	truth, err := WriteClip(t.Context(), ffmpeg, path, r, cam, scene, 1, nil, func(done, all int) {
		if told++; done != told || all != 30 {
			t.Errorf("progress %d of %d", done, all)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(truth.Events) == 0 {
		t.Error("no events in the truth")
	}
	out, err := exec.Command(ffmpeg, "-v", "error", "-i", "file:"+path, "-f", "rawvideo", "-pix_fmt", "gray", "pipe:1").Output()
	if err != nil || len(out) != 30*320*180 {
		t.Errorf("the clip gives %d bytes, want %d (%v)", len(out), 30*320*180, err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	if _, err := WriteClip(ctx, ffmpeg, filepath.Join(dir, "cut.mp4"), r, cam, scene, 9, nil, func(int, int) { cancel() }); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	if left, _ := os.ReadDir(dir); len(left) != 1 {
		t.Errorf("left over: %v", left)
	}
}

// Without an encoder, with one that fails, and with pictures that no encoder
// takes there is an error and no file.
func TestWriteClipFails(t *testing.T) {
	r, cam, scene := small()
	dir := t.TempDir()
	path := filepath.Join(dir, "a.mp4")
	_, err := WriteClip(t.Context(), filepath.Join(dir, "nothing"), path, r, cam, scene, 1, nil, nil)
	if form.CodeOf(err) != form.CodeMissing {
		t.Errorf("no encoder: %v", err)
	}
	if no, err := exec.LookPath("false"); err == nil {
		if _, err := WriteClip(t.Context(), no, path, r, cam, scene, 1, nil, nil); err == nil {
			t.Error("an encoder that fails: no error")
		}
	}
	odd := cam
	odd.Width = 321
	uneven := cam
	uneven.DropFrames = 0.1
	for _, c := range []Camera{odd, uneven} {
		if _, err := WriteClip(t.Context(), "ffmpeg", path, r, c, scene, 1, nil, nil); err == nil {
			t.Errorf("%+v: no error", c)
		}
	}
	if left, _ := os.ReadDir(dir); len(left) != 0 {
		t.Errorf("left over: %v", left)
	}
}

// BenchmarkRender draws the demo's clip on all cores; frames/s is the figure.
func BenchmarkRender(b *testing.B) {
	r, cam, scene, _ := Demo()
	frames := 0
	began := time.Now()
	for b.Loop() {
		err := Render(context.Background(), r, cam, scene, 2, nil, func(Stamp, *image.RGBA) error { frames++; return nil })
		if err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(frames)/time.Since(began).Seconds(), "frames/s")
}

// BenchmarkFrame draws single frames on one core.
func BenchmarkFrame(b *testing.B) {
	r, cam, scene, _ := Demo()
	m := mustMove(b, r, 2, nil)
	room := newRoom(m, cam, scene)
	p := newPainter(m, room, scene)
	img := room.newFrame()
	for i := 0; b.Loop(); i++ {
		p.paint(img, float64(i%120)/60, 0)
	}
}
