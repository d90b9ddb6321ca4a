package check

import (
	"math/rand/v2"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/standin"
)

// TestClinicGuests: the demo's invented guests show what they were made for;
// before, each had something to work on.
func TestClinicGuests(t *testing.T) {
	put := func(t *testing.T, r standin.Runner) string {
		cam := standin.DefaultCamera()
		cam.NoisePx, cam.Width, cam.Height = 0.8, 960, 540
		tr, _, err := standin.Track(r, cam, 8, rand.New(rand.NewPCG(7, 7)))
		if err != nil {
			t.Fatal(err)
		}
		out, err := checkTrack(t, tr, Ask{HeightM: r.HeightM, MassKg: r.MassKg, SpeedMS: r.SpeedMS})
		switch {
		case form.CodeOf(err) == form.CodeClip:
			return "refused"
		case err != nil:
			t.Fatal(err)
		case out.Card.Priority.Area == nil:
			return ""
		}
		return *out.Card.Priority.Area
	}
	for _, g := range standin.Clinic() {
		t.Run(g.Name, func(t *testing.T) {
			if got := put(t, g.Now); got != g.Wanted {
				t.Errorf("%q comes first, not %q", got, g.Wanted)
			}
			if g.Before == nil {
				return
			}
			if got := put(t, *g.Before); got == "" || got == "refused" {
				t.Errorf("eight weeks before: %q", got)
			}
		})
	}
}
