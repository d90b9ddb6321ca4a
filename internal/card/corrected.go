package card

import (
	"time"

	"plumbstride/internal/form"
)

// Corrected lists what a coach put right by hand, each beside what was found.
// Times are the clip's own, places those of the track.
type Corrected struct {
	At     time.Time        `json:"at"`
	Points []CorrectedPoint `json:"points"`
	Events []CorrectedEvent `json:"events"`
}

// CorrectedPoint is a body point that a coach placed. The place that was found
// is null where none was.
type CorrectedPoint struct {
	TimeS   float64    `json:"time_s"`
	Point   form.Point `json:"point" jsonschema:"type=string"`
	Side    form.Side  `json:"side"`
	XPx     float64    `json:"x_px"`
	YPx     float64    `json:"y_px"`
	FoundX  Number     `json:"found_x_px"`
	FoundY  Number     `json:"found_y_px"`
	FoundBy float64    `json:"found_confidence"`
}

// CorrectedEvent is a contact or toe-off that a coach timed.
type CorrectedEvent struct {
	Kind   form.EventKind `json:"kind" jsonschema:"enum=contact,enum=toe_off"`
	Side   form.Side      `json:"side"`
	TimeS  float64        `json:"time_s"`
	FoundS float64        `json:"found_s"`
}

// Found is what was measured before corrections; null where it was refused.
type Found struct {
	Value Number `json:"value"`
	SD    Number `json:"sd"`
}

// Place takes a place (px) of one picture into another:
// x' = XX·x + XY·y + X, y' = YX·x + YY·y + Y.
type Place struct {
	XX, XY, X, YX, YY, Y float64
}

// Moved is a place shifted by x and y pixels.
func Moved(x, y float64) Place { return Place{XX: 1, X: x, YY: 1, Y: y} }

// Scaled is a place made larger by a factor.
func Scaled(by float64) Place { return Place{XX: by, YY: by} }

// At gives where x, y lies.
func (p Place) At(x, y float64) (float64, float64) {
	return p.XX*x + p.XY*y + p.X, p.YX*x + p.YY*y + p.Y
}

// Then is p followed by q.
func (p Place) Then(q Place) Place {
	x, y := q.At(p.X, p.Y)
	return Place{
		XX: q.XX*p.XX + q.XY*p.YX, XY: q.XX*p.XY + q.XY*p.YY, X: x,
		YX: q.YX*p.XX + q.YY*p.YX, YY: q.YX*p.XY + q.YY*p.YY, Y: y,
	}
}

// Back is the way back; ok is false where there is none.
func (p Place) Back() (back Place, ok bool) {
	det := p.XX*p.YY - p.XY*p.YX
	if !(det > 1e-9 || det < -1e-9) {
		return Place{}, false
	}
	b := Place{XX: p.YY / det, XY: -p.XY / det, YX: -p.YX / det, YY: p.XX / det}
	x, y := b.At(p.X, p.Y)
	b.X, b.Y = -x, -y
	return b, true
}
