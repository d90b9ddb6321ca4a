package web

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base32"
	"errors"
	"html/template"
	"strings"
	"time"

	"plumbstride/internal/account"
	"plumbstride/internal/calendar"
	"plumbstride/internal/evening"
	"plumbstride/internal/followup"
	"plumbstride/internal/form"
	"plumbstride/internal/outbox"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/words"
)

// messagePage is a message as it is drafted, and, looked at, as it would
// leave.
type messagePage struct {
	Runner roster.Runner
	Line   followup.Line
	Form   answers
	Kind   string
	// Mailto opens it in a mail program; Invitation is the day as a file.
	Mailto, Invitation template.URL
	// Sends: a mail server is named in the settings. Looked: this is how it
	// leaves.
	Sends, Looked bool
	From          string
	Past          []store.Message
	Languages     []languageChoice
	Objects       bool
}

// messagePage drafts a message.
func (v *visit) messagePage() error {
	q := v.r.URL.Query()
	f := answers{"day": q.Get("day"), "clock": q.Get("clock"), "language": q.Get("language")}
	p, err := v.draft(f)
	if err != nil {
		return err
	}
	return v.show("message", v.words.Say("Message to %s", v.runner.Name), p)
}

// draft fills a page with a draft for the day, time and language in f.
func (v *visit) draft(f answers) (p messagePage, err error) {
	p, k, err := v.messageOf(f)
	if err != nil {
		return p, err
	}
	if f["day"] == "" {
		f["day"] = v.proposed(k).String()
	}
	b, err := words.In(words.Language(f["language"]))
	if err != nil {
		return p, err
	}
	when, err := whenOf(f, b)
	if err != nil {
		return p, err
	}
	stop := ""
	if p.Line.Why == followup.May {
		if stop, err = v.stopAddress(); err != nil {
			return p, err
		}
	}
	d := followup.Write(followup.Ask{Line: p.Line, Shop: v.site.Shop.Name, Day: when, Stop: stop}, b)
	f["subject"], f["body"], p.Kind = d.Subject, d.Body, d.Kind
	p.address(v)
	return p, nil
}

// whenOf is the proposed day, with its time, in words.
func whenOf(f answers, b words.Book) (string, error) {
	d, err := dateOf(f["day"])
	if err != nil {
		return "", err
	}
	at, timed, err := clockOf(f["clock"])
	if err != nil || !timed {
		return b.Date(d.Time()), err
	}
	return b.Moment(d.Time().Add(at)), nil
}

// messageOf is the page without its text.
func (v *visit) messageOf(f answers) (p messagePage, k followup.Known, err error) {
	if k, err = evening.KnownOf(v.ctx(), v.Store, v.runner); err != nil {
		return p, k, err
	}
	no, err := v.Objections(v.ctx())
	if err != nil {
		return p, k, err
	}
	_, k.Objects = no[v.runner.ID]
	p = messagePage{Runner: v.runner, Form: f, Past: k.Messages, Objects: k.Objects, Sends: v.site.Post != nil}
	if p.Line, _ = followup.Place(k, v.site.Now()); p.Line.Runner.ID == "" {
		p.Line.Runner = v.runner
	}
	if v.site.Post != nil {
		p.From = v.site.Post.From()
	}
	if _, err := words.In(words.Language(f["language"])); err != nil || f["language"] == "" {
		f["language"] = string(v.words.Language())
	}
	p.Languages = languageChoices(words.Language(f["language"]))
	return p, k, nil
}

// address fills in what leads on from the text.
func (p *messagePage) address(v *visit) {
	query := template.URLQueryEscaper(p.Form["day"])
	p.Invitation = template.URL("/runner/" + v.runner.ID + "/again.ics?day=" + query + "&clock=" + template.URLQueryEscaper(p.Form["clock"]) + "&language=" + template.URLQueryEscaper(p.Form["language"]))
	if p.Line.Mail != "" && p.Line.Why == followup.May {
		p.Mailto = template.URL(followup.Mailto(p.Line.Mail, p.Form["subject"], p.Form["body"]))
	}
}

// The longest message, in characters.
const maxSubject, maxBody = 200, 8000

// message shows a message as it would leave, sends it, or records that
// somebody took it along.
func (v *visit) message() error {
	f := answers{"subject": v.field("subject", maxSubject), "body": strings.ReplaceAll(v.field("body", maxBody), "\r\n", "\n"), "day": v.field("day", 20), "clock": v.field("clock", 10), "language": v.field("language", 10), "kind": v.field("kind", 20)}
	if v.ticked("invite") {
		f["invite"] = "1"
	}
	p, k, err := v.messageOf(f)
	if err != nil {
		return err
	}
	p.Kind = f["kind"]
	p.address(v)
	do := v.field("do", 20)
	m, err := v.composed(f, k, p, do)
	if err == nil && do == "look" {
		p.Looked = true
		return v.show("message", v.words.Say("Message to %s", v.runner.Name), p)
	}
	if err == nil {
		err = v.Within(v.ctx(), func(s store.Store) error {
			m, err := s.AddMessage(v.ctx(), m)
			if err != nil || m.State != store.Queued {
				return err
			}
			_, err = s.AddJob(v.ctx(), outbox.Job(m.ID))
			return err
		})
	}
	if err != nil {
		return v.again(err, "message", v.words.Say("Message to %s", v.runner.Name), p)
	}
	v.site.Queue.Wake()
	return v.seeOther("/runner/" + v.runner.ID + "/message#past")
}

// composed is the message that a form says, or why it can't be one.
func (v *visit) composed(f answers, k followup.Known, p messagePage, do string) (m store.Message, err error) {
	m = store.Message{RunnerID: v.runner.ID, Kind: f["kind"], State: store.Handed, Recipient: v.runner.Contact, Subject: f["subject"], Body: f["body"] + "\n"}
	if m.Kind != followup.Recheck {
		m.Kind = followup.Hello
	}
	switch {
	case p.Line.Why == followup.Objects:
		return m, form.UsageError("this runner wants no messages; nothing was written")
	case p.Line.Why == followup.NoContact:
		return m, form.UsageError("there is no contact of this runner; add one first")
	case f["subject"] == "" || strings.ContainsAny(f["subject"], "\r\n"):
		return m, form.UsageError("a message needs a subject of one line")
	case f["body"] == "":
		return m, form.UsageError("the message is empty; write it first")
	case do == "handed":
		return m, nil
	case v.site.Post == nil:
		return m, form.UsageError("no mail server is named in the settings, so nothing leaves from here; copy the message, or open it in a mail program")
	case p.Line.Mail == "":
		return m, form.UsageError("the contact of this runner is no e-mail address")
	}
	m.State, m.Recipient = store.Queued, p.Line.Mail
	if m.Stop, err = v.stopAddress(); err != nil {
		return m, err
	}
	if f["invite"] != "" {
		invitation, err := v.invitation(f, k)
		if err != nil {
			return m, err
		}
		m.Calendar = string(invitation)
	}
	return m, nil
}

// checkMinutes is how long filming again takes, with warming up (common
// practice, no source).
const checkMinutes = 20

// invitation is the proposed day as a calendar's file.
func (v *visit) invitation(f answers, k followup.Known) ([]byte, error) {
	day, err := dateOf(f["day"])
	if err != nil {
		return nil, err
	}
	at, timed, err := clockOf(f["clock"])
	if err != nil {
		return nil, err
	}
	b, err := words.In(words.Language(f["language"]))
	if err != nil {
		return nil, err
	}
	i := calendar.Invite{
		RunnerID: v.runner.ID, For: k.Recheck.String(), Sequence: len(k.Messages), Name: v.runner.Name, Shop: v.site.Shop.Name,
		Day: day, Clock: at, Timed: timed, Minutes: checkMinutes, To: followup.Address(v.runner.Contact),
	}
	if v.site.Post != nil {
		i.From = v.site.Post.From()
	}
	return calendar.Invitation(i, v.site.Program, v.site.Now().Local(), b), nil
}

// againDay gives the invitation as a file.
func (v *visit) againDay() error {
	q := v.r.URL.Query()
	k, err := evening.KnownOf(v.ctx(), v.Store, v.runner)
	if err != nil {
		return err
	}
	f := answers{"day": q.Get("day"), "clock": q.Get("clock"), "language": q.Get("language")}
	if f["day"] == "" {
		f["day"] = v.proposed(k).String()
	}
	if f["language"] == "" {
		f["language"] = string(v.words.Language())
	}
	text, err := v.invitation(f, k)
	if err != nil {
		return err
	}
	return v.file("text/calendar; charset=utf-8", "film-again.ics", text)
}

// stopFor is how long a link that stops messages works: longer than anybody
// keeps a message to look for it.
const stopFor = 5 * 365 * 24 * time.Hour

// stopKey is the setting from which those links are made.
const stopKey = "stop_key"

// stopAddress is the address of the page on which the runner stops messages:
// always the same, so that any message still opens it. It is "" where runners
// can't reach the pages from outside.
func (v *visit) stopAddress() (string, error) {
	if v.site.Post == nil || v.site.Post.Pages() == "" || v.site.ReadOnly {
		return "", nil
	}
	token := ""
	err := v.Within(v.ctx(), func(s store.Store) error {
		key, err := s.Setting(v.ctx(), stopKey)
		if err == nil && key == "" {
			key = rand.Text()
			err = s.SetSetting(v.ctx(), stopKey, key)
		}
		if err != nil {
			return err
		}
		sum := hmac.New(sha256.New, []byte(key))
		sum.Write([]byte(v.runner.ID))
		token = strings.ToLower(base32.StdEncoding.EncodeToString(sum.Sum(nil))[:26])
		_, err = s.LinkByHash(v.ctx(), account.Hash(token))
		if !errors.Is(err, store.ErrNotFound) {
			return err
		}
		_, err = s.AddLink(v.ctx(), store.Link{Role: roster.Stop, RunnerID: v.runner.ID, Hash: account.Hash(token), Expires: v.site.Now().Add(stopFor)})
		return err
	})
	return v.site.Post.Pages() + "/stop/" + token, err
}
