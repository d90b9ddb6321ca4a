// Package store holds the nouns that are kept between two evenings, and what
// can be done with each, as interfaces without a database: classes, runners,
// consents, checks, plans, notes, footage, links, accounts, the trail of who
// saw or changed what, and the jobs of the queue. It takes classes and
// runners from package roster and gives these interfaces to the packages
// that need records; packages below it fulfil them.
//
// Identifiers are random (128 bits) and made by the store. Times are UTC, to
// the microsecond. Every Add gives back the record with its ID, times and
// first version filled in. A Change states the Version that was read, and
// gives ErrConflict where somebody else was faster, so that two people never
// overwrite each other. Bad input is a form.Error.
package store

import (
	"context"
	"errors"
)

// What a store says besides form.Errors. Compare with errors.Is.
var (
	// ErrNotFound: there is no such record, or no more.
	ErrNotFound = errors.New("there is no such record")
	// ErrConflict: somebody else changed the record since it was read.
	ErrConflict = errors.New("somebody else changed this meanwhile; look at it again")
	// ErrTaken: a record with this name is there already.
	ErrTaken = errors.New("this name is taken")
	// ErrReadOnly: the records were opened to be read, and nothing in them
	// can be changed.
	ErrReadOnly = errors.New("the records are open for reading alone; nothing was changed")
	// ErrFenced: the job belongs to somebody else by now, or was taken away.
	ErrFenced = errors.New("the job is no longer this worker's")
	// ErrNoJob: nothing is waiting.
	ErrNoJob = errors.New("no job is waiting")
)

// Store is all the nouns. Take only the nouns you need.
type Store interface {
	Classes
	Runners
	Attendances
	Consents
	Checks
	Plans
	Notes
	Activities
	Messages
	Footages
	Uploads
	Links
	Accounts
	Sessions
	Settings
	Trail
	Jobs

	// Within runs do in one transaction: all of what do writes through its
	// own argument is kept, or nothing where it gives an error. Within a
	// Within, the outer transaction goes on. do may not wait for anything but
	// the store, and may not use the outer store.
	Within(ctx context.Context, do func(Store) error) error
	// By gives the same store, whose changes stand in the trail under that
	// name. Without it they stand under the program's own.
	By(who Who) Store
}

// Database is a store that somebody opened.
type Database interface {
	Store
	// Scrub leaves nothing of deleted records in the database's files: freed
	// pages are overwritten, the log is emptied. It gives an error where
	// another process still reads; run it again then.
	Scrub(ctx context.Context) error
	Close() error
}

// Who is somebody in the trail.
type Who struct {
	// Kind is "account", "link", "command", "program", or "visitor" for
	// whoever was refused.
	Kind string `json:"kind"`
	ID   string `json:"id"`
}
