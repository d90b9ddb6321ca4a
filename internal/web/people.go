package web

import (
	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// peoplePage is the roster.
type peoplePage struct{ Runners []roster.Runner }

// people lists all runners.
func (v *visit) people() error {
	all, err := v.Runners(v.ctx())
	if err != nil {
		return err
	}
	return v.show("people", v.words.Say("Runners"), peoplePage{all})
}

// accountsPage is who may sign in.
type accountsPage struct {
	Accounts []store.Account
	Self     string
	Form     answers
}

// accounts lists who may sign in.
func (v *visit) accounts() error {
	p, err := v.accountsPage(answers{"role": string(roster.Helper)})
	if err != nil {
		return err
	}
	return v.show("accounts", v.words.Say("Accounts"), p)
}

func (v *visit) accountsPage(f answers) (accountsPage, error) {
	all, err := v.Accounts(v.ctx())
	return accountsPage{all, v.account.ID, f}, err
}

// addAccount lets one more person sign in.
func (v *visit) addAccount() error {
	f := v.read("name", "role")
	_, err := v.site.Desk.Add(v.ctx(), v.Store, f["name"], v.r.PostFormValue("password"), roster.Role(f["role"]))
	if err != nil {
		p, listErr := v.accountsPage(f)
		if listErr != nil {
			return listErr
		}
		return v.again(err, "accounts", v.words.Say("Accounts"), p)
	}
	return v.seeOther("/accounts")
}

// changeAccount opens or closes an account.
func (v *visit) changeAccount() error {
	a, err := v.Account(v.ctx(), v.r.PathValue("account"))
	if err != nil {
		return err
	}
	if a.ID == v.account.ID {
		return form.UsageError("this is your own account; another coach can close it")
	}
	a.Version, a.Disabled = versionOf(v.field("version", 20)), v.ticked("close")
	if _, err := v.ChangeAccount(v.ctx(), a); err != nil {
		return err
	}
	return v.seeOther("/accounts")
}
