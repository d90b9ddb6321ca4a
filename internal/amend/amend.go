// Package amend takes the coach's own corrections of a check – a body point
// that the network put in the wrong place, a contact or toe-off that it saw
// too early or too late – and gives a track with those points in it and the
// events to be set, the measured ones left as they were.
package amend

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"io"
	"math"
	"slices"

	"plumbstride/internal/form"
)

// Corrections are a coach's own points and events of one check. They are kept
// beside what was measured and never written into it.
type Corrections struct {
	Points []Point `json:"points,omitempty"`
	Events []Event `json:"events,omitempty"`
}

// Point is a body point placed by a person: pixels of the track's picture, in
// the frame at TimeS seconds of the clip's own clock.
type Point struct {
	TimeS float64    `json:"time_s"`
	Point form.Point `json:"point"`
	Side  form.Side  `json:"side"` // mid for the nose
	XPx   float64    `json:"x_px"`
	YPx   float64    `json:"y_px"`
}

// Joint is the point with its side.
func (p Point) Joint() form.Joint { return form.At(p.Point, p.Side) }

// Event is a contact or toe-off timed by a person. FoundS is where it was
// measured, which tells the stride; TimeS where it belongs; both in seconds of
// the clip's own clock.
type Event struct {
	Kind   form.EventKind `json:"kind"`
	Side   form.Side      `json:"side"`
	FoundS float64        `json:"found_s"`
	TimeS  float64        `json:"time_s"`
}

// None tells whether there are no corrections.
func (c Corrections) None() bool { return len(c.Points) == 0 && len(c.Events) == 0 }

// mostBytes, mostPoints and mostEvents bound what a person corrects by hand.
const (
	mostBytes  = 1 << 20
	mostPoints = 4000
	mostEvents = 400
)

// longest is the longest time of a clip that is believed, seconds.
const longest = 1e5

// Parse reads corrections as JSON writes them; nothing, or null, is none.
// What is wrong is a form.Error of usage.
func Parse(data []byte) (Corrections, error) {
	var c Corrections
	if len(data) > mostBytes {
		return c, form.UsageError("the corrections are too many to be one check's: %d kB", len(data)>>10)
	}
	if len(bytes.TrimSpace(data)) == 0 {
		return c, nil
	}
	in := json.NewDecoder(bytes.NewReader(data))
	in.DisallowUnknownFields()
	if err := in.Decode(&c); err != nil {
		return Corrections{}, form.UsageError("the corrections can't be read: %w", err)
	}
	if _, err := in.Token(); !errors.Is(err, io.EOF) {
		return Corrections{}, form.UsageError("the corrections can't be read: something follows behind them")
	}
	return c.Clean()
}

// JSON writes corrections as Parse reads them.
func (c Corrections) JSON() (json.RawMessage, error) {
	c, err := c.Clean()
	if err != nil {
		return nil, err
	}
	return json.Marshal(c)
}

// Clean gives the corrections in the order of time, or says which can't be
// meant: numbers that are none, a foot or joint that there isn't, one joint
// placed twice in one frame.
func (c Corrections) Clean() (Corrections, error) {
	if len(c.Points) > mostPoints || len(c.Events) > mostEvents {
		return Corrections{}, form.UsageError("%d points and %d events are more than a person corrects in one check (%d and %d)", len(c.Points), len(c.Events), mostPoints, mostEvents)
	}
	var out Corrections // without empty lists, which are the same as none
	if len(c.Points) > 0 {
		out.Points = slices.Clone(c.Points)
	}
	if len(c.Events) > 0 {
		out.Events = slices.Clone(c.Events)
	}
	for i := range out.Points {
		p := &out.Points[i]
		if p.Point == form.Nose {
			p.Side = form.Mid
		}
		if err := p.sensible(); err != nil {
			return Corrections{}, err
		}
	}
	for _, e := range out.Events {
		if err := e.sensible(); err != nil {
			return Corrections{}, err
		}
	}
	slices.SortStableFunc(out.Points, func(a, b Point) int {
		return cmp.Or(cmp.Compare(a.TimeS, b.TimeS), cmp.Compare(a.Joint(), b.Joint()))
	})
	slices.SortStableFunc(out.Events, func(a, b Event) int {
		return cmp.Or(cmp.Compare(a.FoundS, b.FoundS), cmp.Compare(a.Side, b.Side), cmp.Compare(a.Kind, b.Kind))
	})
	for i := 1; i < len(out.Points); i++ {
		if a, b := out.Points[i-1], out.Points[i]; a.TimeS == b.TimeS && a.Joint() == b.Joint() {
			return Corrections{}, form.UsageError("the %s is placed twice in the picture at %.3f s", b.Joint(), b.TimeS)
		}
	}
	return out, nil
}

func (p Point) sensible() error {
	if p.Point > form.Toe || p.Point != form.Nose && p.Side != form.Left && p.Side != form.Right {
		return form.UsageError("a corrected point needs the name of a body point and a side, left or right")
	}
	if !believable(p.TimeS) || !finite(p.XPx) || !finite(p.YPx) {
		return form.UsageError("the corrected %s has a place or a time that is no number", p.Joint())
	}
	return nil
}

func (e Event) sensible() error {
	if e.Side != form.Left && e.Side != form.Right || e.Kind != form.Contact && e.Kind != form.ToeOff {
		return form.UsageError("a corrected event is a contact or toe_off of the left or right foot")
	}
	if !believable(e.TimeS) || !believable(e.FoundS) {
		return form.UsageError("a corrected event of the %s foot has a time that is no number", e.Side)
	}
	return nil
}

func finite(v float64) bool { return !math.IsNaN(v) && math.Abs(v) < 1e6 }

func believable(t float64) bool { return !math.IsNaN(t) && math.Abs(t) <= longest }

// timeTolerance is how far a frame may lie from its time as text, seconds.
const timeTolerance = 0.001

// Placed is a corrected point with what stood there before; Seen is false
// where the network had found nothing.
type Placed struct {
	Point
	Frame int
	Found form.Spot
}

// Apply gives a copy of the track with the corrected points in it, marked as
// placed by hand, and each with the point that was found. The track itself is
// left alone. A point outside the picture, or in no frame, is a form.Error of
// usage.
func Apply(t form.Track, c Corrections) (form.Track, []Placed, error) {
	c, err := c.Clean()
	if err != nil || len(c.Points) == 0 {
		return t, nil, err
	}
	t.Frames = slices.Clone(t.Frames)
	var placed []Placed
	for _, p := range c.Points {
		k, ok := FrameAt(t, p.TimeS)
		if !ok {
			return form.Track{}, nil, form.UsageError("there is no picture at %.3f s, where the %s was placed; load the page again", p.TimeS, p.Joint())
		}
		if !within(t, p) {
			return form.Track{}, nil, form.UsageError("the %s at %.3f s was placed outside the picture; only what can be seen can be placed", p.Joint(), p.TimeS)
		}
		f, j := &t.Frames[k], p.Joint()
		placed = append(placed, Placed{Point: p, Frame: k, Found: f.Spots[j]})
		f.Spots[j], f.ByHand = form.Spot{X: p.XPx, Y: p.YPx, Confidence: 1}, f.ByHand.With(j)
	}
	return t, placed, nil
}

// FrameAt gives the index of the frame at a time, which may be rounded to the
// thousandth of a second.
func FrameAt(t form.Track, timeS float64) (int, bool) {
	k, _ := slices.BinarySearchFunc(t.Frames, timeS-timeTolerance, func(f form.Frame, at float64) int { return cmp.Compare(f.Time, at) })
	best := -1
	for ; k < len(t.Frames) && t.Frames[k].Time <= timeS+timeTolerance; k++ {
		if best < 0 || math.Abs(t.Frames[k].Time-timeS) < math.Abs(t.Frames[best].Time-timeS) {
			best = k
		}
	}
	return best, best >= 0
}

// within tells whether a point lies in the picture. A camera that moved has
// its points laid into one steady picture, beyond whose edges they may lie:
// by no more than four times its size.
func within(t form.Track, p Point) bool {
	if t.Width <= 0 || t.Height <= 0 {
		return true
	}
	w, h := float64(t.Width), float64(t.Height)
	room := 0.0
	if t.FocalPx > 0 {
		room = 4
	}
	return p.XPx >= -room*w && p.XPx <= (1+room)*w && p.YPx >= -room*h && p.YPx <= (1+room)*h
}
