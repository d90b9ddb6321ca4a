package stand

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/geom"
	"plumbstride/internal/standin"
)

// figure is the synthetic standing figure of 1.75 m with the segment
// proportions of Winter's textbook (metres, X forward, Y up; both sides
// equal): thigh and shank as long as 0.491 H, so that the scale is exact.
func figure() map[form.Point]geom.Vec {
	return map[form.Point]geom.Vec{
		form.Nose: {X: 0.1, Y: 1.63}, form.Ear: {X: 0, Y: 1.66}, form.Shoulder: {X: 0, Y: 1.45}, form.Elbow: {X: 0, Y: 1.12},
		form.Wrist: {X: 0.05, Y: 0.87}, form.Hip: {X: 0, Y: 0.07 + 0.491*1.75}, form.Knee: {X: 0, Y: 0.07 + 0.246*1.75},
		form.Ankle: {X: 0, Y: 0.07}, form.Heel: {X: -0.05, Y: 0.02}, form.Toe: {X: 0.2, Y: 0.01},
	}
}

// filmed puts a figure into pixels, 300 a metre, y down, facing left or right.
func filmed(at map[form.Point]geom.Vec, facing form.Side, frames int) form.Track {
	t := form.Track{Facing: facing, View: form.ViewSide}
	dir := 1.0
	if facing == form.Left {
		dir = -1
	}
	for i := range frames {
		f := form.Frame{Time: float64(i) / 30}
		for pt, v := range at {
			spot := form.Spot{X: 400 + dir*300*v.X, Y: 700 - 300*v.Y, Confidence: 1}
			if pt == form.Nose {
				f.Spots[0] = spot
				continue
			}
			f.Spots[form.At(pt, form.Left)], f.Spots[form.At(pt, form.Right)] = spot, spot
		}
		t.Frames = append(t.Frames, f)
	}
	return t
}

func find(t *testing.T, tr form.Track, facts Facts) *Pose {
	t.Helper()
	if facts.HeightM == 0 {
		facts.HeightM = 1.75
	}
	p, err := Find(tr, facts)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Worked examples of the craniovertebral angle (arithmetic from its
// definition, the horizontal to the line C7–tragus): 8 cm ahead and 10 above
// 51.34°, 10 and 12 50.19°, 10 and 10 45.00°. The shoulder stands in for C7.
// Facing left or right and pixels that run down make no difference.
func TestCraniovertebralWorkedExamples(t *testing.T) {
	for _, c := range []struct{ ahead, above, want float64 }{{0.08, 0.10, 51.34}, {0.10, 0.12, 50.19}, {0.10, 0.10, 45.00}} {
		for _, facing := range []form.Side{form.Left, form.Right} {
			at := figure()
			at[form.Ear] = at[form.Shoulder].Add(geom.Vec{X: c.ahead, Y: c.above})
			p := find(t, filmed(at, facing, 10), Facts{})
			got := geom.Slope(p.mid(form.Shoulder), p.mid(form.Ear))
			if math.Abs(got-c.want) > 0.005 {
				t.Errorf("%v ahead, %v above, facing %s: %.3f°, want %.2f°", c.ahead, c.above, facing, got, c.want)
			}
		}
	}
}

// The pose has the figure's own metres, whatever the picture's size.
func TestFigureComesBack(t *testing.T) {
	for _, n := range []int{1, 30} {
		p := find(t, filmed(figure(), form.Left, n), Facts{})
		for pt, want := range figure() {
			if pt == form.Nose {
				continue
			}
			got := p.Places[form.At(pt, form.Right)].At
			want = want.Sub(figure()[form.Ankle])
			if math.Hypot(got.X-want.X, got.Y-want.Y) > 1e-9 {
				t.Errorf("%s at %v, want %v", pt, got, want)
			}
			px, _ := p.SeenAt(form.At(pt, form.Right))
			if back := p.Pixel(got); math.Hypot(back.X-px.X, back.Y-px.Y) > 1e-6 {
				t.Errorf("%s goes back to %v, not %v", pt, back, px)
			}
		}
		if p.View != form.ViewSide || p.Facing != form.Left || p.Frames != n {
			t.Errorf("%+v", p)
		}
	}
}

// A scene that is turned comes upright when the turn is known, and its
// uncertainty is the telephone's where it is not.
func TestLevel(t *testing.T) {
	tr := filmed(figure(), form.Right, 5)
	s, c := math.Sincos(geom.Radians(3)) // clockwise, y down
	for i := range tr.Frames {
		for j, spot := range tr.Frames[i].Spots {
			tr.Frames[i].Spots[j].X, tr.Frames[i].Spots[j].Y = c*spot.X-s*spot.Y, s*spot.X+c*spot.Y
		}
	}
	p := find(t, tr, Facts{Level: gait.Level{Deg: 3, SD: 0.2, Known: true}})
	if ear := p.mid(form.Ear); math.Abs(ear.X) > 1e-9 || p.RollSD != 0.2 || !p.LevelKnown {
		t.Errorf("level known: ear at %v, roll ± %v", ear, p.RollSD)
	}
	p = find(t, tr, Facts{})
	if ear := p.mid(form.Ear); math.Abs(ear.X-1.59*math.Tan(geom.Radians(3))) > 1e-3 || p.RollSD < 1.5 {
		t.Errorf("level unknown: ear at %v, roll ± %v", ear, p.RollSD)
	}
}

// Invented people are seen from where they are filmed; 40° off is askew, and
// said with about the right angle.
func TestView(t *testing.T) {
	for i := range 60 {
		rng := rand.New(rand.NewPCG(5, uint64(i)))
		view := []form.View{form.ViewSide, form.ViewFront, form.ViewBack}[i%3]
		r, cam := standin.RandomStander(rng, view)
		tr, _, err := standin.Track(r, cam, 1, rng)
		if err != nil {
			t.Fatal(err)
		}
		tr.View, tr.Facing = "", form.Both
		if p := find(t, tr, Facts{HeightM: r.HeightM}); p.View != view || view == form.ViewSide && p.Facing != cam.Facing {
			t.Errorf("person %d: %s facing %s, taken for %s facing %s", i, view, cam.Facing, p.View, p.Facing)
		}
		cam.YawDeg = 38
		askew, _, err := standin.Track(r, cam, 1, rng)
		if err != nil || view != form.ViewSide {
			continue
		}
		askew.View = ""
		if _, err := Find(askew, Facts{HeightM: r.HeightM}); form.CodeOf(err) != form.CodeClip || !strings.Contains(err.Error(), "askew") {
			t.Errorf("38° off: %v", err)
		}
		if _, err := Find(askew, Facts{HeightM: r.HeightM, View: form.ViewSide}); err != nil {
			t.Errorf("38° off, said to be from the side: %v", err)
		}
	}
}

// A stated back view puts left and right right where the network saw a front.
func TestStatedBackView(t *testing.T) {
	r, cam := standin.RandomStander(rand.New(rand.NewPCG(1, 1)), form.ViewFront)
	tr, _, err := standin.Track(r, cam, 1, nil)
	if err != nil {
		t.Fatal(err)
	}
	tr.View = ""
	front, back := find(t, tr, Facts{HeightM: r.HeightM}), find(t, tr, Facts{HeightM: r.HeightM, View: form.ViewBack})
	a, b := front.Places[form.At(form.Shoulder, form.Left)].At, back.Places[form.At(form.Shoulder, form.Right)].At
	if back.View != form.ViewBack || math.Abs(a.X+b.X) > 0.03 || math.Abs(a.Y-b.Y) > 0.05 {
		t.Errorf("left shoulder %v, as a back view the right one %v", a, b)
	}
	if _, err := Find(tr, Facts{HeightM: r.HeightM, View: form.ViewSide}); err == nil {
		t.Error("a front view is taken for a side view because it was said to be one")
	}
}

// Two seconds of standing before a run are quiet; a run and a walk are not.
func TestQuiet(t *testing.T) {
	runner, cam := standin.DefaultRunner(), standin.DefaultCamera()
	cam.NoisePx, cam.NoiseMemory, cam.Dropout = 2.5, 0.4, 0.05
	for _, r := range []standin.Runner{runner, standin.Walker()} {
		tr, _, err := standin.Track(r, cam, 6, rand.New(rand.NewPCG(1, 9)))
		if err != nil {
			t.Fatal(err)
		}
		if q := FindQuiet(tr); q.Share > 0.15 || IsStanding(tr) {
			t.Errorf("%+v of a moving person is quiet", q)
		}
		if _, err := Find(tr, Facts{HeightM: 1.75}); form.CodeOf(err) != form.CodeClip {
			t.Errorf("a moving person has a standing pose: %v", err)
		}
	}
	still, _, err := standin.Track(standin.Stander(), cam, 2, rand.New(rand.NewPCG(1, 9)))
	if err != nil {
		t.Fatal(err)
	}
	run, _, err := standin.Track(runner, cam, 6, rand.New(rand.NewPCG(1, 9)))
	if err != nil {
		t.Fatal(err)
	}
	if q := FindQuiet(still); q.Share < 0.99 || !IsStanding(still) {
		t.Errorf("standing: %+v", q)
	}
	for _, f := range run.Frames {
		f.Time += 2
		still.Frames = append(still.Frames, f)
	}
	if q := FindQuiet(still); q.From != 0 || math.Abs(float64(q.To)-120) > 16 || IsStanding(still) {
		t.Errorf("standing, then running: %+v", q)
	}
}

// What is not somebody standing is refused with a sentence that says why.
func TestRefusals(t *testing.T) {
	for name, c := range map[string]struct {
		change func(map[form.Point]geom.Vec, *form.Track)
		want   string
	}{
		"upside down": {func(_ map[form.Point]geom.Vec, tr *form.Track) {
			for i := range tr.Frames {
				for j := range tr.Frames[i].Spots {
					tr.Frames[i].Spots[j].Y = 900 - tr.Frames[i].Spots[j].Y
				}
			}
		}, "upside down"},
		"sitting": {func(at map[form.Point]geom.Vec, _ *form.Track) {
			at[form.Hip] = geom.Vec{X: -0.42, Y: 0.5}
			at[form.Shoulder] = geom.Vec{X: -0.42, Y: 1}
		}, "upright"},
		"bending": {func(at map[form.Point]geom.Vec, _ *form.Track) { at[form.Shoulder] = geom.Vec{X: 0.45, Y: 1.2} }, "bends over"},
		"in a step": {func(_ map[form.Point]geom.Vec, tr *form.Track) {
			for i := range tr.Frames {
				tr.Frames[i].Spots[form.At(form.Ankle, form.Left)].X += 120
			}
		}, "side by side"},
		"small": {func(_ map[form.Point]geom.Vec, tr *form.Track) {
			for i := range tr.Frames {
				for j := range tr.Frames[i].Spots {
					tr.Frames[i].Spots[j].X, tr.Frames[i].Spots[j].Y = tr.Frames[i].Spots[j].X/10, tr.Frames[i].Spots[j].Y/10
				}
			}
		}, "too small"},
		"feet cut off": {func(_ map[form.Point]geom.Vec, tr *form.Track) { tr.Width, tr.Height = 800, 640 }, "ankles are not seen"},
		"no frames":    {func(_ map[form.Point]geom.Vec, tr *form.Track) { tr.Frames = nil }, "stands still"},
		"nobody": {func(_ map[form.Point]geom.Vec, tr *form.Track) {
			for i := range tr.Frames {
				tr.Frames[i].Spots = [form.NumJoints]form.Spot{}
			}
		}, "stands still"},
	} {
		at := figure()
		tr := filmed(at, form.Right, 8)
		c.change(at, &tr)
		if name == "sitting" || name == "bending" {
			tr = filmed(at, form.Right, 8)
		}
		_, err := Find(tr, Facts{HeightM: 1.75})
		if form.CodeOf(err) != form.CodeClip || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v; want a sentence with %q", name, err, c.want)
		}
	}
}

// FuzzFind asks that no track makes a pose panic, and that what comes out is
// finite.
func FuzzFind(f *testing.F) {
	f.Add(uint64(1), 100.0, 0.0, 30)
	f.Add(uint64(2), 1e-6, 0.5, 1)
	f.Fuzz(func(t *testing.T, seed uint64, size, drop float64, n int) {
		if !(math.Abs(size) < 1e6) || n < 0 || n > 60 {
			return
		}
		rng := rand.New(rand.NewPCG(seed, 3))
		tr := form.Track{Width: 640, Height: 480}
		for i := range n {
			fr := form.Frame{Time: float64(i) / 20}
			for j := range fr.Spots {
				if rng.Float64() >= drop {
					fr.Spots[j] = form.Spot{X: 320 + size*rng.NormFloat64(), Y: 240 + size*rng.NormFloat64(), Confidence: rng.Float64()}
				}
			}
			tr.Frames = append(tr.Frames, fr)
		}
		p, err := Find(tr, Facts{HeightM: 1.7})
		if err != nil {
			return
		}
		for j, place := range p.Places {
			if place.Seen && !(math.Abs(place.At.X)+math.Abs(place.At.Y) < 1e9) {
				t.Errorf("%s at %v", form.Joint(j), place.At)
			}
		}
	})
}

func BenchmarkFind(b *testing.B) {
	tr, _, err := standin.Track(standin.Stander(), standin.DefaultCamera(), 10, rand.New(rand.NewPCG(1, 2)))
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := Find(tr, Facts{HeightM: 1.75}); err != nil {
			b.Fatal(err)
		}
	}
}
