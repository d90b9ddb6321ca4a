// Package card takes everything known about one check from package check and
// gives it, ready to be shown, to the pages, the paper and the command line.
package card

import (
	"fmt"
	"image"
	"math"
	"time"

	"plumbstride/internal/form"
)

// Card is one form card: what `plumbstride check --json` prints (its schema
// is docs/check.schema.json), and what the HTML page and the PDF show.
type Card struct {
	Program  string         `json:"program"`
	Made     time.Time      `json:"made"`
	Kind     Kind           `json:"kind" jsonschema:"enum=running,enum=standing,enum="`
	Runner   Runner         `json:"runner"`
	Clip     Clip           `json:"clip"`
	Events   []form.Event   `json:"events"`
	Measures []Measure      `json:"measures"`
	Refused  []form.Refusal `json:"refused"`
	Areas    []Area         `json:"areas"`
	Priority Priority       `json:"priority"`
	Networks []Network      `json:"networks"`
	Notes    []string       `json:"notes"`
	Cautions []string       `json:"cautions"`
	// Behind is a second clip of the same runner, from behind; its measures
	// and refusals stand with the others.
	Behind *Behind `json:"behind,omitempty"`
	// Corrected is what the coach put right by hand.
	Corrected *Corrected `json:"corrected,omitempty"`
	Pictures  []Picture  `json:"-"`
}

// Behind is what is known of a second clip, filmed from behind.
type Behind struct {
	Clip     Clip      `json:"clip"`
	Networks []Network `json:"networks"`
	// Says is one or two plain sentences about what was seen.
	Says  string   `json:"says"`
	Notes []string `json:"notes"`
}

// Kind is what was checked.
type Kind string

// The kinds of check. A card made before there were two is of a run.
const (
	Running  Kind = "running"
	Standing Kind = "standing"
)

// Runner is what the coach stated about the runner.
type Runner struct {
	Name    string  `json:"name"`
	HeightM float64 `json:"height_m"`
	MassKg  float64 `json:"mass_kg,omitempty"`
}

// Clip is what was filmed and how it was read. Unknown numbers are null.
type Clip struct {
	File      string  `json:"file"`
	Frames    int     `json:"frames"`
	DurationS float64 `json:"duration_s"`
	RateHz    float64 `json:"rate_hz"`
	Setting   string  `json:"setting" jsonschema:"enum=treadmill,enum=over_ground,enum=on_the_spot,enum="`
	Facing    string  `json:"facing" jsonschema:"enum=left,enum=right,enum="`
	View      string  `json:"view" jsonschema:"enum=side,enum=front,enum=back,enum="`
	SpeedMS   Number  `json:"speed_m_s"`
	// RollDeg is how far the scene is turned clockwise in the picture; YawDeg
	// how far the camera stands off side-on, seeing the runner more from
	// behind where positive; in a clip from behind, how far it stands off the
	// line of running, seeing the runner from the right where positive.
	RollDeg Number `json:"roll_deg"`
	YawDeg  Number `json:"yaw_deg"`
	MPerPx  Number `json:"m_per_px"`
	// SlowedBy is how many times slower than life the clip's clock ran and
	// was corrected for; 1 is real time.
	SlowedBy float64 `json:"slowed_by"`
	// Passes are the times the runner went by, where several are taken
	// together.
	Passes []Pass `json:"passes,omitempty"`
	// Samples are those of a body-worn accelerometer's recording, which has no
	// frames, and Gait is what was found in it.
	Samples int    `json:"samples,omitempty"`
	Gait    string `json:"gait,omitempty" jsonschema:"enum=running,enum=walking"`
}

// Pass is one time that the runner went by, in its clip's own times. File is
// empty where there is only one clip.
type Pass struct {
	File    string  `json:"file,omitempty"`
	FromS   float64 `json:"from_s"`
	ToS     float64 `json:"to_s"`
	Facing  string  `json:"facing" jsonschema:"enum=left,enum=right"`
	SpeedMS Number  `json:"speed_m_s"`
	Steps   int     `json:"steps"`
}

// Measure is form.Measure as JSON, one row of the plumb-line chart.
type Measure struct {
	Name  string    `json:"name"`
	Side  form.Side `json:"side"`
	Unit  string    `json:"unit"`
	Value float64   `json:"value"`
	SD    float64   `json:"sd"`
	// SDLasting is the part of SD that another check of the same runner, by the
	// same networks and from the same side, would bring again; absent where it
	// was not told apart.
	SDLasting float64            `json:"sd_lasting,omitempty"`
	Low       float64            `json:"low"`
	High      float64            `json:"high"`
	N         int                `json:"n"`
	Band      *Band              `json:"band" jsonschema:"nullable"`
	Class     string             `json:"class,omitempty"`
	Classes   map[string]float64 `json:"classes,omitempty"`
	Note      string             `json:"note,omitempty"`
	// Found is what was measured before the coach's corrections, on which
	// this value rests.
	Found *Found `json:"found,omitempty"`
	// Title and Area are for people: "Cadence", "cadence".
	Title string `json:"title"`
	Area  string `json:"area,omitempty"`
	// View is "back" for what was measured from behind.
	View string `json:"view,omitempty" jsonschema:"enum=back"`
}

// Band is the range a measure is compared with; an open end is null.
type Band struct {
	Low    Number `json:"low"`
	High   Number `json:"high"`
	Source string `json:"source"`
	// PopulationSD is the spread between runners, in the measure's unit:
	// one step of the plumb-line chart. Null or 0 where none is published.
	PopulationSD Number `json:"population_sd"`
}

// Area is one of the six areas and how it stands:
// "fine", "look" (outside its band), "unsure" or "unknown".
type Area struct {
	Name  string `json:"name"`
	State string `json:"state" jsonschema:"enum=fine,enum=look,enum=unsure,enum=unknown"`
	Why   string `json:"why"`
}

// Priority is the one area to work on. Area is null when nothing needs
// changing or the clip must be filmed again; Why is two plain sentences.
type Priority struct {
	Area *string `json:"area" jsonschema:"nullable"`
	Why  string  `json:"why"`
}

// Network names what found the body points, by hash.
type Network struct {
	Name   string `json:"name"`
	Role   string `json:"role"`
	SHA256 string `json:"sha256"`
}

// OnePicture is the moment of a picture that is no part of a clip.
const OnePicture = "a single picture"

// Picture is one still of the clip with lines to be drawn on it, in pixels
// of Image. Faces are already blurred unless the coach asked otherwise.
type Picture struct {
	Title  string
	Moment string // "initial contact", "mid-stance"
	TimeS  float64
	Side   form.Side
	View   form.View // back for a picture from behind, else empty
	Image  image.Image
	// PlumbX is the vertical through the whole-body centre of mass, with
	// CentreOfMass on it. Both lie in the picture's own axes; Tilt is the
	// angle of true vertical to the picture's, radians, clockwise positive.
	CentreOfMass [2]float64
	Tilt         float64
	Body         []Line
	Foot         []Line
	GroundY      float64
	// Plumb, of a standing check, is a place that the plumb line runs through
	// in place of the centre of mass, and Bobs are the points whose distance
	// from it was measured.
	Plumb [2]float64
	Bobs  []Bob
	// Place takes a place in the track's picture into Image.
	Place Place
}

// Bob is a body point beside the plumb line: its place in the picture and
// half the 95 % interval of its distance from the line, in pixels, and its
// word.
type Bob struct {
	X, Y, Reach float64
	Word        string
}

// Line is a stroke between two points of a picture, in pixels.
type Line struct{ X1, Y1, X2, Y2 float64 }

// Span says how many frames or samples there are and how long they last, with
// places decimals.
func (c Clip) Span(places int) string {
	if c.Samples > 0 {
		return fmt.Sprintf("%d samples in %.*f s", c.Samples, places, c.DurationS)
	}
	if c.Frames == 1 {
		return OnePicture
	}
	return fmt.Sprintf("%d frames in %.*f s", c.Frames, places, c.DurationS)
}

// Number is a float64 that is null in JSON when it is not known (NaN).
type Number float64

// MarshalJSON writes null for NaN and infinities.
func (n Number) MarshalJSON() ([]byte, error) { return marshalNumber(float64(n)) }

// UnmarshalJSON reads null as NaN.
func (n *Number) UnmarshalJSON(data []byte) error { return unmarshalNumber(data, (*float64)(n)) }

// Known tells whether there is a number.
func (n Number) Known() bool { return !math.IsNaN(float64(n)) && !math.IsInf(float64(n), 0) }
