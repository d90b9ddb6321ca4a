// Package sqlite takes the path of a file and gives the store that is kept in
// it: one file, no server, several processes at once.
package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/pressly/goose/v3"
	"modernc.org/sqlite"
	code "modernc.org/sqlite/lib"

	"plumbstride/internal/form"
	"plumbstride/internal/store"
	"plumbstride/internal/store/migration"
	"plumbstride/internal/store/tables"
)

// busyFor is how long a connection waits for another process's writing.
const busyFor = 15 * time.Second

// Database is a store in a file.
type Database struct {
	*tables.Tables
	db *sql.DB
}

var _ store.Database = (*Database)(nil)

// Open opens the file, makes it and its folder where they aren't there, and
// brings its tables up to date. now is the clock that all records are
// stamped by.
func Open(ctx context.Context, path string, now func() time.Time) (_ *Database, err error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return nil, form.MissingError("the data folder %s can't be made (is it yours to write in?): %w", filepath.Dir(path), err)
	}
	if err := touch(path); err != nil {
		return nil, form.MissingError("the database %s can't be opened (is it yours to write?): %w", path, err)
	}
	db, err := sql.Open("sqlite", address(path))
	if err != nil {
		return nil, fmt.Errorf("the database %s: %w", path, err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, db.Close())
		}
	}()
	db.SetMaxOpenConns(8)
	if err := migrateWithOthers(ctx, db); err != nil {
		return nil, opening(path, err)
	}
	return &Database{tables.New(db, tables.Options{Now: now, Fault: fault, OneWriter: true}), db}, nil
}

// touch makes the file for its owner alone. The log beside it gets the same
// rights from SQLite.
func touch(path string) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return err
	}
	return f.Close()
}

// address is the file's name with how each connection is set up: the log
// beside the file, foreign keys, deleted content overwritten, nothing
// temporary on the disk, and every transaction a writer's from its start, so
// that two never wait for each other in a ring.
func address(path string) string {
	q := url.Values{"_txlock": {"immediate"}, "_pragma": {
		fmt.Sprintf("busy_timeout(%d)", busyFor.Milliseconds()),
		"journal_mode(WAL)", "synchronous(FULL)", "foreign_keys(1)", "secure_delete(1)", "temp_store(MEMORY)",
	}}
	return written(path, q)
}

// reading is the file's name for connections that never write; alone, where
// nobody else does either.
func reading(path string, alone bool) string {
	q := url.Values{"mode": {"ro"}, "_pragma": {
		fmt.Sprintf("busy_timeout(%d)", busyFor.Milliseconds()), "query_only(1)", "foreign_keys(1)", "temp_store(MEMORY)",
	}}
	if alone {
		q.Set("immutable", "1")
	}
	return written(path, q)
}

// written is a file's name as an address. What would end the name is written
// in code; a drive's letter needs a slash before it.
func written(path string, q url.Values) string {
	slash := ""
	if filepath.VolumeName(path) != "" {
		slash = "/"
	}
	return "file:" + slash + strings.NewReplacer("%", "%25", "?", "%3f", "#", "%23").Replace(filepath.ToSlash(path)) + "?" + q.Encode()
}

// migrateWithOthers is migrate where another process may do the same at the
// same moment: each step is a transaction, so whoever comes second finds it
// done, or fails on it and looks again.
func migrateWithOthers(ctx context.Context, db *sql.DB) error {
	for try := 1; ; try++ {
		err := migrate(ctx, db)
		e, ok := errors.AsType[*sqlite.Error](err)
		busy := ok && e.Code()&0xff == code.SQLITE_BUSY && try < 100
		done := ok && e.Code() == code.SQLITE_ERROR && try < 5
		if !busy && !done {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(100 * time.Millisecond):
		}
	}
}

func migrate(ctx context.Context, db *sql.DB) error {
	steps, err := provider(db)
	if err != nil {
		return err
	}
	at, err := steps.GetDBVersion(ctx)
	if err != nil {
		return err
	}
	all := steps.ListSources()
	if newest := all[len(all)-1].Version; at > newest {
		return newer(at, newest)
	}
	_, err = steps.Up(ctx)
	return err
}

// newer refuses tables that this program doesn't know.
func newer(at, newest int64) error {
	return form.MissingError("the data were last used by a newer plumbstride (%d, this one knows %d); use that one", at, newest)
}

// provider gives the steps. One that was numbered before another and came
// after it is taken all the same.
func provider(db *sql.DB) (*goose.Provider, error) {
	return goose.NewProvider(goose.DialectSQLite3, db, migration.Files(), goose.WithAllowOutofOrder(true))
}

// opening says what is wrong with a file that can't be opened.
func opening(path string, err error) error {
	e, ok := errors.AsType[*sqlite.Error](err)
	switch {
	case form.CodeOf(err) != "":
		return err
	case ok && (e.Code()&0xff == code.SQLITE_NOTADB || e.Code()&0xff == code.SQLITE_CORRUPT):
		return form.MissingError("%s is no database of ours, or it is damaged; put it aside, and take the latest copy: %w", path, err)
	case ok && e.Code()&0xff == code.SQLITE_FULL:
		return form.MissingError("the disk with %s is full; make room, and try again: %w", path, err)
	case ok && (e.Code()&0xff == code.SQLITE_READONLY || e.Code()&0xff == code.SQLITE_CANTOPEN):
		return form.MissingError("the database %s can't be written (is it yours?): %w", path, err)
	default:
		return fmt.Errorf("the database %s: %w", path, err)
	}
}

// fault tells SQLite's errors apart by their code.
func fault(err error) tables.Fault {
	e, ok := errors.AsType[*sqlite.Error](err)
	if !ok {
		return tables.Other
	}
	switch e.Code() {
	case code.SQLITE_CONSTRAINT_UNIQUE, code.SQLITE_CONSTRAINT_PRIMARYKEY:
		return tables.Duplicate
	case code.SQLITE_CONSTRAINT_FOREIGNKEY:
		return tables.Dangling
	case code.SQLITE_FULL:
		return tables.Full
	case code.SQLITE_READONLY:
		return tables.ReadOnly
	default:
		return tables.Other
	}
}

// Scrub overwrites what was deleted: the log's pages go into the file, the
// file is written anew without freed pages, and the log is emptied.
func (d *Database) Scrub(ctx context.Context) error {
	if err := d.emptyLog(ctx); err != nil {
		return err
	}
	if _, err := d.db.ExecContext(ctx, "VACUUM"); err != nil {
		return fmt.Errorf("the database can't be cleaned while somebody else uses it; try again in a moment: %w", err)
	}
	return d.emptyLog(ctx)
}

// emptyLog moves the log's pages into the file and cuts the log to nothing.
func (d *Database) emptyLog(ctx context.Context) error {
	var busy, pages, moved int
	if err := d.db.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &pages, &moved); err != nil {
		return fmt.Errorf("the database's log can't be emptied: %w", err)
	}
	if busy != 0 {
		return errors.New("the database's log can't be emptied while somebody else reads it; try again in a moment")
	}
	return nil
}

// Close ends all connections.
func (d *Database) Close() error {
	if err := d.db.Close(); err != nil {
		return fmt.Errorf("closing the database: %w", err)
	}
	return nil
}
