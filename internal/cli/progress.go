package cli

import (
	"fmt"
	"io"
	"math"
	"strings"
	"sync"
	"time"
)

// barCells is the length of the progress bar, in characters.
const barCells = 24

// progress shows how far a long piece of work has come: a bar on a terminal
// (done, rate, time left), one plain line a stage and then one every
// lineEvery otherwise. It may be told from several goroutines.
type progress struct {
	w        io.Writer
	terminal bool
	now      func() time.Time

	mu      sync.Mutex
	stage   string
	began   time.Time
	last    time.Time
	done    int
	total   int
	unit    string
	written bool
}

// How often the bar is drawn anew, and how often a plain line is written.
const (
	drawEvery = 100 * time.Millisecond
	lineEvery = 10 * time.Second
)

func newProgress(w io.Writer, terminal bool, now func() time.Time) *progress {
	return &progress{w: w, terminal: terminal, now: now}
}

// tell takes the state of a stage: done of total units (frames, bytes).
// A total of 0 is not known.
func (p *progress) tell(stage, unit string, done, total int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now := p.now()
	if stage != p.stage {
		p.finish()
		p.stage, p.began, p.last = stage, now, now
		p.done, p.total, p.unit, p.written = done, total, unit, false
		p.show(now)
		return
	}
	p.done, p.total = done, total
	every := lineEvery
	if p.terminal {
		every = drawEvery
	}
	if now.Sub(p.last) >= every {
		p.show(now)
	}
}

// end closes the last stage, so that what follows starts on its own line.
func (p *progress) end() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.finish()
	p.stage = ""
}

// finish leaves the last state of a stage on the screen.
func (p *progress) finish() {
	if p.stage == "" || !p.terminal {
		return
	}
	p.draw(p.now())
	fmt.Fprintln(p.w)
}

func (p *progress) show(now time.Time) {
	p.last = now
	switch {
	case p.terminal:
		p.draw(now)
	case !p.written:
		p.written = true
		fmt.Fprintf(p.w, "%s\n", p.stage)
	default:
		fmt.Fprintf(p.w, "%s: %s\n", p.stage, p.state(now))
	}
}

func (p *progress) draw(now time.Time) {
	line := fmt.Sprintf("%-24s %s  %s", p.stage, bar(p.done, p.total), p.state(now))
	fmt.Fprintf(p.w, "\r\x1b[K%s", line)
}

// bar is the share done, as barCells small squares.
func bar(done, total int) string {
	full := 0
	if total > 0 {
		full = min(barCells, max(0, done*barCells/total))
	}
	return strings.Repeat("▪", full) + strings.Repeat("▫", barCells-full)
}

// state is "312 of 600 frames, 84 frames/s, 3 s left", as far as known.
func (p *progress) state(now time.Time) string {
	var b strings.Builder
	amount, unit := scaled(p.unit)
	fmt.Fprintf(&b, "%s", amount(p.done))
	if p.total > 0 {
		fmt.Fprintf(&b, " of %s", amount(p.total))
	}
	fmt.Fprintf(&b, " %s", unit)
	elapsed := now.Sub(p.began).Seconds()
	if p.done <= 0 || elapsed <= 0 {
		return b.String()
	}
	rate := float64(p.done) / elapsed
	fmt.Fprintf(&b, ", %s %s/s", amount(int(math.Round(rate))), unit)
	if p.total > p.done {
		fmt.Fprintf(&b, ", %.0f s left", math.Ceil(float64(p.total-p.done)/rate))
	}
	return b.String()
}

// scaled gives bytes as MB and leaves every other unit alone.
func scaled(unit string) (func(int) string, string) {
	if unit == "bytes" {
		return func(n int) string { return fmt.Sprintf("%.1f", float64(n)/1e6) }, "MB"
	}
	return func(n int) string { return fmt.Sprint(n) }, unit
}
