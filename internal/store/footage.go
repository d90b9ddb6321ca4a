package store

import (
	"context"
	"encoding/json"
	"time"
)

// FootageKind is what a file shows.
type FootageKind string

// The kinds. A Track holds points, no picture: it stays as long as measures.
const (
	Clip    FootageKind = "clip"
	Picture FootageKind = "picture"
	Track   FootageKind = "track"
)

// Footage is one file about a runner. Package media holds the file itself
// under Key.
type Footage struct {
	ID       string      `json:"id"`
	RunnerID string      `json:"runner_id"`
	ClassID  string      `json:"class_id"`
	CheckID  string      `json:"check_id"` // of a picture or track
	Kind     FootageKind `json:"kind"`
	// Name is what the sender called it, for people only.
	Name   string `json:"name"`
	Key    string `json:"key"`
	SHA256 string `json:"sha256"`
	Bytes  int64  `json:"bytes"`
	// Filmed is when, as far as known; zero otherwise. Made is when it came
	// in: from then on its days are counted.
	Filmed time.Time `json:"filmed"`
	Made   time.Time `json:"made"`
	// KeepUntil is when it must be gone; zero for a track.
	KeepUntil time.Time `json:"keep_until"`
	// Gone is when it was taken away; zero while it is there.
	Gone time.Time `json:"gone"`
}

// Footages keeps what is known of files, and which of them must go.
type Footages interface {
	// AddFootage records a file. For a clip or picture the runner's standing
	// consent must allow it (a form.Error says what to ask otherwise), and
	// KeepUntil comes from that consent and the class.
	AddFootage(ctx context.Context, f Footage) (Footage, error)
	Footage(ctx context.Context, id string) (Footage, error)
	// RunnerFootage and CheckFootage list what is there and what was.
	RunnerFootage(ctx context.Context, runnerID string) ([]Footage, error)
	CheckFootage(ctx context.Context, checkID string) ([]Footage, error)
	// DueFootage lists files whose time is over, at most that many.
	DueFootage(ctx context.Context, most int) ([]Footage, error)
	// RemoveFootage marks a file as gone, forgets its name, and puts it on
	// the list of Removals.
	RemoveFootage(ctx context.Context, id string) error
	// Removals lists keys of files that no record knows any more; RemovalDone
	// takes one off the list once the file is gone.
	Removals(ctx context.Context) ([]string, error)
	RemovalDone(ctx context.Context, key string) error
	// Keys lists the keys of all files that should be there.
	Keys(ctx context.Context) (map[string]bool, error)
}

// Upload is a clip on its way in.
type Upload struct {
	ID       string    `json:"id"`
	RunnerID string    `json:"runner_id"`
	ClassID  string    `json:"class_id"`
	Kind     CheckKind `json:"kind"`
	Name     string    `json:"name"`
	Bytes    int64     `json:"bytes"`
	// SHA256 is the whole file's, as the sender announced it; may be empty.
	SHA256 string          `json:"sha256"`
	Ask    json.RawMessage `json:"ask"`
	Filmed time.Time       `json:"filmed"`
	Made   time.Time       `json:"made"`
	// CheckID is the check that it became; empty until it is whole.
	CheckID string `json:"check_id"`
}

// Key is under which package media holds the part that has come.
func (u Upload) Key() string { return "incoming/" + u.ID }

// ClipKey is under which it lies when it is whole: known beforehand, so that
// a process that ends between moving the file and writing its records can be
// followed by another.
func (u Upload) ClipKey() string { return "clips/" + u.ID }

// Uploads keeps what is on its way, so that it can be taken up again after a
// lost connection or a restart.
type Uploads interface {
	// AddUpload begins one. As with AddFootage, consent comes first.
	AddUpload(ctx context.Context, u Upload) (Upload, error)
	Upload(ctx context.Context, id string) (Upload, error)
	// ClassUploads lists the unfinished ones of a class, the earliest first.
	ClassUploads(ctx context.Context, classID string) ([]Upload, error)
	// RunnerUploads lists a runner's, the earliest first.
	RunnerUploads(ctx context.Context, runnerID string) ([]Upload, error)
	// UploadDone records which check it became. Asked again, Upload still
	// tells, for a day.
	UploadDone(ctx context.Context, id, checkID string) error
	// RemoveUpload forgets it and puts what has come on the list of Removals.
	RemoveUpload(ctx context.Context, id string) error
	// StaleUploads lists uploads that began before then.
	StaleUploads(ctx context.Context, before time.Time) ([]Upload, error)
}
