package followup

import (
	"net/url"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"plumbstride/internal/plan"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/words"
)

func at(t testing.TB, day string) time.Time {
	t.Helper()
	d, err := time.Parse(time.DateOnly, day)
	if err != nil {
		t.Fatal(err)
	}
	return d.Add(18 * time.Hour)
}

func date(t testing.TB, day string) plan.Date {
	t.Helper()
	d, err := plan.ParseDate(day)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// TestPlace: worked by hand from the days in the package's own table: a plan
// whose day to film again is 2026-04-13.
func TestPlace(t *testing.T) {
	ada := roster.Runner{ID: "a", Name: "Ada", Contact: "ada@example.org", BirthYear: 1990}
	first := []time.Time{at(t, "2026-03-02")}
	wrote := func(day string, s store.MessageState) []store.Message {
		return []store.Message{{State: s, Made: at(t, day)}}
	}
	for name, c := range map[string]struct {
		k     Known
		now   string
		state State
		day   string
		late  int
	}{
		"the plan runs":                   {Known{Recheck: date(t, "2026-04-13"), Checks: first}, "2026-04-05", Running, "2026-04-13", 0},
		"a week before":                   {Known{Recheck: date(t, "2026-04-13"), Checks: first}, "2026-04-06", Due, "2026-04-13", 0},
		"late":                            {Known{Recheck: date(t, "2026-04-13"), Checks: first}, "2026-04-23", Due, "2026-04-13", 10},
		"late and long quiet is due":      {Known{Recheck: date(t, "2026-04-13"), Checks: first}, "2026-08-01", Due, "2026-04-13", 110},
		"came a little early":             {Known{Recheck: date(t, "2026-04-13"), Checks: append(first, at(t, "2026-04-07"))}, "2026-04-23", Done, "2026-04-07", 0},
		"came far too early":              {Known{Recheck: date(t, "2026-04-13"), Checks: append(first, at(t, "2026-03-20"))}, "2026-04-23", Due, "2026-04-13", 10},
		"done, then quiet":                {Known{Recheck: date(t, "2026-04-13"), Checks: append(first, at(t, "2026-04-13"))}, "2026-06-12", Quiet, "2026-04-13", 0},
		"written to":                      {Known{Recheck: date(t, "2026-04-13"), Checks: first, Messages: wrote("2026-04-10", store.Sent)}, "2026-04-20", Waiting, "2026-04-10", 0},
		"taken along":                     {Known{Recheck: date(t, "2026-04-13"), Checks: first, Messages: wrote("2026-04-10", store.Handed)}, "2026-04-20", Waiting, "2026-04-10", 0},
		"the message did not leave":       {Known{Recheck: date(t, "2026-04-13"), Checks: first, Messages: wrote("2026-04-10", store.Unsent)}, "2026-04-20", Due, "2026-04-13", 7},
		"three weeks without an answer":   {Known{Recheck: date(t, "2026-04-13"), Checks: first, Messages: wrote("2026-04-10", store.Sent)}, "2026-05-01", Due, "2026-04-13", 18},
		"no plan, not long ago":           {Known{Checks: first}, "2026-04-30", Running, "2026-03-02", 0},
		"no plan, quiet":                  {Known{Checks: first}, "2026-05-01", Quiet, "2026-03-02", 0},
		"practice is a sign":              {Known{Checks: first, Signs: []time.Time{at(t, "2026-04-25")}}, "2026-05-01", Running, "2026-04-25", 0},
		"was back after the message":      {Known{Checks: append(first, at(t, "2026-05-10")), Messages: wrote("2026-05-01", store.Sent)}, "2026-05-11", Running, "2026-05-10", 0},
		"quiet, written to, not yet back": {Known{Checks: first, Messages: wrote("2026-05-02", store.Sent)}, "2026-05-11", Waiting, "2026-05-02", 0},
	} {
		c.k.Runner = ada
		l, ok := Place(c.k, at(t, c.now))
		if !ok || l.State != c.state || l.Day.Format(time.DateOnly) != c.day || l.Late != c.late || l.Why != May || l.Mail != ada.Contact {
			t.Errorf("%s: %+v, %v", name, l, ok)
		}
	}
	if _, ok := Place(Known{Runner: ada}, at(t, "2026-05-01")); ok {
		t.Error("somebody who was never checked is followed up")
	}
}

// TestWhom: nobody is written to who doesn't want it or gave no contact, and
// a guardian is where the runner is under age.
func TestWhom(t *testing.T) {
	now := at(t, "2026-05-11")
	checks := []time.Time{at(t, "2026-03-02")}
	for name, c := range map[string]struct {
		k        Known
		why      Why
		guardian bool
		mail     string
	}{
		"objects":               {Known{Runner: roster.Runner{Contact: "a@example.org", BirthYear: 1990}, Objects: true}, Objects, false, "a@example.org"},
		"no contact":            {Known{Runner: roster.Runner{Contact: " ", BirthYear: 1990}}, NoContact, false, ""},
		"a telephone":           {Known{Runner: roster.Runner{Contact: "+34 600 000 000", BirthYear: 1990}}, May, false, ""},
		"under age":             {Known{Runner: roster.Runner{Contact: "a@example.org", BirthYear: 2012}}, May, true, "a@example.org"},
		"a guardian agreed":     {Known{Runner: roster.Runner{Contact: "a@example.org"}, Consents: []roster.Consent{{Guardian: true, Given: checks[0]}}}, May, true, "a@example.org"},
		"of age by now":         {Known{Runner: roster.Runner{Contact: "a@example.org", BirthYear: 1990}, Consents: []roster.Consent{{Guardian: true, Given: checks[0]}}}, May, false, "a@example.org"},
		"two headers at once":   {Known{Runner: roster.Runner{Contact: "a@example.org\r\nBcc: b@example.org", BirthYear: 1990}}, May, false, ""},
		"with a name before it": {Known{Runner: roster.Runner{Contact: "Ada <a@example.org>", BirthYear: 1990}}, May, false, ""},
	} {
		c.k.Checks = checks
		l, _ := Place(c.k, now)
		if l.Why != c.why || l.Guardian != c.guardian || l.Mail != c.mail {
			t.Errorf("%s: %+v", name, l)
		}
	}
}

// promises are words that no message may hold, in any language.
var promises = []string{"injur", "lesi", "verletz", "prevent", "previen", "vorbeug", "cure", "heal", "safe"}

func TestWrite(t *testing.T) {
	for _, l := range words.Languages() {
		b, err := words.In(l)
		if err != nil {
			t.Fatal(err)
		}
		for _, state := range []State{Due, Quiet} {
			for _, guardian := range []bool{false, true} {
				line := Line{Runner: roster.Runner{Name: "Ada Quill"}, State: state, Guardian: guardian}
				d := Write(Ask{Line: line, Shop: "Invented shop", Day: "13 April 2026", Stop: "https://shop.example/stop/x"}, b)
				if !strings.Contains(d.Body, "Ada Quill") || !strings.Contains(d.Body, "https://shop.example/stop/x") || !strings.Contains(d.Body, "13 April 2026") || d.Subject == "" {
					t.Errorf("%s: %+v", l, d)
				}
				// A letter's greeting ends with a comma, in Spanish with a colon.
				if guardian == (strings.Contains(d.Body, "Ada Quill,\n") || strings.Contains(d.Body, "Ada Quill:\n")) {
					t.Errorf("%s: to whom is this? %s", l, d.Body)
				}
				for _, p := range promises {
					if strings.Contains(strings.ToLower(d.Subject+d.Body), p) {
						t.Errorf("%s: it promises something (%q): %s", l, p, d.Body)
					}
				}
				if l != words.English && strings.Contains(d.Body, "running") {
					t.Errorf("%s: English is left: %s", l, d.Body)
				}
			}
		}
	}
}

// TestMailto: whatever is written, the address holds it and nothing else
// (RFC 6068).
func TestMailto(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		subject, body := rapid.String().Draw(t, "subject"), rapid.String().Draw(t, "body")
		u, err := url.Parse(Mailto("ada+x@example.org", subject, body))
		if err != nil {
			t.Fatal(err)
		}
		want := strings.ReplaceAll(strings.ReplaceAll(body, "\r\n", "\n"), "\n", "\r\n")
		q := u.Query()
		if u.Scheme != "mailto" || u.Opaque != "ada+x@example.org" || q.Get("subject") != subject || q.Get("body") != want || len(q) != 2 {
			t.Errorf("%s", u)
		}
		if strings.Contains(u.RawQuery, "+") {
			t.Errorf("a mail program would show a plus: %s", u)
		}
	})
}
