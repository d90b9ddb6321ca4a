package store

import (
	"context"
	"encoding/json"
	"time"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
)

// CheckKind is which way a runner is looked at.
type CheckKind string

// The kinds of checks.
const (
	Running  CheckKind = "running"
	Standing CheckKind = "standing"
	BackView CheckKind = "back"
)

// CheckState is how far a check is.
type CheckState string

// The states. A check waits until its job has ended in one of the others.
const (
	Waiting CheckState = "waiting"
	Ready   CheckState = "ready"
	// Refused: the clip can't be used; Refusal says why.
	Refused CheckState = "refused"
	// Failed: the program could not measure it; Refusal says why.
	Failed CheckState = "failed"
)

// Check is one look at one runner.
type Check struct {
	ID       string     `json:"id"`
	Version  int64      `json:"version"`
	RunnerID string     `json:"runner_id"`
	ClassID  string     `json:"class_id"`
	ClipID   string     `json:"clip_id"` // Footage, empty where there is none
	Kind     CheckKind  `json:"kind"`
	State    CheckState `json:"state"`
	// Ask is what was stated for it (height, speed), as the caller writes it.
	Ask json.RawMessage `json:"ask"`
	// Card is the card's JSON as it was measured, null until then. Networks
	// found the points, named by hash.
	Card     json.RawMessage `json:"card"`
	Networks []card.Network  `json:"networks"`
	// Pictures are the lines over the card's pictures, as package evening
	// writes them; the pictures themselves are Footage.
	Pictures json.RawMessage `json:"pictures"`
	Refusal  string          `json:"refusal"`
	// Corrections are the coach's own points and frames, as the caller writes
	// them, kept apart from what was measured.
	Corrections json.RawMessage `json:"corrections"`
	// Decision is the coach's latest word on the priority; nil until then.
	Decision *Decision `json:"decision"`
	Made     time.Time `json:"made"`
	// Measured is when the card was made; zero until then.
	Measured time.Time `json:"measured"`
}

// Released tells whether a coach has had their word on the check.
func (c Check) Released() bool { return c.Decision != nil }

// Decision is a coach's word on a check's priority. All are kept.
type Decision struct {
	ID      string `json:"id"`
	CheckID string `json:"check_id"`
	By      Who    `json:"by"`
	// Area is what to work on; empty means nothing. Proposed is what the
	// program had said, empty for nothing.
	Area     string    `json:"area"`
	Proposed string    `json:"proposed"`
	Reason   string    `json:"reason"`
	At       time.Time `json:"at"`
}

// Overrules tells whether the coach chose otherwise than the program.
func (d Decision) Overrules() bool { return d.Area != d.Proposed }

// Result is how a check ended.
type Result struct {
	State    CheckState // Ready, Refused or Failed
	Card     json.RawMessage
	Networks []card.Network
	Measures []card.Measure
	Pictures json.RawMessage
	Refusal  string
}

// Past is one measure of an earlier check.
type Past struct {
	CheckID string    `json:"check_id"`
	Made    time.Time `json:"made"`
	Name    string    `json:"name"`
	Side    form.Side `json:"side"`
	Unit    string    `json:"unit"`
	Value   float64   `json:"value"`
	SD      float64   `json:"sd"`
	Low     float64   `json:"low"`
	High    float64   `json:"high"`
	N       int       `json:"n"`
}

// Checks keeps what was measured.
type Checks interface {
	// AddCheck adds a check that waits. Of c, RunnerID, ClassID, ClipID, Kind
	// and Ask are taken.
	AddCheck(ctx context.Context, c Check) (Check, error)
	Check(ctx context.Context, id string) (Check, error)
	// RunnerChecks and ClassChecks list the earliest first.
	RunnerChecks(ctx context.Context, runnerID string) ([]Check, error)
	ClassChecks(ctx context.Context, classID string) ([]Check, error)
	// ChangeCheck changes Ask, Corrections, ClassID and Kind. The state,
	// card and decision are left alone.
	ChangeCheck(ctx context.Context, c Check) (Check, error)
	// Measured records how the check ended and replaces its measures. Call it
	// in the transaction that completes the job.
	Measured(ctx context.Context, id string, r Result) (Check, error)
	// Decide records the coach's word, under the store's By. The version is
	// the check's as the coach saw it. A word that overrules needs a reason;
	// only a Ready check can be decided on.
	Decide(ctx context.Context, checkID string, version int64, area, reason string) (Check, error)
	// Decisions lists all words on a check, the earliest first.
	Decisions(ctx context.Context, checkID string) ([]Decision, error)
	// History lists all measures of a runner's checks, the earliest first.
	History(ctx context.Context, runnerID string) ([]Past, error)
	// RemoveCheck deletes a check with its measures and decisions, and puts
	// its clip and pictures on the list of Removals.
	RemoveCheck(ctx context.Context, id string) error
}

// Plan is a plan as package plan's JSON.
type Plan struct {
	ID       string          `json:"id"`
	Version  int64           `json:"version"`
	RunnerID string          `json:"runner_id"`
	CheckID  string          `json:"check_id"`
	Plan     json.RawMessage `json:"plan"`
	Made     time.Time       `json:"made"`
	Changed  time.Time       `json:"changed"`
}

// Plans keeps plans.
type Plans interface {
	AddPlan(ctx context.Context, p Plan) (Plan, error)
	Plan(ctx context.Context, id string) (Plan, error)
	// RunnerPlans lists the earliest first.
	RunnerPlans(ctx context.Context, runnerID string) ([]Plan, error)
	ChangePlan(ctx context.Context, p Plan) (Plan, error)
	RemovePlan(ctx context.Context, id string) error
}

// Note is the coach's own, about a runner or one of their checks.
type Note struct {
	ID       string    `json:"id"`
	Version  int64     `json:"version"`
	RunnerID string    `json:"runner_id"`
	CheckID  string    `json:"check_id"`
	By       Who       `json:"by"`
	Text     string    `json:"text"`
	Made     time.Time `json:"made"`
	Changed  time.Time `json:"changed"`
}

// Notes keeps coaches' notes.
type Notes interface {
	AddNote(ctx context.Context, n Note) (Note, error)
	Note(ctx context.Context, id string) (Note, error)
	// RunnerNotes lists the earliest first.
	RunnerNotes(ctx context.Context, runnerID string) ([]Note, error)
	ChangeNote(ctx context.Context, n Note) (Note, error)
	RemoveNote(ctx context.Context, id string) error
}
