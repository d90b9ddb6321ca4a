package web

import (
	"net/http"
	"time"

	"plumbstride/internal/form"
	"plumbstride/internal/plan"
)

// home leads to where the visitor belongs.
func (v *visit) home() error {
	fresh, err := v.site.Desk.Fresh(v.ctx())
	if err != nil {
		return err
	}
	if fresh {
		return v.seeOther("/begin")
	}
	if v.account.ID == "" {
		return v.seeOther("/sign-in")
	}
	classes, err := v.Classes(v.ctx())
	if err != nil {
		return err
	}
	tonight := 0
	to := "/classes"
	for _, c := range classes {
		if c.Date == v.today() {
			tonight++
			to = "/class/" + c.ID
		}
	}
	if tonight != 1 {
		to = "/classes"
	}
	return v.seeOther(to)
}

// today is the day it is here.
func (v *visit) today() plan.Date {
	d, err := plan.ParseDate(v.site.Now().Local().Format(time.DateOnly))
	if err != nil {
		panic("web: today is no day: " + err.Error())
	}
	return d
}

// signing is what the two forms of signing in hold. A password is never
// written back.
type signing struct{ Code, Name, Next string }

// beginPage asks for the first account.
func (v *visit) beginPage() error {
	fresh, err := v.site.Desk.Fresh(v.ctx())
	if err != nil {
		return err
	}
	if !fresh {
		return v.seeOther("/sign-in")
	}
	return v.show("begin", v.words.Say("Make the first account"), signing{Code: v.r.FormValue("code")})
}

// begin makes the first account and signs it in.
func (v *visit) begin() error {
	f := signing{Code: v.field("code", 40), Name: v.field("name", 200)}
	password := v.r.PostFormValue("password")
	err := error(nil)
	if password != v.r.PostFormValue("again") {
		err = form.UsageError("the two passwords are not the same; type them again")
	} else {
		_, err = v.site.Desk.Found(v.ctx(), f.Code, f.Name, password, v.from())
	}
	if err != nil {
		return v.again(err, "begin", v.words.Say("Make the first account"), f)
	}
	return v.enterAs(f.Name, password, "/", func(err error) error { return err })
}

// signInPage asks who it is.
func (v *visit) signInPage() error {
	fresh, err := v.site.Desk.Fresh(v.ctx())
	if err != nil {
		return err
	}
	if fresh {
		return v.seeOther("/begin")
	}
	return v.show("sign-in", v.words.Say("Sign in"), signing{Next: local(v.r.FormValue("next"))})
}

// signIn opens a session.
func (v *visit) signIn() error {
	f := signing{Name: v.field("name", 200), Next: local(v.field("next", 2000))}
	return v.enterAs(f.Name, v.r.PostFormValue("password"), f.Next, func(err error) error {
		return v.again(err, "sign-in", v.words.Say("Sign in"), f)
	})
}

// enterAs signs in and sets the cookie.
func (v *visit) enterAs(name, password, next string, failed func(error) error) error {
	token, _, err := v.site.Desk.SignIn(v.ctx(), name, password, v.from())
	if err != nil {
		return failed(err)
	}
	v.setCookie(token, 30*24*time.Hour)
	return v.seeOther(next)
}

func (v *visit) setCookie(token string, age time.Duration) {
	c := &http.Cookie{
		Name: v.cookieName(), Value: token, Path: "/", MaxAge: int(age.Seconds()), HttpOnly: true,
		Secure: v.secure(), SameSite: http.SameSiteLaxMode,
	}
	if age <= 0 {
		c.MaxAge = -1
	}
	http.SetCookie(v.w, c)
}

// signOut ends the session.
func (v *visit) signOut() error {
	if c, err := v.r.Cookie(v.cookieName()); err == nil {
		if err := v.site.Desk.SignOut(v.ctx(), c.Value); err != nil {
			return err
		}
	}
	v.setCookie("", 0)
	return v.seeOther("/sign-in")
}
