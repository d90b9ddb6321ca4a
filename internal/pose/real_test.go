package pose

import (
	"context"
	"io"
	"os"
	"sync"
	"testing"

	"plumbstride/internal/clip"
	"plumbstride/internal/infer"
	ours "plumbstride/internal/legs"
	"plumbstride/internal/supply"
	"plumbstride/internal/testkit"
)

// realNetworks opens the packaged networks.
type realNetworks struct{ infer.Networks }

func (n *realNetworks) Open(name string) (Session, error) { return n.Networks.Open(name) }

var loadOnce = sync.OnceValues(func() (*realNetworks, error) {
	kit, err := supply.Find(os.Getenv)
	return &realNetworks{infer.Networks{Runtime: kit.Runtime, Files: kit.Models, Models: map[string][]byte{ours.Name: ours.Model()}}}, err
})

// networks gives the packaged networks; without them the test is left out
// on a developer's machine and fails in CI.
func networks(t testing.TB) *realNetworks {
	t.Helper()
	n, err := loadOnce()
	if err != nil {
		testkit.Lacks(t, "the networks are not set up here: %v", err)
	}
	return n
}

// openClip starts decoding a clip.
func openClip(t testing.TB, path string) (*clip.Reader, int) {
	t.Helper()
	tools, err := clip.Find(context.Background(), clip.Tools{})
	if err != nil {
		testkit.Lacks(t, "the decoder is not set up here: %v", err)
	}
	info, err := clip.Probe(context.Background(), tools, path, clip.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	r, err := clip.Open(context.Background(), tools, info, clip.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close() })
	return r, len(info.Times)
}

// readFrames decodes a whole clip into memory.
func readFrames(t testing.TB, path string) []*clip.Frame {
	t.Helper()
	r, _ := openClip(t, path)
	var frames []*clip.Frame
	for {
		f, err := r.Next()
		if err == io.EOF {
			return frames
		}
		if err != nil {
			t.Fatal(err)
		}
		frames = append(frames, f)
	}
}
