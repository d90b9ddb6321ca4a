package infer

import (
	"fmt"
	"sync"
)

// Networks opens sessions, of one thread each, of the networks of a machine by
// their names. A network's weights are loaded when it is first asked for and
// shared by all its sessions. Several goroutines may use it at a time.
type Networks struct {
	// Runtime is the library's file, loaded with the first network.
	Runtime string
	// Files are the networks' files by name; Models those that the program
	// itself holds.
	Files  map[string]string
	Models map[string][]byte

	mu      sync.Mutex
	library *Library
	first   map[string]*Session
}

// Open gives a new session of a network.
func (n *Networks) Open(name string) (*Session, error) {
	n.mu.Lock()
	defer n.mu.Unlock()
	if s := n.first[name]; s != nil {
		return s.Share()
	}
	s, err := n.load(name)
	if err != nil {
		return nil, err
	}
	if n.first == nil {
		n.first = map[string]*Session{}
	}
	n.first[name] = s
	return s.Share()
}

func (n *Networks) load(name string) (*Session, error) {
	if n.library == nil {
		library, err := Load(n.Runtime)
		if err != nil {
			return nil, err
		}
		n.library = library
	}
	if model, ok := n.Models[name]; ok {
		return n.library.OpenModel(name, model, 1)
	}
	path, ok := n.Files[name]
	if !ok {
		return nil, fmt.Errorf("there is no network %q", name)
	}
	return n.library.Open(path, 1)
}

// Close frees the weights. The library itself stays loaded until the program
// ends.
func (n *Networks) Close() {
	n.mu.Lock()
	defer n.mu.Unlock()
	for name, s := range n.first {
		_ = s.Close() // it only fails when closed before
		delete(n.first, name)
	}
}
