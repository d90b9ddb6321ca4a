package cli

import (
	"fmt"
	"io"
	"math"
	"strings"
	"sync"
	"time"

	"plumbstride/internal/words"
)

// barCells is the length of the progress bar, in characters, where there is
// room for it.
const barCells = 24

// progress shows how far a long piece of work has come: a bar on a terminal
// (done, rate, time left), one plain line a stage and then one every
// lineEvery otherwise. It may be told from several goroutines.
type progress struct {
	w io.Writer
	// columns is the terminal's width; 0 where nobody watches.
	columns int
	now     func() time.Time

	mu      sync.Mutex
	stage   string
	began   time.Time
	last    time.Time
	done    int
	total   int
	unit    string
	written bool
	say     words.Book // the language that it is told in
}

// How often the bar is drawn anew, and how often a plain line is written.
const (
	drawEvery = 100 * time.Millisecond
	lineEvery = 10 * time.Second
)

func newProgress(w io.Writer, columns int, now func() time.Time) *progress {
	return &progress{w: w, columns: columns, now: now}
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
	if p.columns > 0 {
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
	if p.stage == "" || p.columns == 0 {
		return
	}
	p.draw(p.now())
	fmt.Fprintln(p.w)
}

func (p *progress) show(now time.Time) {
	p.last = now
	switch {
	case p.columns > 0:
		p.draw(now)
	case !p.written:
		p.written = true
		fmt.Fprintf(p.w, "%s\n", p.say.Of(p.stage))
	default:
		fmt.Fprintf(p.w, "%s: %s\n", p.say.Of(p.stage), p.state(now))
	}
}

// draw writes the line anew. It never fills the last column, or a terminal
// would wrap it: the bar gives way first, then the end of the line.
func (p *progress) draw(now time.Time) {
	stage, state := fmt.Sprintf("%-26s", p.say.Of(p.stage)), p.state(now)
	room := p.columns - 1 - len([]rune(stage)) - len([]rune(state)) - 3
	line := []rune(fmt.Sprintf("%s %s  %s", stage, bar(p.done, p.total, min(barCells, room)), state))
	if len(line) > p.columns-1 {
		line = line[:max(0, p.columns-1)]
	}
	fmt.Fprintf(p.w, "\r\x1b[K%s", string(line))
}

// bar is the share done, as small squares; nothing where there is no room.
func bar(done, total, cells int) string {
	if cells < 4 {
		return ""
	}
	full := 0
	if total > 0 {
		full = min(cells, max(0, done*cells/total))
	}
	return strings.Repeat("▪", full) + strings.Repeat("▫", cells-full)
}

// state is "312 of 600 frames, 84 frames/s, 3 s left", as far as known.
func (p *progress) state(now time.Time) string {
	var b strings.Builder
	amount, unit := scaled(p.unit)
	unit = p.say.Of(unit)
	if p.total > 0 {
		b.WriteString(p.say.Say("%s of %s %s", amount(p.done), amount(p.total), unit))
	} else {
		fmt.Fprintf(&b, "%s %s", amount(p.done), unit)
	}
	elapsed := now.Sub(p.began).Seconds()
	if p.done <= 0 || elapsed <= 0 {
		return b.String()
	}
	rate := float64(p.done) / elapsed
	fmt.Fprintf(&b, ", %s %s/s", amount(int(math.Round(rate))), unit)
	if p.total > p.done {
		b.WriteString(", " + p.say.Say("%.0f s left", math.Ceil(float64(p.total-p.done)/rate)))
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
