package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"

	"modernc.org/sqlite"
	code "modernc.org/sqlite/lib"

	"plumbstride/internal/form"
	"plumbstride/internal/store/tables"
)

// Snapshot writes the records as they are at one moment to a new database,
// while others go on writing, and checks it. The file must be empty or not be
// there. Of what was deleted, nothing is in it.
func (d *Database) Snapshot(ctx context.Context, path string) error {
	if _, err := d.db.ExecContext(ctx, "VACUUM INTO ?", path); err != nil {
		if e, ok := errors.AsType[*sqlite.Error](err); ok && (e.Code()&0xff == code.SQLITE_FULL || e.Code() == code.SQLITE_IOERR_WRITE) {
			return form.MissingError("the disk is full: there is no room for a copy of the records; make room, and try again: %w", err)
		}
		return fmt.Errorf("copying the records: %w", err)
	}
	_, err := Sound(ctx, path)
	return err
}

// Sound reads a database that nobody else uses from its first page to its
// last, without changing it, and gives the last step of the tables' history
// that it has taken. One that is damaged, or isn't ours, is a form.Error.
func Sound(ctx context.Context, path string) (schema int64, err error) {
	db, err := sql.Open("sqlite", reading(path, true))
	if err != nil {
		return 0, fmt.Errorf("the database %s: %w", path, err)
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	var says string
	if err := db.QueryRowContext(ctx, "PRAGMA integrity_check(1)").Scan(&says); err != nil || says != "ok" {
		return 0, errors.Join(form.UsageError("the records are damaged (%s); go back to an older backup", says), err)
	}
	var dangling int
	if err := db.QueryRowContext(ctx, "SELECT COUNT(*) FROM pragma_foreign_key_check").Scan(&dangling); err != nil || dangling > 0 {
		return 0, errors.Join(form.UsageError("the records are damaged (%d refer to nothing); go back to an older backup", dangling), err)
	}
	schema, err = taken(ctx, db)
	if err != nil {
		return 0, errors.Join(form.UsageError("this is no database of Plumbstride; name another"), err)
	}
	return schema, nil
}

// taken is the last step of the tables' history that stands in a database.
func taken(ctx context.Context, db *sql.DB) (step int64, err error) {
	err = db.QueryRowContext(ctx, "SELECT MAX(version_id) FROM goose_db_version WHERE is_applied = 1").Scan(&step)
	return step, err
}

// Newest is the last step of the tables' history that this program knows.
func Newest() (int64, error) {
	db, err := sql.Open("sqlite", ":memory:")
	if err != nil {
		return 0, err
	}
	steps, err := provider(db)
	if err != nil {
		return 0, errors.Join(err, db.Close())
	}
	all := steps.ListSources()
	return all[len(all)-1].Version, db.Close()
}

// Schema is the last step of the tables' history that the records have taken.
func (d *Database) Schema(ctx context.Context) (int64, error) {
	step, err := taken(ctx, d.db)
	if err != nil {
		return 0, fmt.Errorf("the tables' history: %w", err)
	}
	return step, nil
}

// OpenToRead opens a database without ever writing to it or beside it; a
// folder that can't be written will do. The tables must be up to date.
func OpenToRead(ctx context.Context, path string, now func() time.Time) (_ *Database, err error) {
	if _, err := os.Stat(path); err != nil {
		return nil, form.MissingError("the database %s can't be read: %w", path, err)
	}
	// Beside a process that writes, its log is read too. Where there is no
	// log, and none can be made, the file alone is everything.
	db, at, err := tryToRead(ctx, path, false)
	if e, ok := errors.AsType[*sqlite.Error](err); ok && (e.Code()&0xff == code.SQLITE_CANTOPEN || e.Code()&0xff == code.SQLITE_READONLY) {
		if left, statErr := os.Stat(path + "-wal"); statErr == nil && left.Size() > 0 {
			return nil, form.MissingError("the records in %s were not closed in order, and can't be put in order without writing; open them once where they can be written", path)
		} else if statErr != nil && !errors.Is(statErr, fs.ErrNotExist) {
			return nil, form.MissingError("the database %s can't be read: %w", path, statErr)
		}
		db, at, err = tryToRead(ctx, path, true)
	}
	if err != nil {
		return nil, opening(path, err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, db.Close())
		}
	}()
	newest, err := Newest()
	switch {
	case err != nil:
		return nil, err
	case at > newest:
		return nil, newer(at, newest)
	case at < newest:
		return nil, form.MissingError("the records are an older plumbstride's (%d, this one keeps %d) and must be brought up to date first: open them once without --read-only", at, newest)
	}
	return &Database{tables.New(db, tables.Options{Now: now, Fault: fault}), db}, nil
}

func tryToRead(ctx context.Context, path string, alone bool) (*sql.DB, int64, error) {
	db, err := sql.Open("sqlite", reading(path, alone))
	if err != nil {
		return nil, 0, err
	}
	db.SetMaxOpenConns(8)
	at, err := taken(ctx, db)
	if err != nil {
		return nil, 0, errors.Join(err, db.Close())
	}
	return db, at, nil
}

// Alone takes the records for this process alone, and closes them in order,
// so that their file can be moved: all of it lies in one file then. A
// form.Error where somebody else has them open.
func (d *Database) Alone(ctx context.Context) error {
	d.db.SetMaxOpenConns(1)
	var mode string
	if _, err := d.db.ExecContext(ctx, "PRAGMA busy_timeout(500)"); err != nil {
		return fmt.Errorf("the database: %w", err)
	}
	if err := d.db.QueryRowContext(ctx, "PRAGMA journal_mode(DELETE)").Scan(&mode); err != nil || mode != "delete" {
		return errors.Join(form.UsageError("the records are in use: end plumbstride serve, and whatever else works on them, first"), err)
	}
	return nil
}
