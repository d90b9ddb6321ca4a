package web

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"plumbstride/internal/store"
)

// How often news that this process did not make itself is looked for, and
// after how long a silent connection is shown to be alive.
const (
	lookEvery  = 2 * time.Second
	aliveEvery = 20 * time.Second
)

// live sends a part of a page anew each time it has changed, as server-sent
// events, until the browser goes. render gives the part, and over when there
// will be no more news.
func (v *visit) live(render func() (html string, over bool, err error)) error {
	changes, stop := v.site.Queue.Watch()
	defer stop()
	v.w.Header().Set("Content-Type", "text/event-stream")
	v.w.Header().Set("X-Accel-Buffering", "no")
	c := http.NewResponseController(v.w)
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	last, said := "", time.Now()
	for {
		html, over, err := render()
		if err != nil {
			return err
		}
		switch {
		case over:
			_, err = fmt.Fprint(v.w, "event: over\ndata: .\n\n")
		case html != last:
			_, err = fmt.Fprintf(v.w, "event: part\ndata: %s\n\n", strings.ReplaceAll(strings.TrimSpace(html), "\n", "\ndata: "))
			last, said = html, time.Now()
		case time.Since(said) > aliveEvery:
			_, err = fmt.Fprint(v.w, ": still here\n\n")
			said = time.Now()
		}
		if err == nil {
			err = c.Flush()
		}
		if err != nil || over {
			return gone(err)
		}
		select {
		case <-v.ctx().Done():
			return nil
		case <-changes:
			// A queue at work changes many times a second.
			select {
			case <-v.ctx().Done():
				return nil
			case <-time.After(200 * time.Millisecond):
			}
		case <-tick.C:
		}
	}
}

// classNews sends the class's list.
func (v *visit) classNews() error {
	return v.live(func() (string, bool, error) {
		p, err := v.lineUp()
		if err != nil {
			return "", false, err
		}
		html, err := v.part("class", "line", p)
		return html, false, err
	})
}

// checkNews sends how far a check is, until it is measured.
func (v *visit) checkNews() error {
	return v.live(func() (string, bool, error) {
		c, err := v.Check(v.ctx(), v.check.ID)
		if err != nil {
			return "", false, err
		}
		if c.State != store.Waiting {
			return "", true, nil
		}
		jobs, err := v.Queue(v.ctx())
		if err != nil {
			return "", false, err
		}
		r := row{Percent: -1}
		r.judge(c, jobs, v.words)
		html, err := v.part("check", "waits", r)
		return html, false, err
	})
}
