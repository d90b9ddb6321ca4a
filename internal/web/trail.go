package web

import (
	"net/url"
	"time"

	"plumbstride/internal/evening"
	"plumbstride/internal/media"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/words"
)

// trailLines is how many lines of the trail stand on a page.
const trailLines = 100

// trailPage is who saw or changed what.
type trailPage struct {
	Lines    []trailLine
	Runners  []roster.Runner
	Accounts []store.Account
	Form     answers
	Years    int
	// Older leads to the lines before these; empty where there are none.
	Older string
}

// trailLine is one line, in words.
type trailLine struct {
	At               time.Time
	Who, Did, What   string
	Runner, RunnerID string
	// Number is the record's, where no name tells more.
	Number string
}

// trail shows who saw or changed what, the latest first.
func (v *visit) trail() error {
	q := v.r.URL.Query()
	f := answers{"runner": q.Get("runner"), "account": q.Get("account"), "day": q.Get("day")}
	filter := store.TrailFilter{RunnerID: f["runner"], WhoID: f["account"], Before: q.Get("before")}
	if f["day"] != "" {
		d, err := dateOf(f["day"])
		if err != nil {
			return err
		}
		y, m, day := d.Time().Date()
		filter.From = time.Date(y, m, day, 0, 0, 0, 0, time.Local)
		filter.Until = filter.From.AddDate(0, 0, 1)
	}
	entries, err := v.Entries(v.ctx(), filter, trailLines+1)
	if err != nil {
		return err
	}
	p := trailPage{Form: f, Years: media.TrailYears}
	if p.Runners, err = v.Runners(v.ctx()); err != nil {
		return err
	}
	if p.Accounts, err = v.Accounts(v.ctx()); err != nil {
		return err
	}
	if len(entries) > trailLines {
		entries = entries[:trailLines]
		older := url.Values{"before": {entries[trailLines-1].ID}}
		for name, value := range f {
			if value != "" {
				older.Set(name, value)
			}
		}
		p.Older = "/trail?" + older.Encode()
	}
	p.fill(entries, v.words)
	return v.show("trail", v.words.Say("Who saw or changed what"), p)
}

// fill puts the lines into words.
func (p *trailPage) fill(entries []store.Entry, b words.Book) {
	runners, accounts := map[string]string{}, map[string]string{}
	for _, r := range p.Runners {
		runners[r.ID] = r.Name
	}
	for _, a := range p.Accounts {
		accounts[a.ID] = a.Name
	}
	for _, e := range entries {
		l := trailLine{At: e.At, Who: accounts[e.Who.ID], Did: evening.DidWhat(b, e.Action), What: evening.OfWhat(b, e.Kind), Runner: runners[e.RunnerID], RunnerID: e.RunnerID}
		if l.Who == "" {
			l.Who = evening.ByWhom(b, e.Who.Kind)
		}
		if l.Runner == "" {
			l.Number = e.Subject
		}
		if name := accounts[e.Subject]; name != "" && e.Kind == roster.AccountKind {
			l.Number = name
		}
		p.Lines = append(p.Lines, l)
	}
}
