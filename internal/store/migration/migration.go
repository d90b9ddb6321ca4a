// Package migration holds the tables' history as SQL, embedded in the
// program: one text for every database, in the dialect that SQLite and
// PostgreSQL share. Times are microseconds since 1970 in UTC, 0 where there
// is none; truths are 0 and 1; hashes are hexadecimal.
package migration

import (
	"embed"
	"io/fs"
)

//go:embed *.sql
var files embed.FS

// Files gives the steps, named NNNNN_what.sql.
func Files() fs.FS { return files }
