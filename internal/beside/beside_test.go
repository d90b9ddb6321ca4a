package beside

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"testing"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/standin"
)

// filmed is the run of an invented runner by a camera, with the card that a
// check of it gives: its scale, level and events are the exact ones.
func filmed(t *testing.T, r standin.Runner, cam standin.Camera) Run {
	t.Helper()
	points, truth, err := standin.Track(r, cam, 4, rand.New(rand.NewPCG(1, 2)))
	if err != nil {
		t.Fatal(err)
	}
	mPerPx := 2 * cam.DistanceM * math.Tan(cam.FOVDeg*math.Pi/360) / float64(cam.Height)
	return Run{Track: points, Card: card.Card{
		Events: truth.Events,
		Clip:   card.Clip{Facing: cam.Facing.String(), MPerPx: card.Number(mPerPx), RollDeg: card.Number(cam.RollDeg), SlowedBy: 1},
	}}
}

// The same runner by a near and by a far, tilted camera is drawn in the same
// place: the scale is the same, the level is taken out.
func TestSameScale(t *testing.T) {
	r := standin.DefaultRunner()
	r.StepSpread = 0
	near := standin.DefaultCamera()
	far := near
	far.DistanceM, far.RollDeg, far.Width, far.Height = 8, 2.5, 1920, 1080
	a, b := filmed(t, r, near), filmed(t, r, far)
	for _, phase := range Phases() {
		x, ok1 := a.shot(phase)
		y, ok2 := b.shot(phase)
		if !ok1 || !ok2 {
			t.Fatalf("%s: no picture", phase)
		}
		for _, p := range []form.Point{form.Shoulder, form.Hip, form.Knee, form.Ankle, form.Toe} {
			u, v := x.frame.Spot(p, form.Right), y.frame.Spot(p, form.Right)
			x1, y1 := x.to.At(u.X, u.Y)
			x2, y2 := y.to.At(v.X, v.Y)
			// 2.5 cm: the nearer camera shows the near side larger.
			if off := math.Hypot(x1-x2, y1-y2); off > 0.025*pxPerM*2 {
				t.Errorf("%s, %v: %.1f px apart (%.0f,%.0f and %.0f,%.0f)", phase, p, off, x1, y1, x2, y2)
			}
			if x1 < 0 || x1 > panelWide || y1 < 0 || y1 > panelTall {
				t.Errorf("%s, %v lies outside the picture", phase, p)
			}
		}
		hip := x.frame.Spot(form.Hip, form.Right)
		if at, _ := x.to.At(hip.X, hip.Y); math.Abs(at-panelWide/2) > 1e-6 {
			t.Errorf("%s: the hip lies at %.1f", phase, at)
		}
	}
}

// A still comes to the panel's scale: a mark painted where the knee is lies
// where the knee is drawn.
func TestStillIsPlaced(t *testing.T) {
	run := filmed(t, standin.DefaultRunner(), standin.DefaultCamera())
	s, ok := run.shot(card.MidStance)
	if !ok {
		t.Fatal("no mid-stance")
	}
	place := card.Moved(-300, -40).Then(card.Scaled(0.7))
	img := image.NewRGBA(image.Rect(0, 0, 500, 480))
	knee := s.frame.Spot(form.Knee, form.Right)
	kx, ky := place.At(knee.X, knee.Y)
	for dx := -6; dx <= 6; dx++ {
		for dy := -6; dy <= 6; dy++ {
			img.Set(int(kx)+dx, int(ky)+dy, color.RGBA{200, 30, 30, 255})
		}
	}
	run.Stills = []Still{{Side: form.Right, TimeS: s.frame.Time, Place: place, Image: img}}
	s, ok = run.shot(card.MidStance)
	if !ok || s.still == nil {
		t.Fatal("the still was not taken")
	}
	x, y := s.to.At(knee.X, knee.Y)
	if r, _, _, _ := s.panel().At(int(x), int(y)).RGBA(); r>>8 < 150 {
		t.Errorf("no mark at the knee (%.0f, %.0f)", x, y)
	}
}

func TestMoments(t *testing.T) {
	r := standin.DefaultRunner()
	a := filmed(t, r, standin.DefaultCamera())
	if got := Moments(a, a); len(got) != 3 || got[0].Phase != card.InitialContact || got[0].Image.Bounds().Dx() != 3*panelWide+2*gap {
		t.Errorf("%d moments", len(got))
	}
	other := standin.DefaultCamera()
	other.Facing = form.Left
	if got := Moments(a, filmed(t, r, other)); got != nil {
		t.Error("two sides of a runner were laid over one another")
	}
	for name, spoil := range map[string]func(*Run){
		"no track": func(r *Run) { r.Track = form.Track{} }, "no scale": func(r *Run) { r.Card.Clip.MPerPx = card.Number(math.NaN()) },
		"no events": func(r *Run) { r.Card.Events = nil }, "standing": func(r *Run) { r.Card.Kind = card.Standing },
	} {
		b := a
		spoil(&b)
		if got := Moments(b, a); got != nil {
			t.Errorf("%s: %d moments", name, len(got))
		}
	}
}
