package check

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbstride/internal/amend"
	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/standin"
	"plumbstride/internal/track"
)

// stored is a check as it lies in the store: its track as CSV gives it back,
// and its card.
func stored(t testing.TB, tr form.Track, ask Ask) (form.Track, *Outcome) {
	t.Helper()
	out, err := checkTrack(t, tr, ask)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := track.Write(&b, tr); err != nil {
		t.Fatal(err)
	}
	points, err := track.Read(&b)
	if err != nil {
		t.Fatal(err)
	}
	return points, out
}

func again(t testing.TB, points form.Track, fix amend.Corrections, before *Outcome, ask Ask) *Outcome {
	t.Helper()
	out, err := Again(context.Background(), trackDeps, points, fix, before.Card, ask)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func row(c card.Card, name, unit string, s form.Side) (card.Measure, bool) {
	for _, m := range c.Measures {
		if m.Name == name && m.Unit == unit && m.Side == s {
			return m, true
		}
	}
	return card.Measure{}, false
}

// TestAgainWithout: without corrections the stored track gives the very card
// that was stored, notes of the clip included.
func TestAgainWithout(t *testing.T) {
	tr, _, r := invented(t, nil)
	ask := Ask{HeightM: r.HeightM, MassKg: r.MassKg, Name: r.Name}
	points, before := stored(t, tr, ask)
	before.Card.Notes = append(before.Card.Notes, "Only the clip tells this.")
	before.Card.Networks = []card.Network{{Name: "full", SHA256: "ab"}}
	before.Card.Clip.File = "clip"
	out := again(t, points, amend.Corrections{}, before, ask)
	want, err := json.Marshal(before.Card)
	if err != nil {
		t.Fatal(err)
	}
	got, err := json.Marshal(out.Card)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), string(got)); diff != "" {
		t.Error(diff)
	}
}

// late gives the events of a kind and side, that many, corrected by a time.
func late(c card.Card, kind form.EventKind, side form.Side, n int, by float64) (fix amend.Corrections) {
	for _, e := range c.Events {
		if e.Kind == kind && e.Side == side && n > 0 {
			fix.Events = append(fix.Events, amend.Event{Kind: kind, Side: side, FoundS: e.Time, TimeS: e.Time + by})
			n--
		}
	}
	return fix
}

// TestAgainEvents: contacts set later by a time take that time off the mean
// contact time, in the strides corrected and in the mean; what doesn't depend
// on them stays and isn't marked.
func TestAgainEvents(t *testing.T) {
	tr, _, r := invented(t, nil)
	ask := Ask{HeightM: r.HeightM}
	points, before := stored(t, tr, ask)
	for _, n := range []int{1, 4} {
		fix := late(before.Card, form.Contact, form.Left, n, 0.02)
		out := again(t, points, fix, before, ask)
		was, _ := row(before.Card, "contact_time", "ms", form.Left)
		now, _ := row(out.Card, "contact_time", "ms", form.Left)
		if d := now.Value - was.Value; math.Abs(d+20) > 1e-6 {
			t.Errorf("%d contacts 20 ms later: contact time %+.3f ms", n, d)
		}
		if now.Found == nil || math.Abs(float64(now.Found.Value)-was.Value) > 1e-9 || !strings.Contains(now.Note, RestsByHand) {
			t.Errorf("not marked: %+v", now)
		}
		other, _ := row(out.Card, "contact_time", "ms", form.Right)
		if other.Found != nil || other.Note != "" {
			t.Errorf("the right foot's is marked: %+v", other)
		}
		if lean, _ := row(out.Card, "trunk_lean", "deg", form.Both); lean.Found != nil {
			t.Errorf("trunk lean is marked: %+v", lean)
		}
		byHand := 0
		for i, e := range out.Card.Events {
			if e.ByHand {
				byHand++
				if i > 0 && e.Time < out.Card.Events[i-1].Time {
					t.Error("the events are out of order")
				}
			}
		}
		if byHand != n || len(out.Card.Corrected.Events) != n || out.Card.Corrected.Events[0].FoundS != fix.Events[0].FoundS {
			t.Errorf("%d of %d events by hand: %+v", byHand, n, out.Card.Corrected)
		}
		if before.Card.Corrected != nil || out.Card.Made != before.Card.Made {
			t.Error("the card before changed")
		}
	}
}

// TestAgainPoints: a network that puts the left heel 25 px too high in the
// frames about a landing is put right by hand, and the foot strike angle comes
// nearer to what it is without that fault.
func TestAgainPoints(t *testing.T) {
	tr, _, r := invented(t, nil)
	ask := Ask{HeightM: r.HeightM}
	_, truth := stored(t, tr, ask)
	var wrong []int
	for i, f := range tr.Frames {
		for _, e := range truth.Card.Events {
			if e.Kind == form.Contact && e.Side == form.Left && math.Abs(f.Time-e.Time) < 0.02 {
				wrong = append(wrong, i)
			}
		}
	}
	heel := form.At(form.Heel, form.Left)
	bad := tr
	bad.Frames = slices.Clone(tr.Frames)
	var fix amend.Corrections
	for _, i := range wrong {
		s := &bad.Frames[i].Spots[heel]
		fix.Points = append(fix.Points, amend.Point{TimeS: bad.Frames[i].Time, Point: form.Heel, Side: form.Left, XPx: s.X, YPx: s.Y})
		s.Y -= 25
	}
	points, before := stored(t, bad, ask)
	out := again(t, points, fix, before, ask)
	right, _ := row(truth.Card, "foot_strike_angle", "deg", form.Left)
	was, _ := row(before.Card, "foot_strike_angle", "deg", form.Left)
	now, _ := row(out.Card, "foot_strike_angle", "deg", form.Left)
	if math.Abs(was.Value-right.Value) < 5 {
		t.Fatalf("the fault does no harm: %.1f, without it %.1f", was.Value, right.Value)
	}
	if math.Abs(now.Value-right.Value) > 0.25*math.Abs(was.Value-right.Value) {
		t.Errorf("corrected %.1f, wrong %.1f, right %.1f", now.Value, was.Value, right.Value)
	}
	if now.Found == nil || len(out.Card.Corrected.Points) != len(fix.Points) {
		t.Errorf("not marked: %+v", now)
	}
	if p := out.Card.Corrected.Points[0]; math.Abs(float64(p.FoundY)-(p.YPx-25)) > 0.01 {
		t.Errorf("found at %v, corrected to %v", p.FoundY, p.YPx)
	}
	if out.Track.Frames[wrong[0]].ByHand == 0 || points.Frames[wrong[0]].ByHand != 0 {
		t.Error("the stored track is marked, or the corrected one isn't")
	}
}

func TestAgainRefuses(t *testing.T) {
	tr, _, r := invented(t, nil)
	ask := Ask{HeightM: r.HeightM}
	points, before := stored(t, tr, ask)
	stance, _ := row(before.Card, "contact_time", "ms", form.Left)
	for name, tt := range map[string]struct {
		fix  amend.Corrections
		says string
	}{
		"after toe-off":       {late(before.Card, form.Contact, form.Left, 1, stance.Value/1000-0.01), "another stride|can't come before|before it has landed"},
		"a stride too far":    {late(before.Card, form.Contact, form.Left, 1, 0.4), "another stride"},
		"of no stride":        {amend.Corrections{Events: []amend.Event{{Kind: form.Contact, Side: form.Left, FoundS: 500, TimeS: 500}}}, "no stride"},
		"a walk":              {amend.Corrections{Events: slices.Concat(late(before.Card, form.ToeOff, form.Left, 3, 0.14).Events, late(before.Card, form.ToeOff, form.Right, 3, 0.14).Events)}, "walking|no stride"},
		"twice":               {amend.Corrections{Events: slices.Concat(late(before.Card, form.Contact, form.Left, 1, 0.01).Events, late(before.Card, form.Contact, form.Left, 1, 0.02).Events)}, "twice"},
		"outside":             {amend.Corrections{Points: []amend.Point{{TimeS: points.Frames[30].Time, Point: form.Toe, Side: form.Left, XPx: -5, YPx: 5}}}, "outside"},
		"in no picture":       {amend.Corrections{Points: []amend.Point{{TimeS: 99, Point: form.Toe, Side: form.Left, XPx: 5, YPx: 5}}}, "no picture"},
		"not a number":        {amend.Corrections{Points: []amend.Point{{TimeS: 1, Point: form.Toe, Side: form.Left, XPx: math.NaN(), YPx: 5}}}, "no number"},
		"an event of no foot": {amend.Corrections{Events: []amend.Event{{Kind: form.Contact, FoundS: 1, TimeS: 1}}}, "foot"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Again(context.Background(), trackDeps, points, tt.fix, before.Card, ask)
			if err == nil || form.CodeOf(err) == "" || !slices.ContainsFunc(strings.Split(tt.says, "|"), func(s string) bool { return strings.Contains(err.Error(), s) }) {
				t.Errorf("%v", err)
			}
		})
	}
}

// Slow motion: the stored card's clock is kept, though no file says it again.
func TestAgainSlowMotion(t *testing.T) {
	tr, _, r := invented(t, nil)
	slow := quicken(tr, 0.25)
	ask := Ask{HeightM: r.HeightM, CaptureRateHz: 240}
	slow.RateHz = 60
	points, before := stored(t, slow, ask)
	ask.CaptureRateHz = 0
	out := again(t, points, late(before.Card, form.ToeOff, form.Right, 2, 4*0.01), before, ask)
	was, _ := row(before.Card, "contact_time", "ms", form.Right)
	now, _ := row(out.Card, "contact_time", "ms", form.Right)
	if out.Card.Clip.SlowedBy != before.Card.Clip.SlowedBy || math.Abs(now.Value-was.Value-10) > 1e-6 {
		t.Errorf("slowed by %g, contact time %+.2f ms", out.Card.Clip.SlowedBy, now.Value-was.Value)
	}
}

// BenchmarkAgain: a coach waits for this, a 10 s clip at 60 Hz.
func BenchmarkAgain(b *testing.B) {
	r, cam, _, _ := standin.Demo()
	cam.NoisePx = 1
	tr, _, err := standin.Track(r, cam, 10, rand.New(rand.NewPCG(3, 4)))
	if err != nil {
		b.Fatal(err)
	}
	ask := Ask{HeightM: r.HeightM}
	points, before := stored(b, tr, ask)
	fix := late(before.Card, form.Contact, form.Left, 3, 0.01)
	fix.Points = append(fix.Points, amend.Point{TimeS: points.Frames[300].Time, Point: form.Heel, Side: form.Left, XPx: points.Frames[300].Spot(form.Heel, form.Left).X, YPx: points.Frames[300].Spot(form.Heel, form.Left).Y - 4})
	b.ResetTimer()
	for b.Loop() {
		if _, err := Again(context.Background(), trackDeps, points, fix, before.Card, ask); err != nil {
			b.Fatal(err)
		}
	}
}
