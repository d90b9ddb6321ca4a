package evening

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"plumbstride/internal/amend"
	"plumbstride/internal/card"
	"plumbstride/internal/check"
	"plumbstride/internal/form"
	"plumbstride/internal/media"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/track"
)

// Still is a kept picture of a foot's stride: which frame it shows, by the
// clip's own time, and where a place of the track lies in it.
type Still struct {
	Side   form.Side  `json:"side"`
	TimeS  float64    `json:"time_s"`
	Place  card.Place `json:"place"`
	Width  int        `json:"width_px"`
	Height int        `json:"height_px"`
	// FootageID is the picture's file; "" once it is gone.
	FootageID string `json:"-"`
}

// corrected is what a check keeps of its coach's corrections: themselves, and
// the card as it was measured.
type corrected struct {
	Corrections amend.Corrections `json:"corrections"`
	At          time.Time         `json:"at"`
	Measured    json.RawMessage   `json:"measured"`
}

func correctedOf(c store.Check) (k corrected, err error) {
	if len(c.Corrections) == 0 || string(c.Corrections) == "null" {
		return k, nil
	}
	if err := json.Unmarshal(c.Corrections, &k); err != nil {
		return k, fmt.Errorf("the corrections of check %s: %w", c.ID, err)
	}
	return k, nil
}

// Stride is what the drawing of a check is made from: its card, the points as
// they were measured, the coach's corrections beside them, and the pictures
// that are still kept.
type Stride struct {
	Card   card.Card
	Track  form.Track
	Fix    amend.Corrections
	Stills []Still
}

// StrideOf gives a check's stride. A check that isn't ready has none, nor one
// whose track is gone: store.ErrNotFound.
func StrideOf(ctx context.Context, s store.Store, shelf media.Shelf, c store.Check) (Stride, error) {
	var out Stride
	if c.State != store.Ready {
		return out, store.ErrNotFound
	}
	if err := json.Unmarshal(c.Card, &out.Card); err != nil {
		return out, fmt.Errorf("the card of check %s: %w", c.ID, err)
	}
	files, err := s.CheckFootage(ctx, c.ID)
	if err != nil {
		return out, err
	}
	there := map[string]bool{}
	found := false
	for _, f := range files {
		if !f.Gone.IsZero() || f.CheckID != c.ID {
			continue
		}
		there[f.ID] = true
		if f.Kind == store.Track {
			if out.Track, err = storedTrack(ctx, shelf, f); err != nil {
				return out, fmt.Errorf("the track of check %s: %w", c.ID, err)
			}
			found = true
		}
	}
	if !found {
		return out, store.ErrNotFound
	}
	stills, err := stillsOf(c)
	if err != nil {
		return out, err
	}
	for _, one := range stills {
		if one.Stride == nil {
			continue
		}
		if there[one.FootageID] {
			one.Stride.FootageID = one.FootageID
		}
		out.Stills = append(out.Stills, *one.Stride)
	}
	k, err := correctedOf(c)
	out.Fix = k.Corrections
	return out, err
}

func storedTrack(ctx context.Context, shelf media.Shelf, f store.Footage) (_ form.Track, err error) {
	file, err := shelf.Open(ctx, f.Key)
	if errors.Is(err, media.ErrNoFile) {
		return form.Track{}, store.ErrNotFound
	}
	if err != nil {
		return form.Track{}, err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	return track.Read(file)
}

// Correct measures a check's stored track anew with a coach's corrections,
// which replace those before, and keeps them beside what was measured; none
// gives the card as it was measured. The clip isn't needed. c is the check as
// the coach saw it: store.ErrConflict where somebody else was faster. A
// correction that can't be meant is a form.Error of usage, and nothing
// changes.
func Correct(ctx context.Context, s store.Store, shelf media.Shelf, now func() time.Time, c store.Check, fix amend.Corrections) (out store.Check, err error) {
	stride, err := StrideOf(ctx, s, shelf, c)
	if err != nil {
		return c, err
	}
	kept, err := correctedOf(c)
	if err != nil {
		return c, err
	}
	if len(kept.Measured) == 0 {
		kept.Measured = c.Card
	}
	consent, err := standing(ctx, s, c)
	if err != nil {
		return c, err
	}
	ask, err := asked(ctx, s, c, consent)
	if err != nil {
		return c, err
	}
	result, corrections, err := recompute(ctx, c, stride.Track, kept.Measured, fix, ask, now())
	if err != nil {
		return c, err
	}
	err = s.Within(ctx, func(s store.Store) error {
		c.Corrections = corrections
		if _, err := s.ChangeCheck(ctx, c); err != nil {
			return err
		}
		out, err = s.Measured(ctx, c.ID, result)
		return err
	})
	return out, err
}

// recompute gives the result of a check with corrections, and these as the
// check keeps them.
func recompute(ctx context.Context, c store.Check, points form.Track, measured json.RawMessage, fix amend.Corrections, ask check.Ask, at time.Time) (r store.Result, corrections json.RawMessage, err error) {
	var before card.Card
	if err := json.Unmarshal(measured, &before); err != nil {
		return r, nil, fmt.Errorf("the card of check %s: %w", c.ID, err)
	}
	stills, err := stillsOf(c)
	if err != nil {
		return r, nil, err
	}
	for _, one := range stills {
		if one.Stride == nil {
			before.Pictures = append(before.Pictures, one.Picture)
		}
	}
	deps := check.Deps{Program: before.Program, Now: func() time.Time { return at }}
	out, err := check.Again(ctx, deps, points, fix, before, ask)
	if err != nil {
		return r, nil, err
	}
	cd, text := out.Card, measured
	if fix.None() {
		cd = before
	} else if text, err = json.Marshal(cd); err != nil {
		return r, nil, fmt.Errorf("the corrected card of check %s: %w", c.ID, err)
	}
	r = store.Result{State: store.Ready, Card: text, Networks: cd.Networks, Measures: cd.Measures}
	n := 0
	for i := range stills {
		if stills[i].Stride == nil {
			stills[i].Picture = drawable(out.Card.Pictures[n])
			n++
		}
	}
	if r.Pictures, err = json.Marshal(stills); err != nil {
		return r, nil, fmt.Errorf("the pictures of check %s: %w", c.ID, err)
	}
	if fix.None() {
		return r, nil, nil
	}
	corrections, err = json.Marshal(corrected{Corrections: fix, At: at, Measured: measured})
	return r, corrections, err
}

// correctAgain applies the corrections of a check that is measured once more
// to the new points. Where they no longer fit, they are set aside, and the
// card says so.
func (f *found) correctAgain(ctx context.Context, s store.Store, c store.Check, consent roster.Consent, out *check.Outcome) error {
	kept, err := correctedOf(c)
	if err != nil || kept.Corrections.None() {
		return err
	}
	ask, err := asked(ctx, s, c, consent)
	if err != nil {
		return err
	}
	if c.Pictures, err = json.Marshal(f.stills); err != nil {
		return fmt.Errorf("the pictures of check %s: %w", c.ID, err)
	}
	result, corrections, err := recompute(ctx, c, out.Track, f.result.Card, kept.Corrections, ask, kept.At)
	if form.CodeOf(err) != "" {
		cd := out.Card
		cd.Clip.File = "clip"
		cd.Notes = append(cd.Notes, "The check was measured again, and the corrections made by hand no longer fit; they were set aside: "+err.Error())
		f.corrections = json.RawMessage("null")
		if f.result.Card, err = json.Marshal(cd); err != nil {
			return fmt.Errorf("the card of check %s: %w", c.ID, err)
		}
		return nil
	}
	if err != nil {
		return err
	}
	f.corrections, f.result = corrections, result
	return json.Unmarshal(result.Pictures, &f.stills)
}
