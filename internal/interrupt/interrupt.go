// Package interrupt takes a reader and a context, and gives a reader that ends
// with the context, to whatever copies large files. Pure.
package interrupt

import (
	"context"
	"io"
)

// Reader reads from from until ctx ends; from then on each read gives the
// context's error.
func Reader(ctx context.Context, from io.Reader) io.Reader { return reader{ctx, from} }

type reader struct {
	ctx  context.Context
	from io.Reader
}

func (r reader) Read(p []byte) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, err
	}
	return r.from.Read(p)
}
