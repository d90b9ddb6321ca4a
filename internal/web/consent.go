package web

import (
	"strings"

	"plumbstride/internal/form"
	"plumbstride/internal/media"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/words"
)

// consentPage asks for, and shows, what a runner agrees to.
type consentPage struct {
	Runner   roster.Runner
	ClassID  string
	Standing *roster.Consent
	Form     answers
	Agree    agreement
	May      bool // withdraw
}

// agreement is what the boxes of consent stand beside, on every page that
// asks for it.
type agreement struct {
	Words    string
	Days     int
	Minority roster.Minority
	Asked    bool // whether the year of birth is on the same form
	Form     answers
}

// consentWords are what a runner agrees to, as they are shown and kept.
func consentWords(b words.Book, days int) string {
	return b.Say("I agree that short clips of me running or standing are made here, measured by a program on this machine, and kept for at most %d days; the numbers and my form card stay until I ask for them to be deleted. "+
		"Nobody outside sees them unless I say so below. I can take this back at any time, with no reason: then clips and pictures are deleted at once. "+
		"The measurement is for coaching; it is no medical examination and finds no injuries.", days)
}

func (v *visit) agreement(class roster.Class, f answers) agreement {
	return agreement{Words: consentWords(v.words, class.Days()), Days: class.Days(), Minority: v.runner.Minor(v.site.Now()), Form: f}
}

// consentPage shows the form.
func (v *visit) consentPage() error {
	p, err := v.consentPageOf(answers{"given_by": v.runner.Name})
	if err != nil {
		return err
	}
	return v.show("consent", v.words.Say("Consent of %s", v.runner.Name), p)
}

func (v *visit) consentPageOf(f answers) (p consentPage, err error) {
	p = consentPage{Runner: v.runner, ClassID: v.r.FormValue("class"), Form: f, May: v.may(roster.Delete, roster.ConsentKind)}
	class := roster.Class{}
	if p.ClassID != "" {
		if class, err = v.Class(v.ctx(), p.ClassID); err != nil {
			return p, err
		}
	}
	p.Agree = v.agreement(class, f)
	all, err := v.Consents(v.ctx(), v.runner.ID)
	if c, ok := roster.Standing(all, v.site.Now()); ok {
		p.Standing = &c
	}
	return p, err
}

// consentFields are the boxes of consent.
var consentFields = []string{"film", "pictures", "faces", "helpers_see", "runner_sees", "keep_days", "given_by", "guardian", "of_age"}

// consentOf puts the boxes into a consent.
func (v *visit) consentOf(f answers, class roster.Class) (c roster.Consent, err error) {
	on := func(name string) bool { return f[name] != "" }
	if !on("film") {
		return c, form.UsageError("without a yes to filming there is nothing to record; leave this page, nobody will be filmed")
	}
	c = roster.Consent{
		Film: true, Pictures: on("pictures"), Faces: on("faces") && on("pictures"),
		Shown:   roster.Audience{Helpers: on("helpers_see"), Runner: on("runner_sees")},
		GivenBy: f["given_by"], Guardian: on("guardian"), StatedOfAge: on("of_age"), Words: consentWords(v.words, class.Days()),
	}
	if c.KeepDays, err = wholeOf(f["keep_days"], "the days that clips are kept", 1, roster.MaxKeepDays); err != nil {
		return c, err
	}
	return c.Clean()
}

// consent records what a runner agreed to. One that would not allow filming
// (a minor's without a guardian) is not recorded: the form comes back.
func (v *visit) consent() error {
	f := v.read(consentFields...)
	p, err := v.consentPageOf(f)
	if err != nil {
		return err
	}
	class := roster.Class{}
	if p.ClassID != "" {
		if class, err = v.Class(v.ctx(), p.ClassID); err != nil {
			return err
		}
	}
	c, err := v.consentOf(f, class)
	if err == nil {
		err = v.Within(v.ctx(), func(s store.Store) error { return v.record(s, v.runner, c) })
	}
	if err != nil {
		return v.again(err, "consent", v.words.Say("Consent of %s", v.runner.Name), p)
	}
	if p.ClassID != "" {
		return v.seeOther("/class/" + p.ClassID + "#r-" + v.runner.ID)
	}
	return v.seeOther("/runner/" + v.runner.ID)
}

// record adds a consent, if the runner may be filmed under it.
func (v *visit) record(s store.Store, r roster.Runner, c roster.Consent) error {
	if c.Guardian && strings.EqualFold(c.GivenBy, r.Name) {
		return form.UsageError("a parent or guardian agrees under their own name, not the runner's; write it under “Who agrees”")
	}
	c.RunnerID = r.ID
	added, err := s.AddConsent(v.ctx(), c)
	if err != nil {
		return err
	}
	_, err = roster.MayFilm(r, []roster.Consent{added}, added.Given)
	return err
}

// withdraw takes the standing consent back, with clips and pictures.
func (v *visit) withdraw() error {
	all, err := v.Consents(v.ctx(), v.runner.ID)
	if err != nil {
		return err
	}
	if c, ok := roster.Standing(all, v.site.Now()); ok {
		if err := media.Withdraw(v.ctx(), v.site.DB, v.site.Shelf, c.ID, v.site.Now(), v.who); err != nil {
			return err
		}
	}
	if v.link.ID != "" {
		return v.seeOther(strings.TrimSuffix(v.r.URL.Path, "/withdraw"))
	}
	return v.seeOther("/runner/" + v.runner.ID + "/consent")
}
