// Package aside takes a store that was opened to be read, and gives one in
// which people can sign in and look around all the same: what that would
// write (sessions, when a link was last opened, who looked at what) is kept
// in memory or told, and goes with the process. Every change of the records
// gives store.ErrReadOnly, as the database itself does.
package aside

import (
	"context"
	"sync"
	"time"

	"plumbstride/internal/store"
)

// Database is a store beside which sessions are kept in memory.
type Database struct {
	view
	db store.Database
}

var _ store.Database = (*Database)(nil)

// New gives the store. seen is told each line that would stand in the trail
// for something that was looked at; it may be nil.
func New(db store.Database, now func() time.Time, seen func(store.Entry)) *Database {
	if seen == nil {
		seen = func(store.Entry) {}
	}
	m := &memory{now: now, seen: seen, sessions: map[string]store.Session{}}
	return &Database{view{db, m, store.Who{Kind: "program"}}, db}
}

// Scrub has nothing to do.
func (*Database) Scrub(context.Context) error { return nil }

// Close ends the store below.
func (d *Database) Close() error { return d.db.Close() }

// memory is what would otherwise be written.
type memory struct {
	now  func() time.Time
	seen func(store.Entry)

	mu       sync.Mutex
	sessions map[string]store.Session
}

// view is the store under a name, or within a transaction.
type view struct {
	store.Store
	m   *memory
	who store.Who
}

// By gives the same store under another name.
func (v view) By(who store.Who) store.Store { return view{v.Store.By(who), v.m, who} }

// Within runs do in one transaction.
func (v view) Within(ctx context.Context, do func(store.Store) error) error {
	return v.Store.Within(ctx, func(s store.Store) error { return do(view{s, v.m, v.who}) })
}

// Record tells what was looked at.
func (v view) Record(_ context.Context, e store.Entry) error {
	e.Who, e.At = v.who, v.m.now().UTC()
	v.m.seen(e)
	return nil
}

// LinkUsed does nothing.
func (view) LinkUsed(context.Context, string) error { return nil }

// AddSession keeps a session in memory.
func (v view) AddSession(ctx context.Context, s store.Session) error {
	if _, err := v.Account(ctx, s.AccountID); err != nil {
		return err
	}
	v.m.mu.Lock()
	defer v.m.mu.Unlock()
	s.Made = v.m.now().UTC()
	v.m.sessions[s.Hash] = s
	return nil
}

// Session gives a session that stands.
func (v view) Session(_ context.Context, hash string) (store.Session, error) {
	v.m.mu.Lock()
	defer v.m.mu.Unlock()
	s, ok := v.m.sessions[hash]
	if !ok || !v.m.now().Before(s.Expires) {
		return store.Session{}, store.ErrNotFound
	}
	return s, nil
}

// ExtendSession lets a session last longer.
func (v view) ExtendSession(_ context.Context, hash string, expires time.Time) error {
	v.m.mu.Lock()
	defer v.m.mu.Unlock()
	s, ok := v.m.sessions[hash]
	if !ok {
		return store.ErrNotFound
	}
	s.Expires = expires
	v.m.sessions[hash] = s
	return nil
}

// RemoveSession signs a browser out.
func (v view) RemoveSession(_ context.Context, hash string) error {
	v.m.mu.Lock()
	defer v.m.mu.Unlock()
	delete(v.m.sessions, hash)
	return nil
}

// RemoveSessions signs every browser out.
func (v view) RemoveSessions(context.Context) error {
	v.m.mu.Lock()
	defer v.m.mu.Unlock()
	clear(v.m.sessions)
	return nil
}

// RemoveExpired forgets sessions that are past.
func (v view) RemoveExpired(context.Context) error {
	v.m.mu.Lock()
	defer v.m.mu.Unlock()
	for hash, s := range v.m.sessions {
		if !v.m.now().Before(s.Expires) {
			delete(v.m.sessions, hash)
		}
	}
	return nil
}
