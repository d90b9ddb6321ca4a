// Package media takes clips and pictures in pieces or whole from the network
// and gives them back as files under random keys; it removes them when their
// time is over or their runner is forgotten. What a sender called a file
// never becomes part of a path. Shelf is small enough for a bucket; Folder is
// the one of this machine.
package media

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strings"
	"time"

	"plumbstride/internal/store"
)

// ErrNoFile: there is no file under that key, or no more.
var ErrNoFile = errors.New("there is no such file")

// Stored is a file that lies whole on the shelf.
type Stored struct {
	Key    string
	SHA256 string // hexadecimal
	Bytes  int64
}

// Shelf holds files. Every file is there whole or not at all.
type Shelf interface {
	// Put stores what is read under a new key for that kind.
	Put(ctx context.Context, kind store.FootageKind, from io.Reader) (Stored, error)
	// Open reads a file: ErrNoFile where there is none.
	Open(ctx context.Context, key string) (io.ReadSeekCloser, error)
	// Local gives a path that a decoder can read until done is called.
	Local(ctx context.Context, key string) (path string, done func(), err error)
	// Remove takes a file away; none there does no harm.
	Remove(ctx context.Context, key string) error
	// Sweep removes files that are not known and older than before, and
	// gives their number.
	Sweep(ctx context.Context, known map[string]bool, before time.Time) (int, error)
}

// The drawers of a shelf.
const (
	incoming = "incoming"
	clips    = "clips"
	pictures = "pictures"
	tracks   = "tracks"
)

func drawers() []string { return []string{incoming, clips, pictures, tracks} }

// drawer is where files of a kind lie.
func drawer(kind store.FootageKind) string {
	switch kind {
	case store.Clip:
		return clips
	case store.Picture:
		return pictures
	case store.Track:
		return tracks
	}
	panic("media: a file of no kind")
}

// newKey gives a key that nobody guesses.
func newKey(drawer string) string { return drawer + "/" + strings.ToLower(rand.Text()) }

// wellFormed is what every key looks like.
var wellFormed = regexp.MustCompile(`^(incoming|clips|pictures|tracks)/[a-z0-9]{20,64}$`)

// checkKey refuses what was never a key, before it comes near a path.
func checkKey(key string) error {
	if !wellFormed.MatchString(key) {
		return fmt.Errorf("%q is no key: %w", key, ErrNoFile)
	}
	return nil
}
