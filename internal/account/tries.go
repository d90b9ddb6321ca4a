package account

import (
	"sync"
	"time"
)

// How many tries are free, and how long the wait is at most. An address gets
// more tries, since a whole room may share it; a name a shorter wait, so that
// nobody locks the coach out for long (common practice, no source).
const (
	freeOfName, longestOfName       = 5, time.Minute
	freeOfAddress, longestOfAddress = 20, 15 * time.Minute
	// forgetAfter is how long a try is remembered.
	forgetAfter = time.Hour
	// mostKept is how many names and addresses are remembered.
	mostKept = 10_000
)

// tries remembers who failed how often.
type tries struct {
	mu   sync.Mutex
	seen map[string]failures
}

type failures struct {
	n    int
	last time.Time
}

func newTries() *tries { return &tries{seen: map[string]failures{}} }

// keys are under which a try is remembered.
func keys(from, name string) (address, of string) { return "address " + from, "name " + name }

// begin counts a try as failed, or is a *TooSoon while somebody must wait. An
// empty name counts for none.
func (t *tries) begin(now time.Time, from, name string) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	if err := t.mustWait(now, from, name); err != nil {
		return err
	}
	t.count(now, from, name)
	return nil
}

// mayTry is begin without counting.
func (t *tries) mayTry(now time.Time, from, name string) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.mustWait(now, from, name)
}

func (t *tries) mustWait(now time.Time, from, name string) error {
	address, of := keys(from, name)
	wait := t.seen[address].wait(now, freeOfAddress, longestOfAddress)
	if name != "" {
		wait = max(wait, t.seen[of].wait(now, freeOfName, longestOfName))
	}
	if wait > 0 {
		return &TooSoon{wait}
	}
	return nil
}

// wait is how long to wait still: 1 s after the free tries, twice as long
// after each one more.
func (f failures) wait(now time.Time, free int, longest time.Duration) time.Duration {
	if f.n < free || now.Sub(f.last) >= forgetAfter {
		return 0
	}
	return min(longest, time.Second<<min(f.n-free, 20)) - now.Sub(f.last)
}

// failed remembers a try that failed.
func (t *tries) failed(now time.Time, from, name string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.count(now, from, name)
}

func (t *tries) count(now time.Time, from, name string) {
	t.tidy(now)
	address, of := keys(from, name)
	for _, k := range []string{address, of} {
		f := t.seen[k]
		if now.Sub(f.last) >= forgetAfter {
			f.n = 0
		}
		if k != of || name != "" {
			t.seen[k] = failures{f.n + 1, now}
		}
	}
}

// succeeded forgets the tries of a name, and one of the address.
func (t *tries) succeeded(from, name string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	address, of := keys(from, name)
	delete(t.seen, of)
	if f := t.seen[address]; f.n > 0 {
		f.n--
		t.seen[address] = f
	}
}

// tidy keeps the memory small: what is long past goes, and where too many
// are left, all that are still free.
func (t *tries) tidy(now time.Time) {
	if len(t.seen) < mostKept {
		return
	}
	for k, f := range t.seen {
		if now.Sub(f.last) >= forgetAfter || f.n < freeOfName {
			delete(t.seen, k)
		}
	}
	if len(t.seen) >= mostKept {
		clear(t.seen)
	}
}
