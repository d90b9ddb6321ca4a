// Package backup takes a snapshot of the records and the files that belong to
// it, and gives them as one file; it takes such a file and gives back every
// part of it, checked. It knows neither the database nor the shelf: the
// command line hands it the parts and takes them back.
//
// The file is a tar archive (POSIX.1-2001 ustar and pax), compressed with
// Zstandard (RFC 8878) and, where a passphrase is given, encrypted in the age
// format (age-encryption.org/v1, scrypt). Its parts are, in this order:
//
//	backup.json                    Head: what this is, and how new its tables are
//	plumbstride.db                 the records, as one SQLite database
//	media/clips|pictures|tracks/…  the files that the records name
//	contents.json                  Contents: size and SHA-256 of every part
//
// contents.json comes last: an archive that ends before it was cut off.
package backup

import (
	"regexp"
	"time"
)

// Format is the number of the archive's own layout.
const Format = 1

// The names of the parts.
const (
	headName     = "backup.json"
	contentsName = "contents.json"
	// Database is the part that holds the records.
	Database = "plumbstride.db"
	// Media is the folder of all other parts.
	Media = "media/"
)

// partName is what a part of a backup can be called: nothing that leaves the
// folder it is unpacked in.
var partName = regexp.MustCompile(`^(plumbstride\.db|media/(clips|pictures|tracks)/[a-z0-9]{20,64})$`)

// Head says what a backup is.
type Head struct {
	What    string `json:"what"` // always "Plumbstride backup"
	Format  int    `json:"format"`
	Program string `json:"program"`
	// Schema is the last step of the tables' history that the records took.
	Schema int64     `json:"schema"`
	Made   time.Time `json:"made"`
	// Bytes is the sum of all parts' sizes as far as known beforehand.
	Bytes int64 `json:"bytes"`
}

const what = "Plumbstride backup"

// File is one part of a backup.
type File struct {
	Path   string `json:"path"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"` // hexadecimal
}

// Contents is all that a backup holds.
type Contents struct {
	Head Head `json:"head"`
	// Files are in the order in which they stand in the archive.
	Files []File `json:"files"`
	// Missing are files that the records named and that weren't there any
	// more when their turn came: their time was over, or they were lost.
	Missing []string `json:"missing"`
}

// Bytes is the sum of all parts' sizes.
func (c Contents) Bytes() (sum int64) {
	for _, f := range c.Files {
		sum += f.Bytes
	}
	return sum
}

// Lock is the passphrase of a backup, and what trying one costs.
type Lock struct {
	Passphrase string
	// WorkFactor is the scrypt work factor's logarithm; 0 leaves it to the
	// age format's own (18: about a second).
	WorkFactor int
}
