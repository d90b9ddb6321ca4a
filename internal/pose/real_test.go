package pose

import (
	"context"
	"fmt"
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

// realNetworks opens the packaged networks. Sessions of one network share its
// weights.
type realNetworks struct {
	library *infer.Library
	kit     supply.Kit
	mu      sync.Mutex
	first   map[string]*infer.Session
}

func (n *realNetworks) Open(name string) (Session, error) {
	n.mu.Lock()
	defer n.mu.Unlock()
	if s := n.first[name]; s != nil {
		return s.Share()
	}
	path, ok := n.kit.Models[name]
	if !ok && name != ours.Name {
		return nil, fmt.Errorf("there is no network %q", name)
	}
	var s *infer.Session
	var err error
	if name == ours.Name {
		s, err = n.library.OpenModel(name, ours.Model(), 1)
	} else {
		s, err = n.library.Open(path, 1)
	}
	if err != nil {
		return nil, err
	}
	n.first[name] = s
	return s.Share()
}

var loadOnce = sync.OnceValues(func() (*realNetworks, error) {
	kit, err := supply.Find(os.Getenv)
	if err != nil {
		return nil, err
	}
	library, err := infer.Load(kit.Runtime)
	if err != nil {
		return nil, err
	}
	return &realNetworks{library: library, kit: kit, first: map[string]*infer.Session{}}, nil
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
