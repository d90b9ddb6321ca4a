package evening

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
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

// Foot is one stride of one foot: its phases, and the frames to be looked at,
// in their order. A frame without a FootageID has no picture: its lines stand
// alone.
type Foot struct {
	Side   form.Side
	Near   bool // turned to the camera
	Phases []card.Phase
	Frames []Still
	// Contact and ToeOff are the stride's events, each with where it was
	// measured.
	Contact, ToeOff Moment
}

// Moment is an event with where it was found before a coach set it.
type Moment struct {
	form.Event
	FoundS float64
}

// Feet gives a stride of the left and the right foot: that of which pictures
// were kept or, without any, one from the middle. A foot whose stride was not
// seen is left out; a check of somebody standing, or from behind, has none.
func (s Stride) Feet() []Foot {
	var out []Foot
	for _, side := range []form.Side{form.Left, form.Right} {
		f := Foot{Side: side, Near: s.Card.Clip.Facing == side.String()}
		for _, one := range s.Stills {
			if one.Side == side {
				f.Frames = append(f.Frames, one)
			}
		}
		slices.SortFunc(f.Frames, func(a, b Still) int { return cmp.Compare(a.TimeS, b.TimeS) })
		at := s.middle()
		if len(f.Frames) > 0 {
			at = f.Frames[min(check.Neighbours, len(f.Frames)-1)].TimeS
		}
		f.Phases = card.Phases(s.Card.Events, side, at, s.Card.Clip.SlowedBy)
		if len(f.Phases) == 0 {
			continue
		}
		f.Contact = s.moment(form.Contact, side, f.Phases[0].TimeS)
		f.ToeOff = s.moment(form.ToeOff, side, f.Phases[3].TimeS)
		if len(f.Frames) == 0 {
			f.Frames = s.drawn(side, f.Phases)
		}
		if len(f.Frames) > 0 {
			out = append(out, f)
		}
	}
	return out
}

// middle is a time in the middle of what was seen.
func (s Stride) middle() float64 {
	if n := len(s.Card.Events); n > 0 {
		return s.Card.Events[n/2].Time
	}
	return 0
}

// moment is the event of a kind and side nearest to a time, and where it was
// found.
func (s Stride) moment(kind form.EventKind, side form.Side, at float64) Moment {
	var m Moment
	best := math.Inf(1)
	for _, e := range s.Card.Events {
		if d := math.Abs(e.Time - at); e.Kind == kind && e.Side == side && d < best {
			best, m = d, Moment{e, e.Time}
		}
	}
	for _, e := range s.Fix.Events {
		if e.Kind == kind && e.Side == side && math.Abs(e.TimeS-m.Time) < 1e-6 {
			m.FoundS = e.FoundS
		}
	}
	return m
}

// drawn are the frames of a stride of which there are no pictures: those that
// a clip's would show, cut around the body.
func (s Stride) drawn(side form.Side, phases []card.Phase) []Still {
	var frames []int
	times := make([]float64, len(s.Track.Frames))
	for i := range s.Track.Frames {
		times[i] = s.Track.Frames[i].Time
	}
	for _, p := range phases {
		frames = append(frames, check.FramesOf(p, times, math.Max(s.Card.Clip.SlowedBy, 1))...)
	}
	slices.Sort(frames)
	frames = slices.Compact(frames)
	low, high := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	var out []Still
	for _, k := range frames {
		for _, spot := range s.Track.Frames[k].Spots {
			if spot.Seen() {
				low = [2]float64{math.Min(low[0], spot.X), math.Min(low[1], spot.Y)}
				high = [2]float64{math.Max(high[0], spot.X), math.Max(high[1], spot.Y)}
			}
		}
		out = append(out, Still{Side: side, TimeS: times[k]})
	}
	wide, deep := high[0]-low[0], high[1]-low[1]
	if !(deep > 0) {
		return nil
	}
	const tall, margin = 640, 0.12
	room := margin * deep
	scale := tall / (deep + 2*room)
	for i := range out {
		out[i].Place = card.Moved(room-low[0], room-low[1]).Then(card.Scaled(scale))
		out[i].Width, out[i].Height = int(scale*(wide+2*room)), tall
	}
	return out
}
