package store

import (
	"context"
	"encoding/json"
	"time"
)

// JobState is where a job stands.
type JobState string

// The states of a job.
const (
	JobQueued  JobState = "queued"
	JobRunning JobState = "running"
	JobDone    JobState = "done"
	JobFailed  JobState = "failed"
)

// Job is a piece of work that outlives the process which began it.
type Job struct {
	ID    string   `json:"id"`
	Kind  string   `json:"kind"`
	State JobState `json:"state"`
	// CheckID is the check that it is for, if any: the job goes with it.
	CheckID string          `json:"check_id"`
	Payload json.RawMessage `json:"payload"`
	// Place is the order of coming, ever rising.
	Place int64 `json:"place"`
	// Tries counts how often it was begun; MaxTries is how often it may be.
	Tries    int `json:"tries"`
	MaxTries int `json:"max_tries"`
	// Token rises with every claim: a worker whose token is old is fenced off.
	Token int64 `json:"-"`
	// Lease is until when a running job is its worker's.
	Lease time.Time `json:"lease"`
	// After is before when it is not begun again.
	After time.Time `json:"after"`
	// Progress is what the worker last said.
	Progress Progress `json:"progress"`
	// Reason is why the last try failed.
	Reason   string    `json:"reason"`
	Made     time.Time `json:"made"`
	Finished time.Time `json:"finished"`
}

// Progress is how far a job is: Done of Total in that stage. Total is 0
// where it is not known.
type Progress struct {
	Stage string `json:"stage"`
	Done  int    `json:"done"`
	Total int    `json:"total"`
}

// Share is the part of the stage that is done, 0 to 1; ok is false where it
// is not known.
func (p Progress) Share() (share float64, ok bool) {
	if p.Total <= 0 {
		return 0, false
	}
	return min(1, max(0, float64(p.Done)/float64(p.Total))), true
}

// Jobs keeps the queue. Package work runs it.
type Jobs interface {
	// AddJob puts a job at the end. Of j, Kind, CheckID, Payload, MaxTries
	// and After are taken.
	AddJob(ctx context.Context, j Job) (Job, error)
	Job(ctx context.Context, id string) (Job, error)
	// Queue lists the jobs that wait or run, in their order.
	Queue(ctx context.Context) ([]Job, error)
	// CheckJobs lists a check's jobs, the earliest first.
	CheckJobs(ctx context.Context, checkID string) ([]Job, error)
	// ClaimJob gives the first job of these kinds that waits, or whose
	// worker's lease is over; its Tries and Token have risen, and may stand
	// above MaxTries. ErrNoJob where there is none.
	ClaimJob(ctx context.Context, kinds []string, lease time.Duration) (Job, error)
	// KeepJob prolongs the lease and records progress. As with the three
	// below, ErrFenced tells that the job is no longer the caller's.
	KeepJob(ctx context.Context, j Job, lease time.Duration, p Progress) error
	// CompleteJob ends a job well. Write its result in the same Within: then
	// it is there exactly once.
	CompleteJob(ctx context.Context, j Job) error
	// RetryJob puts a job back for later, with the reason.
	RetryJob(ctx context.Context, j Job, reason string, after time.Duration) error
	// ReturnJob puts a job back that was not the job's fault: the try does
	// not count.
	ReturnJob(ctx context.Context, j Job) error
	// FailJob ends a job for good, with the reason.
	FailJob(ctx context.Context, j Job, reason string) error
	// RemoveFinished deletes jobs that ended before then.
	RemoveFinished(ctx context.Context, before time.Time) error
}
