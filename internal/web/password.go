package web

import "plumbstride/internal/form"

// passwordPage asks for another password of one's own.
func (v *visit) passwordPage() error {
	return v.show("password", v.words.Say("Change your password"), nil)
}

// changePassword gives the account that is signed in another password. All
// its other sessions end.
func (v *visit) changePassword() error {
	title, next := v.words.Say("Change your password"), v.r.PostFormValue("password")
	_, err := v.site.Desk.Check(v.ctx(), v.account.Name, v.r.PostFormValue("old"), v.from())
	if err == nil && next != v.r.PostFormValue("again") {
		err = form.UsageError("the two new passwords are not the same; type them again")
	}
	if err == nil {
		err = v.site.Desk.ChangePassword(v.ctx(), v.Store, v.account.ID, next)
	}
	if err != nil {
		return v.again(err, "password", title, nil)
	}
	return v.enterAs(v.account.Name, next, "/", func(err error) error { return err })
}
