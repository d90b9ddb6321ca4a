package store

import (
	"context"
	"time"

	"plumbstride/internal/roster"
)

// Link is a private address that somebody holds. Only the token's hash is
// kept.
type Link struct {
	ID string `json:"id"`
	// Role is Own, Invited, Stop or Door.
	Role roster.Role `json:"role"`
	// RunnerID is whom it is about; a Door has a ClassID instead.
	RunnerID string `json:"runner_id"`
	ClassID  string `json:"class_id"`
	// Hash is the token's SHA-256 in hexadecimal.
	Hash    string    `json:"-"`
	Made    time.Time `json:"made"`
	Expires time.Time `json:"expires"`
	// Revoked and Used are zero until it happens.
	Revoked time.Time `json:"revoked"`
	Used    time.Time `json:"used"`
}

// Usable tells whether the link still opens anything.
func (l Link) Usable(at time.Time) bool { return l.Revoked.IsZero() && at.Before(l.Expires) }

// Actor is what the holder of the link is to package roster.
func (l Link) Actor() roster.Actor {
	return roster.Actor{Role: l.Role, RunnerID: l.RunnerID, ClassID: l.ClassID}
}

// Links keeps private addresses.
type Links interface {
	AddLink(ctx context.Context, l Link) (Link, error)
	// LinkByHash gives a link, usable or not: ask Usable.
	LinkByHash(ctx context.Context, hash string) (Link, error)
	RunnerLinks(ctx context.Context, runnerID string) ([]Link, error)
	ClassLinks(ctx context.Context, classID string) ([]Link, error)
	// RevokeLink ends a link; again does no harm.
	RevokeLink(ctx context.Context, id string) error
	// LinkUsed records that it was opened.
	LinkUsed(ctx context.Context, id string) error
}

// Account is somebody who signs in.
type Account struct {
	ID      string      `json:"id"`
	Version int64       `json:"version"`
	Name    string      `json:"name"` // what they sign in with, in lower case
	Role    roster.Role `json:"role"` // Coach or Helper
	// Secret is the password's hash in package account's form.
	Secret   string    `json:"-"`
	Disabled bool      `json:"disabled"`
	Made     time.Time `json:"made"`
	Changed  time.Time `json:"changed"`
}

// Accounts keeps who may sign in.
type Accounts interface {
	// AddAccount gives ErrTaken where the name is there already.
	AddAccount(ctx context.Context, a Account) (Account, error)
	Account(ctx context.Context, id string) (Account, error)
	AccountByName(ctx context.Context, name string) (Account, error)
	Accounts(ctx context.Context) ([]Account, error)
	// ChangeAccount changes role, secret and whether it is disabled; its
	// sessions end.
	ChangeAccount(ctx context.Context, a Account) (Account, error)
}

// Session is a browser that is signed in. Only the token's hash is kept.
type Session struct {
	Hash      string
	AccountID string
	Made      time.Time
	Expires   time.Time
}

// Sessions keeps who is signed in.
type Sessions interface {
	AddSession(ctx context.Context, s Session) error
	// Session gives ErrNotFound for one that has expired, too.
	Session(ctx context.Context, hash string) (Session, error)
	ExtendSession(ctx context.Context, hash string, expires time.Time) error
	RemoveSession(ctx context.Context, hash string) error
	// RemoveSessions signs every browser out.
	RemoveSessions(ctx context.Context) error
	// RemoveExpired deletes sessions and links that are past.
	RemoveExpired(ctx context.Context) error
}

// Settings keeps the shop's few settings, as text under a name.
type Settings interface {
	// Setting gives "" where nothing was set.
	Setting(ctx context.Context, name string) (string, error)
	SetSetting(ctx context.Context, name, value string) error
}

// Entry is one line of the trail.
type Entry struct {
	ID  string    `json:"id"`
	At  time.Time `json:"at"`
	Who Who       `json:"who"`
	// Action is what was done: one of roster's, or "withdraw", "revoke",
	// "purge", "forget", "sign-in", "sign-out", "refuse" (a sign-in that
	// failed), "measure", "send", "backup", "restore".
	Action string `json:"action"`
	// Kind and Subject are the record; RunnerID whom it is about.
	Kind     roster.Kind `json:"kind"`
	Subject  string      `json:"subject"`
	RunnerID string      `json:"runner_id"`
}

// Trail keeps who saw or changed what. Changes are written by the store
// itself, in the same transaction; what was only looked at, or done outside,
// by Record. The trail names records by their random IDs and holds no other
// word about anybody.
type Trail interface {
	// Record adds a line. Who and At are the store's own.
	Record(ctx context.Context, e Entry) error
	// Entries lists the latest first, at most that many.
	Entries(ctx context.Context, f TrailFilter, most int) ([]Entry, error)
	// RemoveEntries deletes lines from before then.
	RemoveEntries(ctx context.Context, before time.Time) error
}

// TrailFilter chooses lines of the trail. What is empty chooses nothing away.
type TrailFilter struct {
	RunnerID string
	// WhoID is the account or link that did it.
	WhoID string
	// From and Until are the first moment, and the first one after.
	From, Until time.Time
	// Before is the ID of a line: those from before it.
	Before string
}
