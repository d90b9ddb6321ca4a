package evening

import (
	"context"
	"encoding/json"
	"errors"
	"image"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"plumbstride/internal/amend"
	"plumbstride/internal/card"
	"plumbstride/internal/check"
	"plumbstride/internal/form"
	"plumbstride/internal/media"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// filmed is line with the stills of a stride, as a clip gives them.
func filmed(asked *check.Ask) Measure {
	return func(ctx context.Context, kind store.CheckKind, path string, ask check.Ask, tell func(check.Progress)) (*check.Outcome, error) {
		out, err := line(asked)(ctx, kind, path, ask, tell)
		if err != nil || !ask.Stride {
			return out, err
		}
		out.Card.Pictures[0].Place = card.Moved(-3, -4)
		for _, side := range []form.Side{form.Left, form.Right} {
			for _, p := range card.Phases(out.Card.Events, side, 4, 1) {
				out.Stills = append(out.Stills, check.Still{Side: side, TimeS: p.TimeS, Image: image.NewRGBA(image.Rect(0, 0, 30, 50)), Place: card.Moved(-1, -2)})
			}
		}
		return out, nil
	}
}

func (r *room) stride(t *testing.T, id string) Stride {
	t.Helper()
	s, err := StrideOf(t.Context(), r.db, r.shelf, r.check(t, id))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func (r *room) correct(t *testing.T, c store.Check, fix amend.Corrections) (store.Check, error) {
	t.Helper()
	return Correct(t.Context(), r.db, r.shelf, time.Now, c, fix)
}

func contactTime(t *testing.T, c store.Check) card.Measure {
	t.Helper()
	var cd card.Card
	if err := json.Unmarshal(c.Card, &cd); err != nil {
		t.Fatal(err)
	}
	for _, m := range cd.Measures {
		if m.Name == "contact_time" && m.Side == form.Left {
			return m
		}
	}
	t.Fatal("no contact time")
	return card.Measure{}
}

// TestCorrect: a coach sets a contact and a point; the card, the numbers and
// the history follow, what was measured is kept beside, and all can be undone.
func TestCorrect(t *testing.T) {
	r := newRoom(t)
	r.agree(t, roster.Consent{Pictures: true})
	id := r.clip(t).ID
	var asked check.Ask
	r.run(t, filmed(&asked))
	first := r.check(t, id)
	stride := r.stride(t, id)
	if len(stride.Stills) != 10 || len(stride.Track.Frames) < 400 || !stride.Fix.None() {
		t.Fatalf("%d stills, %d frames, %+v", len(stride.Stills), len(stride.Track.Frames), stride.Fix)
	}
	for _, s := range stride.Stills {
		if s.FootageID == "" || s.Width != 30 || s.Height != 50 || s.Place != card.Moved(-1, -2) {
			t.Errorf("%+v", s)
		}
	}
	e := stride.Card.Events[slices.IndexFunc(stride.Card.Events, func(e form.Event) bool { return e.Side == form.Left && e.Kind == form.Contact })]
	frame := stride.Track.Frames[200]
	knee := frame.Spot(form.Knee, form.Right)
	fix := amend.Corrections{
		Events: []amend.Event{{Kind: form.Contact, Side: form.Left, FoundS: e.Time, TimeS: e.Time + 0.015}},
		Points: []amend.Point{{TimeS: frame.Time, Point: form.Knee, Side: form.Right, XPx: knee.X + 2, YPx: knee.Y}},
	}
	second, err := r.correct(t, first, fix)
	if err != nil {
		t.Fatal(err)
	}
	was, now := contactTime(t, first), contactTime(t, second)
	if math.Abs(now.Value-was.Value+15) > 0.2 || now.Found == nil || math.Abs(float64(now.Found.Value)-was.Value) > 0.2 {
		t.Errorf("contact time %.2f, was %.2f: %+v", now.Value, was.Value, now.Found)
	}
	past, err := r.db.History(t.Context(), r.runner.ID)
	if err != nil || !slices.ContainsFunc(past, func(p store.Past) bool { return p.Name == "contact_time" && p.Value == now.Value }) {
		t.Errorf("the history doesn't follow (%v)", err)
	}
	stride = r.stride(t, id)
	if diff := cmp.Diff(fix, stride.Fix); diff != "" || stride.Track.Frames[200].Spot(form.Knee, form.Right) != knee {
		t.Errorf("what was measured is overwritten, or what was corrected isn't kept: %s", diff)
	}
	if cd, err := Card(t.Context(), r.db, r.shelf, second); err != nil || len(cd.Pictures) != 2 || len(cd.Pictures[0].Body) < 4 {
		t.Errorf("the pictures' lines: %+v, %v", cd.Pictures, err)
	}
	// Somebody who saw the check before is not to overwrite it.
	if _, err := r.correct(t, first, amend.Corrections{}); !errors.Is(err, store.ErrConflict) {
		t.Errorf("a page from before: %v", err)
	}
	third, err := r.correct(t, second, amend.Corrections{})
	if err != nil || string(third.Card) != string(first.Card) {
		t.Errorf("undone, it is another card (%v)", err)
	}
	if s := r.stride(t, id); !s.Fix.None() || len(s.Stills) != 10 {
		t.Errorf("%+v", s.Fix)
	}
}

// TestCorrectRefuses: what can't be meant changes nothing.
func TestCorrectRefuses(t *testing.T) {
	r := newRoom(t)
	r.agree(t, roster.Consent{})
	waiting := r.clip(t)
	if _, err := r.correct(t, waiting, amend.Corrections{}); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a check that waits: %v", err)
	}
	var asked check.Ask
	r.run(t, filmed(&asked))
	before := r.check(t, waiting.ID)
	if asked.Stride || len(r.stride(t, before.ID).Stills) != 0 {
		t.Error("pictures of a runner who agreed to none")
	}
	fix := amend.Corrections{Events: []amend.Event{{Kind: form.Contact, Side: form.Left, FoundS: 300, TimeS: 300}}}
	if _, err := r.correct(t, before, fix); form.CodeOf(err) != form.CodeUsage {
		t.Errorf("an event of no stride: %v", err)
	}
	if diff := cmp.Diff(before, r.check(t, before.ID)); diff != "" {
		t.Error(diff)
	}
}

// TestMeasuredAgainCorrected: a check that is measured once more keeps its
// corrections where they fit, and says so where they don't.
func TestMeasuredAgainCorrected(t *testing.T) {
	r := newRoom(t)
	r.agree(t, roster.Consent{Pictures: true})
	id := r.clip(t).ID
	var asked check.Ask
	r.run(t, filmed(&asked))
	stride := r.stride(t, id)
	e := stride.Card.Events[2]
	fix := amend.Corrections{Events: []amend.Event{{Kind: e.Kind, Side: e.Side, FoundS: e.Time, TimeS: e.Time + 0.01}}}
	if _, err := r.correct(t, r.check(t, id), fix); err != nil {
		t.Fatal(err)
	}
	job := Job()
	job.CheckID = id
	remeasure := func(m Measure) {
		if _, err := r.db.AddJob(t.Context(), job); err != nil {
			t.Fatal(err)
		}
		r.run(t, m)
	}
	remeasure(filmed(&asked))
	again := r.stride(t, id)
	if diff := cmp.Diff(fix, again.Fix); diff != "" || again.Card.Corrected == nil {
		t.Errorf("corrections are lost: %s", diff)
	}
	if !slices.ContainsFunc(again.Stills, func(s Still) bool { return s.FootageID != "" }) {
		t.Error("no pictures")
	}
	remeasure(func(ctx context.Context, kind store.CheckKind, path string, ask check.Ask, tell func(check.Progress)) (*check.Outcome, error) {
		out, err := filmed(&asked)(ctx, kind, path, ask, tell)
		for i := range out.Track.Frames {
			out.Track.Frames[i].Time += 60 // nothing is where it was
		}
		return out, err
	})
	again = r.stride(t, id)
	if !again.Fix.None() || again.Card.Corrected != nil || !strings.Contains(strings.Join(again.Card.Notes, " "), "set aside") {
		t.Errorf("%+v %q", again.Fix, again.Card.Notes)
	}
}

// TestForgetStride: of a runner who is forgotten neither pictures nor
// corrections are left.
func TestForgetStride(t *testing.T) {
	r := newRoom(t)
	r.agree(t, roster.Consent{Pictures: true})
	id := r.clip(t).ID
	var asked check.Ask
	r.run(t, filmed(&asked))
	e := r.stride(t, id).Card.Events[2]
	fix := amend.Corrections{Events: []amend.Event{{Kind: e.Kind, Side: e.Side, FoundS: e.Time, TimeS: e.Time + 0.01}}}
	if _, err := r.correct(t, r.check(t, id), fix); err != nil {
		t.Fatal(err)
	}
	if err := media.Forget(t.Context(), r.db, r.shelf, r.runner.ID, store.Who{Kind: "command"}); err != nil {
		t.Fatal(err)
	}
	if n, err := r.shelf.Sweep(t.Context(), nil, time.Now().Add(time.Hour)); err != nil || n != 0 {
		t.Errorf("%d files are left, %v", n, err)
	}
	if _, err := r.db.Check(t.Context(), id); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("the check is left: %v", err)
	}
}
