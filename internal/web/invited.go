package web

import (
	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// invitedPage is what a runner sees who films at home: what to agree to,
// then how to film and where to send the clip.
type invitedPage struct {
	Runner  roster.Runner
	Token   string
	Agreed  bool
	Agree   agreement
	Form    answers
	Film    filmPage
	Sent    int // clips that have come
	NoClips string
}

// invitedPage shows it.
func (v *visit) invitedPage() error {
	f := answers{"given_by": v.runner.Name}
	if v.runner.HeightM > 0 {
		f["height"] = runnerAnswers(v.runner)["height"]
	}
	p, err := v.invitedPageOf(f)
	if err != nil {
		return err
	}
	return v.show("invited", v.words.Say("Your own clip"), p)
}

func (v *visit) invitedPageOf(f answers) (p invitedPage, err error) {
	p = invitedPage{Runner: v.runner, Token: v.token, Form: f, Agree: v.agreement(v.class, f)}
	p.Agree.Asked = true
	consents, err := v.Consents(v.ctx(), v.runner.ID)
	if err != nil {
		return p, err
	}
	_, lacks := roster.MayFilm(v.runner, consents, v.site.Now())
	p.Agreed = lacks == nil && v.runner.HeightM > 0
	base := "/invited/" + v.token
	p.Film = filmPage{Runner: v.runner, Class: v.class, To: base, Back: base, Form: answers{}, Invited: true}
	checks, err := v.RunnerChecks(v.ctx(), v.runner.ID)
	for _, c := range checks {
		if c.Made.After(v.link.Made) {
			p.Sent++
		}
	}
	return p, err
}

// invitedConsent records what the invited runner agrees to. Their year of
// birth and height are taken where the coach did not know them.
func (v *visit) invitedConsent() error {
	f := v.read(append([]string{"height", "birth_year"}, consentFields...)...)
	r := v.runner
	var err error
	if r.HeightM == 0 {
		if r.HeightM, err = heightOf(f["height"]); err == nil && r.HeightM == 0 {
			err = form.UsageError("your height is needed: it turns what the camera sees into centimetres")
		}
	}
	if err == nil && r.BirthYear == 0 {
		r.BirthYear, err = yearOf(f["birth_year"])
	}
	c := roster.Consent{}
	if err == nil {
		if r, err = r.Clean(v.site.Now()); err == nil {
			c, err = v.consentOf(f, v.class)
		}
	}
	if err == nil {
		err = v.Within(v.ctx(), func(s store.Store) error {
			if r.HeightM != v.runner.HeightM || r.BirthYear != v.runner.BirthYear {
				if r, err = s.ChangeRunner(v.ctx(), r); err != nil {
					return err
				}
			}
			return v.record(s, r, c)
		})
	}
	if err != nil {
		p, pageErr := v.invitedPageOf(f)
		if pageErr != nil {
			return pageErr
		}
		return v.again(err, "invited", v.words.Say("Your own clip"), p)
	}
	return v.seeOther("/invited/" + v.token)
}
