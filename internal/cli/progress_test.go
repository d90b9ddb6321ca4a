package cli

import (
	"strings"
	"testing"
	"time"
)

// clock is a clock that the test moves by hand.
type clock struct{ t time.Time }

func (c *clock) now() time.Time          { return c.t }
func (c *clock) advance(d time.Duration) { c.t = c.t.Add(d) }

func TestProgressPlain(t *testing.T) {
	var b strings.Builder
	c := &clock{t: time.Unix(0, 0)}
	p := newProgress(&b, 0, c.now)
	p.tell("Finding the runner", "frames", 0, 600)
	for i := 1; i <= 600; i++ {
		c.advance(25 * time.Millisecond) // 40 frames/s: 15 s in all
		p.tell("Finding the runner", "frames", i, 600)
	}
	p.tell("Measuring", "frames", 0, 0)
	p.end()
	golden(t, "progress-plain.txt", b.String())
	if strings.ContainsAny(b.String(), "\r\x1b") {
		t.Error("a plain log holds control characters")
	}
}

func TestProgressBar(t *testing.T) {
	var b strings.Builder
	c := &clock{t: time.Unix(0, 0)}
	p := newProgress(&b, 80, c.now)
	p.tell("Finding the runner", "frames", 0, 100)
	for i := 1; i <= 100; i++ {
		c.advance(50 * time.Millisecond)
		p.tell("Finding the runner", "frames", i, 100)
	}
	p.end()
	out := b.String()
	for _, want := range []string{"50 of 100 frames, 20 frames/s, 3 s left", "100 of 100 frames, 20 frames/s"} {
		if !strings.Contains(out, want) {
			t.Errorf("the bar never says %q:\n%q", want, out)
		}
	}
	if n := strings.Count(out, "\r"); n > 53 {
		t.Errorf("drawn %d times in 5 s; at most every %v is wanted", n, drawEvery)
	}
	if !strings.HasSuffix(out, "\n") {
		t.Error("the bar does not end its line")
	}
}

func TestProgressBytes(t *testing.T) {
	c := &clock{t: time.Unix(0, 0)}
	var b strings.Builder
	p := newProgress(&b, 80, c.now)
	p.tell("Fetching", "bytes", 0, 40_000_000)
	c.advance(2 * time.Second)
	p.tell("Fetching", "bytes", 10_000_000, 40_000_000)
	if want := "10.0 of 40.0 MB, 5.0 MB/s, 6 s left"; !strings.Contains(b.String(), want) {
		t.Errorf("%q does not say %q", b.String(), want)
	}
}

// TestProgressFits: whatever the terminal's width, a line stays on it.
func TestProgressFits(t *testing.T) {
	for columns := 1; columns <= 140; columns++ {
		var b strings.Builder
		c := &clock{t: time.Unix(0, 0)}
		p := newProgress(&b, columns, c.now)
		p.tell("A stage with quite a long name", "frames", 0, 12_000)
		c.advance(time.Minute)
		p.tell("A stage with quite a long name", "frames", 1_234, 12_000)
		p.end()
		for line := range strings.SplitSeq(strings.TrimSuffix(b.String(), "\n"), "\r\x1b[K") {
			if n := len([]rune(line)); n >= columns && n > 0 {
				t.Fatalf("%d columns: %d characters: %q", columns, n, line)
			}
		}
	}
}
