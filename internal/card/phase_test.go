package card

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"plumbstride/internal/form"
)

// TestPhases: worked by hand from the definitions beside the names.
func TestPhases(t *testing.T) {
	events := []form.Event{
		{Kind: form.Contact, Side: form.Left, Time: 1.0}, {Kind: form.ToeOff, Side: form.Left, Time: 1.24},
		{Kind: form.Contact, Side: form.Right, Time: 1.34, ByHand: true}, {Kind: form.ToeOff, Side: form.Right, Time: 1.6},
		{Kind: form.Contact, Side: form.Left, Time: 1.7}, {Kind: form.ToeOff, Side: form.Left, Time: 1.95},
	}
	near := cmpopts.EquateApprox(0, 1e-9)
	for _, tt := range []struct {
		side   form.Side
		at     float64
		slowed float64
		want   []Phase
	}{
		{form.Left, 1.1, 1, []Phase{{InitialContact, 1, false}, {Loading, 1.06, false}, {MidStance, 1.12, false}, {ToeOff, 1.24, false}, {Flight, 1.29, true}}},
		{form.Right, 1, 0, []Phase{{InitialContact, 1.34, true}, {Loading, 1.405, true}, {MidStance, 1.47, true}, {ToeOff, 1.6, false}, {Flight, 1.65, false}}},
		{form.Left, 2, 1, []Phase{{InitialContact, 1.7, false}, {Loading, 1.7625, false}, {MidStance, 1.825, false}, {ToeOff, 1.95, false}}},
	} {
		if diff := cmp.Diff(tt.want, Phases(events, tt.side, tt.at, tt.slowed), near); diff != "" {
			t.Errorf("%s at %g: %s", tt.side, tt.at, diff)
		}
	}
	if got := Phases(events[:1], form.Left, 1, 1); got != nil {
		t.Errorf("a contact alone: %v", got)
	}
	if got := Phases([]form.Event{{Kind: form.Contact, Side: form.Left}, {Kind: form.ToeOff, Side: form.Left, Time: 1.24}}, form.Left, 1, 1); got != nil {
		t.Errorf("a stance of 1.24 s: %v", got)
	}
	if got := Phases([]form.Event{{Kind: form.Contact, Side: form.Left}, {Kind: form.ToeOff, Side: form.Left, Time: 1.24}}, form.Left, 1, 4); len(got) != 4 {
		t.Errorf("a stance of 1.24 s in slow motion: %v", got)
	}
}

// TestPlace: there and back, and one after the other.
func TestPlace(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.Float64Range(-50, 50)
		draw := func(name string) Place {
			p := Place{X: number.Draw(t, name), Y: number.Draw(t, name)}
			angle, by := number.Draw(t, name), rapid.Float64Range(0.2, 4).Draw(t, name)
			p.XX, p.XY, p.YX, p.YY = by*math.Cos(angle), -by*math.Sin(angle), by*math.Sin(angle), by*math.Cos(angle)
			return p
		}
		p, q := draw("p"), draw("q")
		x, y := number.Draw(t, "x"), number.Draw(t, "y")
		back, ok := p.Back()
		if !ok {
			t.Fatal("no way back")
		}
		u, v := back.At(p.At(x, y))
		s, r := q.At(p.At(x, y))
		a, b := p.Then(q).At(x, y)
		if math.Hypot(u-x, v-y) > 1e-6 || math.Hypot(a-s, b-r) > 1e-6 {
			t.Errorf("(%g, %g): back (%g, %g); then (%g, %g), not (%g, %g)", x, y, u, v, a, b, s, r)
		}
	})
	if _, ok := (Place{}).Back(); ok {
		t.Error("a way back from nowhere")
	}
	if x, y := Moved(3, -4).Then(Scaled(2)).At(1, 1); x != 8 || y != -6 {
		t.Errorf("(%g, %g)", x, y)
	}
}
