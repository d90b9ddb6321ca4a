// Package tables takes an open SQL database and gives a store.Store on it: the
// one portable text of all statements. What databases do differently (how
// they are opened, how their errors are told apart, how they forget) is the
// business of the package that opens one, such as store/sqlite.
package tables

import (
	"context"
	"crypto/rand"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// Fault is what a database's error means.
type Fault int

// The faults that are told apart, by the error's code.
const (
	Other Fault = iota
	// Duplicate: a unique value is there already.
	Duplicate
	// Dangling: a reference to a record that isn't there.
	Dangling
	// Full: the disk has no room.
	Full
	// ReadOnly: the records were opened to be read.
	ReadOnly
)

// Options say how a database differs from others.
type Options struct {
	Now func() time.Time
	// Fault tells errors of the driver apart, by code.
	Fault func(error) Fault
	// OneWriter: transactions of this process wait for one another here
	// rather than in the database.
	OneWriter bool
}

// Tables is a store on SQL tables.
type Tables struct {
	db      *sql.DB
	tx      *sql.Tx // nil outside Within
	options Options
	who     store.Who
	writing chan struct{} // holds one token where only one may write
}

// New gives the store on an open database whose tables are there.
func New(db *sql.DB, o Options) *Tables {
	if o.Now == nil || o.Fault == nil {
		panic("tables: Options without Now or Fault")
	}
	t := &Tables{db: db, options: o, who: store.Who{Kind: "program"}}
	if o.OneWriter {
		t.writing = make(chan struct{}, 1)
	}
	return t
}

var _ store.Store = (*Tables)(nil)

// By gives the same store under another name.
func (t *Tables) By(who store.Who) store.Store {
	other := *t
	other.who = who
	return &other
}

// Within runs do in one transaction.
func (t *Tables) Within(ctx context.Context, do func(store.Store) error) error {
	return t.within(ctx, func(t *Tables) error { return do(t) })
}

func (t *Tables) within(ctx context.Context, do func(*Tables) error) (err error) {
	if t.tx != nil {
		return do(t)
	}
	if t.writing != nil {
		select {
		case t.writing <- struct{}{}:
			defer func() { <-t.writing }()
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	tx, err := t.db.BeginTx(ctx, nil)
	if err != nil {
		return t.explain(err)
	}
	defer func() { _ = tx.Rollback() }() // says so itself when it was committed
	inside := *t
	inside.tx = tx
	if err := do(&inside); err != nil {
		return err
	}
	return t.explain(tx.Commit())
}

// change runs do in a transaction and writes the line of the trail that it
// gives; none where the line has no action.
func (t *Tables) change(ctx context.Context, do func(*Tables) (store.Entry, error)) error {
	return t.within(ctx, func(t *Tables) error {
		e, err := do(t)
		if err != nil || e.Action == "" {
			return err
		}
		return t.Record(ctx, e)
	})
}

// entry is a line of the trail.
func entry[A ~string](action A, kind roster.Kind, subject, runnerID string) store.Entry {
	return store.Entry{Action: string(action), Kind: kind, Subject: subject, RunnerID: runnerID}
}

// querier is what a database and a transaction have in common.
type querier interface {
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

func (t *Tables) querier() querier {
	if t.tx != nil {
		return t.tx
	}
	return t.db
}

// exec runs a statement and gives the number of rows it met.
func (t *Tables) exec(ctx context.Context, query string, args ...any) (int64, error) {
	result, err := t.querier().ExecContext(ctx, query, args...)
	if err != nil {
		return 0, t.explain(err)
	}
	n, err := result.RowsAffected()
	return n, t.explain(err)
}

// execOne runs a statement that must meet a row: ErrNotFound otherwise.
func (t *Tables) execOne(ctx context.Context, query string, args ...any) error {
	n, err := t.exec(ctx, query, args...)
	if err == nil && n == 0 {
		return store.ErrNotFound
	}
	return err
}

// execVersion runs an UPDATE that ends in WHERE id = ? AND version = ?, whose
// last two arguments those are.
func (t *Tables) execVersion(ctx context.Context, table, query string, args ...any) error {
	n, err := t.exec(ctx, query, args...)
	if err != nil || n > 0 {
		return err
	}
	there, err := list(ctx, t, func(scan scanner) (id string, err error) { err = scan(&id); return },
		"SELECT id FROM "+table+" WHERE id = ?", args[len(args)-2])
	switch {
	case err != nil:
		return err
	case len(there) == 0:
		return store.ErrNotFound
	default:
		return store.ErrConflict
	}
}

// scanner reads the columns of a row.
type scanner func(into ...any) error

// list gives all rows of a query.
func list[T any](ctx context.Context, t *Tables, read func(scanner) (T, error), query string, args ...any) (_ []T, err error) {
	rows, err := t.querier().QueryContext(ctx, query, args...)
	if err != nil {
		return nil, t.explain(err)
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	all := []T{}
	for rows.Next() {
		one, err := read(rows.Scan)
		if err != nil {
			return nil, fmt.Errorf("a record can't be read: %w", err)
		}
		all = append(all, one)
	}
	return all, t.explain(rows.Err())
}

// only gives the first row of a query: ErrNotFound where there is none.
func only[T any](ctx context.Context, t *Tables, read func(scanner) (T, error), query string, args ...any) (T, error) {
	all, err := list(ctx, t, read, query, args...)
	if err == nil && len(all) == 0 {
		err = store.ErrNotFound
	}
	if err != nil {
		var none T
		return none, err
	}
	return all[0], nil
}

// explain turns a driver's error into one of the store's.
func (t *Tables) explain(err error) error {
	if err == nil {
		return nil
	}
	switch t.options.Fault(err) {
	case Duplicate:
		return fmt.Errorf("%w (%w)", store.ErrTaken, err)
	case Dangling:
		return fmt.Errorf("%w (%w)", store.ErrNotFound, err)
	case ReadOnly:
		return fmt.Errorf("%w (%w)", store.ErrReadOnly, err)
	case Full:
		return form.MissingError("the disk is full; nothing was changed. Make room, and try again: %w", err)
	default:
		return fmt.Errorf("the database: %w", err)
	}
}

// newID gives an identifier that nobody guesses: 130 random bits.
func newID() string { return strings.ToLower(rand.Text()) }

// now is the present to the microsecond.
func (t *Tables) now() time.Time { return t.options.Now().UTC().Truncate(time.Microsecond) }

// micro is a time as a table holds it.
func micro(at time.Time) int64 {
	if at.IsZero() {
		return 0
	}
	return at.UnixMicro()
}

// fromMicro is micro the other way round.
func fromMicro(us int64) time.Time {
	if us == 0 {
		return time.Time{}
	}
	return time.UnixMicro(us).UTC()
}

// when reads a time.
type when struct{ at *time.Time }

func (w when) Scan(v any) error {
	us, ok := v.(int64)
	if !ok {
		return fmt.Errorf("a time is %T", v)
	}
	*w.at = fromMicro(us)
	return nil
}

// maybe writes an identifier that may be missing.
func maybe(id string) any {
	if id == "" {
		return nil
	}
	return id
}

// text reads text that may be missing.
type text struct{ into *string }

func (s text) Scan(v any) error {
	switch v := v.(type) {
	case nil:
		*s.into = ""
	case string:
		*s.into = v
	case []byte:
		*s.into = string(v)
	default:
		return fmt.Errorf("a text is %T", v)
	}
	return nil
}

// document reads a JSON text; null leaves nothing.
type document struct{ into *json.RawMessage }

func (d document) Scan(v any) error {
	var s string
	if err := (text{&s}).Scan(v); err != nil {
		return err
	}
	*d.into = nil
	if s != "" && s != "null" {
		*d.into = json.RawMessage(s)
	}
	return nil
}

// object reads a JSON text into a value.
type object struct{ into any }

func (o object) Scan(v any) error {
	var s string
	if err := (text{&s}).Scan(v); err != nil {
		return err
	}
	return json.Unmarshal([]byte(s), o.into)
}

// asText writes a value as JSON text.
func asText(v any) (string, error) {
	data, err := json.Marshal(v)
	if err != nil {
		return "", fmt.Errorf("as JSON: %w", err)
	}
	return string(data), nil
}

func truth(b bool) int64 {
	if b {
		return 1
	}
	return 0
}
