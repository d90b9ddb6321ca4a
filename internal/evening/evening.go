// Package evening takes a check that waits in the store, with its clip on the
// shelf, and gives it its card, its numbers and its pictures, or the reason
// why there are none: it is what the queue does with a clip. It also gives
// the card back with its pictures, ready to be shown.
package evening

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"math"
	"slices"

	"plumbstride/internal/body"
	"plumbstride/internal/card"
	"plumbstride/internal/check"
	"plumbstride/internal/form"
	"plumbstride/internal/media"
	"plumbstride/internal/plan"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/track"
	"plumbstride/internal/work"
)

// Ask is what was stated for a check, in SI units: store.Check.Ask. Zero
// values mean not stated.
type Ask struct {
	HeightM       float64    `json:"height_m,omitempty"`
	MassKg        float64    `json:"mass_kg,omitempty"`
	Sex           roster.Sex `json:"sex,omitempty"`
	SpeedMS       float64    `json:"speed_m_s,omitempty"`
	InclinePct    float64    `json:"incline_pct,omitempty"`
	CaptureRateHz float64    `json:"capture_rate_hz,omitempty"`
	Network       string     `json:"network,omitempty"`
	Inches        bool       `json:"inches,omitempty"`
	Pain          bool       `json:"pain,omitempty"`
}

// AskFor is what is known of a runner beforehand, at a speed in m/s (0 where
// it was not stated).
func AskFor(r roster.Runner, speedMS float64) Ask {
	return Ask{HeightM: r.HeightM, MassKg: r.MassKg, Sex: r.Sex, SpeedMS: speedMS, Pain: r.Health.Has(plan.PainNow)}
}

// JSON is the ask as the store keeps it.
func (a Ask) JSON() json.RawMessage {
	data, err := json.Marshal(a)
	if err != nil {
		panic("evening: an ask with numbers that are none: " + err.Error())
	}
	return data
}

// forCheck is the ask as package check takes it. The face is shown only
// where the runner agreed.
func (a Ask) forCheck(name string, showFace bool) check.Ask {
	sex := map[roster.Sex]body.Sex{roster.Female: body.Female, roster.Male: body.Male}[a.Sex]
	return check.Ask{
		Name: name, HeightM: a.HeightM, MassKg: a.MassKg, Sex: sex, SpeedMS: a.SpeedMS, InclinePct: a.InclinePct,
		CaptureRateHz: a.CaptureRateHz, Network: a.Network, Inches: a.Inches, Pain: a.Pain, ShowFace: showFace,
	}
}

// JobKind names the jobs that Kind does.
const JobKind = "measure"

// tries is how often a clip is tried.
const tries = 3

// Job is the job that measures a check: give it to media.Complete, or to
// AddJob with its CheckID to measure again.
func Job() store.Job { return store.Job{Kind: JobKind, MaxTries: tries} }

// Measure is check.Clip with what it needs from outside, or what measures the
// other kinds of checks.
type Measure func(ctx context.Context, kind store.CheckKind, path string, ask check.Ask, tell func(check.Progress)) (*check.Outcome, error)

// Kind is how the queue measures a check. A clip that can't be used leaves
// the check Refused with the sentence; what can't be measured for another
// reason is tried again, and leaves it Failed at last.
func Kind(s store.Store, shelf media.Shelf, measure Measure) work.Kind {
	return work.Kind{
		Do: func(ctx context.Context, job store.Job, tell func(store.Progress)) (func(context.Context, store.Store) error, error) {
			return do(ctx, s, shelf, measure, job.CheckID, tell)
		},
		Failed: func(ctx context.Context, s store.Store, job store.Job, reason string) error {
			_, err := s.Measured(ctx, job.CheckID, store.Result{State: store.Failed, Refusal: reason})
			return err
		},
	}
}

// do measures a check and gives what writes its result.
func do(ctx context.Context, s store.Store, shelf media.Shelf, measure Measure, checkID string, tell func(store.Progress)) (func(context.Context, store.Store) error, error) {
	c, err := s.Check(ctx, checkID)
	if err != nil {
		return nil, err
	}
	consent, err := standing(ctx, s, c)
	if err != nil {
		return nil, err
	}
	out, err := measured(ctx, s, shelf, measure, c, consent, tell)
	if form.CodeOf(err) == form.CodeClip {
		return func(ctx context.Context, s store.Store) error {
			_, err := s.Measured(ctx, checkID, store.Result{State: store.Refused, Refusal: err.Error()})
			return err
		}, nil
	}
	if err != nil {
		return nil, err
	}
	found, err := pack(c, out)
	if err != nil {
		return nil, err
	}
	if err := found.correctAgain(ctx, s, c, consent, out); err != nil {
		return nil, err
	}
	return func(ctx context.Context, s store.Store) error {
		now, err := standing(ctx, s, c)
		if err == nil && now.Faces != consent.Faces {
			err = errors.New("the runner agreed to something else meanwhile")
		}
		if err != nil {
			return err
		}
		return (&writer{s: s, shelf: shelf, c: c}).write(ctx, found)
	}, nil
}

// asked is what is asked of the line for a check.
func asked(ctx context.Context, s store.Store, c store.Check, consent roster.Consent) (check.Ask, error) {
	var ask Ask
	if len(c.Ask) > 0 {
		if err := json.Unmarshal(c.Ask, &ask); err != nil {
			return check.Ask{}, work.Final(fmt.Errorf("what was stated for check %s can't be read: %w", c.ID, err))
		}
	}
	r, err := s.Runner(ctx, c.RunnerID)
	if err != nil {
		return check.Ask{}, err
	}
	out := ask.forCheck(r.Name, consent.Faces)
	out.Stride = consent.Pictures && c.Kind == store.Running
	return out, nil
}

// measured runs the line on a check's clip.
func measured(ctx context.Context, s store.Store, shelf media.Shelf, measure Measure, c store.Check, consent roster.Consent, tell func(store.Progress)) (*check.Outcome, error) {
	ask, err := asked(ctx, s, c, consent)
	if err != nil {
		return nil, err
	}
	clip, err := s.Footage(ctx, c.ClipID)
	if err == nil && !clip.Gone.IsZero() {
		err = store.ErrNotFound
	}
	if errors.Is(err, store.ErrNotFound) {
		return nil, form.ClipError("the clip is no longer kept; film again")
	}
	if err != nil {
		return nil, err
	}
	path, done, err := shelf.Local(ctx, clip.Key)
	if err != nil {
		return nil, fmt.Errorf("the clip of check %s: %w", c.ID, err)
	}
	defer done()
	return measure(ctx, c.Kind, path, ask, func(p check.Progress) {
		tell(store.Progress{Stage: p.Stage, Done: p.Done, Total: p.Total})
	})
}

// standing is what the runner agrees to now: the latest consent, where it
// was not taken back.
func standing(ctx context.Context, s store.Consents, c store.Check) (roster.Consent, error) {
	consents, err := s.Consents(ctx, c.RunnerID)
	if err != nil || len(consents) == 0 {
		return roster.Consent{}, err
	}
	if latest := consents[len(consents)-1]; latest.Withdrawn == nil {
		return latest, nil
	}
	return roster.Consent{}, nil
}

// still is a picture as the check keeps it: the lines, and which footage they
// lie over. One of a stride is no part of the card.
type still struct {
	FootageID string       `json:"footage_id"`
	Picture   card.Picture `json:"picture"` // without its image
	Stride    *Still       `json:"stride,omitempty"`
}

// stillsOf reads the pictures that a check keeps.
func stillsOf(c store.Check) (stills []still, err error) {
	if len(c.Pictures) > 0 {
		if err := json.Unmarshal(c.Pictures, &stills); err != nil {
			return nil, fmt.Errorf("the pictures of check %s: %w", c.ID, err)
		}
	}
	return stills, nil
}

// drawable is a picture without its image, and without lines that can't be
// drawn: a centre of mass or ground that isn't known is 0, as charts take it.
func drawable(p card.Picture) card.Picture {
	finite := func(v ...float64) bool {
		return !slices.ContainsFunc(v, func(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) })
	}
	p.Image = nil
	if !finite(p.CentreOfMass[0], p.CentreOfMass[1], p.Tilt) {
		p.CentreOfMass, p.Tilt = [2]float64{}, 0
	}
	if !finite(p.GroundY) {
		p.GroundY = 0
	}
	bad := func(l card.Line) bool { return !finite(l.X1, l.Y1, l.X2, l.Y2) }
	p.Body, p.Foot = slices.DeleteFunc(slices.Clone(p.Body), bad), slices.DeleteFunc(slices.Clone(p.Foot), bad)
	return p
}

// found is what a measuring gave, ready to be written.
type found struct {
	result   store.Result
	pictures [][]byte // JPEG, one for each still
	stills   []still
	track    []byte
	// corrections, where the check has some: as they now apply.
	corrections json.RawMessage
}

// pack makes everything that is to be kept ready to be written.
func pack(c store.Check, out *check.Outcome) (f found, err error) {
	cd := out.Card
	cd.Clip.File = "clip" // the sender's name for it goes with the clip
	f.result = store.Result{State: store.Ready, Networks: cd.Networks, Measures: cd.Measures}
	if f.result.Card, err = json.Marshal(cd); err != nil {
		return f, work.Final(fmt.Errorf("the card of check %s: %w", c.ID, err))
	}
	for _, p := range cd.Pictures {
		if p.Image == nil {
			continue
		}
		if err := f.keep(p.Image, 90, still{Picture: drawable(p)}); err != nil {
			return f, fmt.Errorf("a picture of check %s: %w", c.ID, err)
		}
	}
	for _, s := range out.Stills {
		size := s.Image.Bounds().Size()
		if err := f.keep(s.Image, 80, still{Stride: &Still{Side: s.Side, TimeS: s.TimeS, Place: s.Place, Width: size.X, Height: size.Y}}); err != nil {
			return f, fmt.Errorf("a picture of the stride of check %s: %w", c.ID, err)
		}
	}
	var b bytes.Buffer
	if err := track.Write(&b, out.Track); err != nil {
		return f, fmt.Errorf("the track of check %s: %w", c.ID, err)
	}
	f.track = b.Bytes()
	return f, nil
}

// keep makes a picture ready to be written.
func (f *found) keep(img image.Image, quality int, s still) error {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: quality}); err != nil {
		return err
	}
	f.pictures, f.stills = append(f.pictures, b.Bytes()), append(f.stills, s)
	return nil
}

// writer records what a check gave, in the transaction that ends its job.
// Files are put on the shelf there too, and taken away again where it comes
// to nothing: of a runner who was forgotten meanwhile none is left.
type writer struct {
	s     store.Store
	shelf media.Shelf
	c     store.Check
	put   []string
}

func (w *writer) write(ctx context.Context, f found) (err error) {
	defer func() {
		if err != nil {
			for _, key := range w.put {
				err = errors.Join(err, w.shelf.Remove(context.WithoutCancel(ctx), key))
			}
		}
	}()
	if err := w.letGo(ctx); err != nil {
		return err
	}
	if _, err := w.add(ctx, store.Track, f.track); err != nil {
		return err
	}
	kept := []still{}
	for i, picture := range f.pictures {
		file, err := w.add(ctx, store.Picture, picture)
		if form.CodeOf(err) == form.CodeUsage { // no pictures, the runner said
			break
		}
		if err != nil {
			return err
		}
		f.stills[i].FootageID = file.ID
		kept = append(kept, f.stills[i])
	}
	if f.result.Pictures, err = json.Marshal(kept); err != nil {
		return work.Final(fmt.Errorf("the pictures of check %s: %w", w.c.ID, err))
	}
	if f.corrections != nil {
		now, err := w.s.Check(ctx, w.c.ID)
		if err != nil {
			return err
		}
		if string(now.Corrections) != string(w.c.Corrections) {
			return errors.New("the coach corrected the check meanwhile")
		}
		now.Corrections = f.corrections
		if _, err := w.s.ChangeCheck(ctx, now); err != nil {
			return err
		}
	}
	_, err = w.s.Measured(ctx, w.c.ID, f.result)
	return err
}

// letGo takes away what an earlier measuring left.
func (w *writer) letGo(ctx context.Context) error {
	before, err := w.s.CheckFootage(ctx, w.c.ID)
	if err != nil {
		return err
	}
	for _, f := range before {
		if f.CheckID != w.c.ID {
			continue
		}
		if err := w.s.RemoveFootage(ctx, f.ID); err != nil {
			return err
		}
	}
	return nil
}

// add puts a file on the shelf and records it; one that may not be recorded
// is taken away.
func (w *writer) add(ctx context.Context, kind store.FootageKind, content []byte) (store.Footage, error) {
	file, err := w.shelf.Put(ctx, kind, bytes.NewReader(content))
	if err != nil {
		return store.Footage{}, err
	}
	f, err := w.s.AddFootage(ctx, store.Footage{
		RunnerID: w.c.RunnerID, ClassID: w.c.ClassID, CheckID: w.c.ID, Kind: kind, Key: file.Key, SHA256: file.SHA256, Bytes: file.Bytes,
	})
	if err != nil {
		if gone := w.shelf.Remove(ctx, file.Key); gone != nil {
			return f, fmt.Errorf("%w (besides: %w)", gone, err)
		}
		return f, err
	}
	w.put = append(w.put, file.Key)
	return f, nil
}

// Card gives a check's card with those of its pictures that are still kept.
// A check that isn't ready has none: store.ErrNotFound.
func Card(ctx context.Context, s store.Footages, shelf media.Shelf, c store.Check) (cd card.Card, err error) {
	if c.State != store.Ready {
		return cd, store.ErrNotFound
	}
	if err := json.Unmarshal(c.Card, &cd); err != nil {
		return cd, fmt.Errorf("the card of check %s: %w", c.ID, err)
	}
	stills, err := stillsOf(c)
	if err != nil {
		return cd, err
	}
	for _, one := range stills {
		if one.Stride != nil {
			continue
		}
		img, err := picture(ctx, s, shelf, one.FootageID)
		if errors.Is(err, store.ErrNotFound) || errors.Is(err, media.ErrNoFile) {
			continue
		}
		if err != nil {
			return cd, err
		}
		one.Picture.Image = img
		cd.Pictures = append(cd.Pictures, one.Picture)
	}
	return cd, nil
}

// picture reads one picture from the shelf.
func picture(ctx context.Context, s store.Footages, shelf media.Shelf, id string) (_ image.Image, err error) {
	f, err := s.Footage(ctx, id)
	if err == nil && !f.Gone.IsZero() {
		err = store.ErrNotFound
	}
	if err != nil {
		return nil, err
	}
	file, err := shelf.Open(ctx, f.Key)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	img, err := jpeg.Decode(io.LimitReader(file, f.Bytes))
	if err != nil {
		return nil, fmt.Errorf("the picture %s can't be read: %w", id, err)
	}
	return img, nil
}
