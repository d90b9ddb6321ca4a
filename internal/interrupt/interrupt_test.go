package interrupt

import (
	"context"
	"errors"
	"io"
	"strings"
	"testing"
)

func TestReader(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	r := Reader(ctx, strings.NewReader("before and after"))
	head := make([]byte, 6)
	if _, err := io.ReadFull(r, head); err != nil || string(head) != "before" {
		t.Fatalf("%q, %v", head, err)
	}
	stop()
	if rest, err := io.ReadAll(r); !errors.Is(err, context.Canceled) || len(rest) > 0 {
		t.Errorf("after the interrupt: %q, %v", rest, err)
	}
}
