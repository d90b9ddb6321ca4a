package store

import (
	"context"
	"encoding/json"
	"time"
)

// Activity is what is kept of one recording of a runner's watch.
type Activity struct {
	ID       string `json:"id"`
	RunnerID string `json:"runner_id"`
	// Digest is the recording's; a runner has each once.
	Digest string    `json:"digest"`
	Start  time.Time `json:"start"`
	// Run is a practice.Run as JSON: it holds no places.
	Run  json.RawMessage `json:"run"`
	By   Who             `json:"by"`
	Made time.Time       `json:"made"`
}

// Activities keeps what watches recorded.
type Activities interface {
	// AddActivity adds one, under the store's By: ErrTaken where the runner
	// has it already.
	AddActivity(ctx context.Context, a Activity) (Activity, error)
	Activity(ctx context.Context, id string) (Activity, error)
	// RunnerActivities lists the earliest start first.
	RunnerActivities(ctx context.Context, runnerID string) ([]Activity, error)
	RemoveActivity(ctx context.Context, id string) error
}
