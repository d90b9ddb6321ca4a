package web

import (
	"context"
	"errors"
	"net"
	"net/http"
	"net/url"
	"strings"

	"plumbstride/internal/account"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/words"
)

// route is one address: what must be allowed to whoever asks for it, and
// what answers.
type route struct {
	pattern string
	action  roster.Action
	// kind is empty where the address is open to everybody.
	kind roster.Kind
	do   func(*visit) error
}

// visit is one request and what is known of it: who asks, and which records
// its address names.
type visit struct {
	site *Site
	w    http.ResponseWriter
	r    *http.Request
	// words is the visitor's language.
	words words.Book
	// Store writes under the visitor's name.
	store.Store
	who   store.Who
	actor roster.Actor
	// account is who is signed in; its ID is empty where nobody is.
	account store.Account
	// link and token are the private address that was opened, if any.
	link  store.Link
	token string

	class    roster.Class
	runner   roster.Runner
	check    store.Check
	plan     store.Plan
	upload   store.Upload
	activity store.Activity
	// shown is what the runner's standing consent says about footage.
	shown roster.Audience
}

func (v *visit) ctx() context.Context { return v.r.Context() }

// may asks the table about a thing of the records that the address names.
func (v *visit) may(action roster.Action, kind roster.Kind) bool {
	if v.site.ReadOnly && action != roster.See && action != roster.Export {
		return false
	}
	return roster.May(v.actor, action, v.resource(kind))
}

// resource is the thing that the address names.
func (v *visit) resource(kind roster.Kind) roster.Resource {
	return roster.Resource{Kind: kind, RunnerID: v.runner.ID, ClassID: v.class.ID, Released: v.check.Released(), Shown: v.shown}
}

// linkRoles are the private addresses by their first word.
var linkRoles = map[string]roster.Role{"my": roster.Own, "invited": roster.Invited, "door": roster.Door, "stop": roster.Stop}

// guard lets through whom the table allows, and answers all others.
func (s *Site) guard(rt route) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		v := &visit{site: s, w: w, r: r, Store: s.DB, words: s.books[s.languageOf(r)]}
		if isForm(r) {
			r.Body = http.MaxBytesReader(w, r.Body, maxForm)
		}
		err := v.enter(rt)
		if err == nil {
			err = v.note(rt)
		}
		if err == nil {
			err = rt.do(v)
		}
		if err != nil {
			s.fail(v, err)
		}
	})
}

// errForbidden: whoever is signed in may not do that.
var errForbidden = errors.New("your account may not do that; ask a coach")

// enter finds out who asks and for what, and whether they may.
func (v *visit) enter(rt route) error {
	if err := v.identify(rt); err != nil {
		return err
	}
	if rt.kind == "" {
		return nil
	}
	if v.actor.Role == "" {
		return account.ErrSignedOut
	}
	if err := v.find(); err != nil {
		return err
	}
	if v.site.ReadOnly && v.r.Method != http.MethodGet && roster.May(v.actor, rt.action, v.resource(rt.kind)) {
		return store.ErrReadOnly
	}
	if v.may(rt.action, rt.kind) {
		return nil
	}
	if v.link.ID != "" {
		return store.ErrNotFound // a link opens its own, and nothing else is there for it
	}
	return errForbidden
}

// identify finds out who asks.
func (v *visit) identify(rt route) error {
	if v.token = v.r.PathValue("token"); v.token != "" {
		l, err := v.site.Desk.Follow(v.ctx(), v.token, v.from())
		if err != nil {
			return err
		}
		first, _, _ := strings.Cut(strings.TrimPrefix(v.r.URL.Path, "/"), "/")
		if linkRoles[first] != l.Role {
			return account.ErrNoLink
		}
		v.link, v.actor, v.who = l, l.Actor(), store.Who{Kind: "link", ID: l.ID}
		v.Store = v.site.DB.By(v.who)
		return nil
	}
	c, err := v.r.Cookie(v.cookieName())
	if err != nil || rt.kind == "" && strings.HasPrefix(v.r.URL.Path, "/static/") {
		return nil
	}
	a, err := v.site.Desk.Who(v.ctx(), c.Value)
	if errors.Is(err, account.ErrSignedOut) {
		return nil
	}
	if err != nil {
		return err
	}
	v.account, v.actor, v.who = a, account.Actor(a), store.Who{Kind: "account", ID: a.ID}
	v.Store = v.site.DB.By(v.who)
	return nil
}

// from is where a request comes from. A host on this machine that encrypts
// for it is believed when it says whom it speaks for.
func (v *visit) from() string {
	host, _, err := net.SplitHostPort(v.r.RemoteAddr)
	if err != nil {
		host = v.r.RemoteAddr
	}
	if via := v.r.Header.Values("X-Forwarded-For"); loopback(host) && len(via) > 0 {
		all := strings.Split(via[len(via)-1], ",")
		return strings.TrimSpace(all[len(all)-1])
	}
	return host
}

// secure tells whether what the browser sends is encrypted: here, or by a
// host on this machine.
func (v *visit) secure() bool {
	host, _, _ := net.SplitHostPort(v.r.RemoteAddr)
	return v.r.TLS != nil || loopback(host) && v.r.Header.Get("X-Forwarded-Proto") == "https"
}

// cookieName is the session's cookie: over TLS it has the prefix that keeps
// any other host from setting it.
func (v *visit) cookieName() string {
	if v.secure() {
		return "__Host-evening"
	}
	return "evening"
}

// find reads the records that the address names.
func (v *visit) find() (err error) {
	ctx, runner, class := v.ctx(), v.r.PathValue("runner"), v.r.PathValue("class")
	if id := v.r.PathValue("check"); id != "" {
		if v.check, err = v.Check(ctx, id); err != nil {
			return err
		}
		runner, class = v.check.RunnerID, v.check.ClassID
	}
	if id := v.r.PathValue("plan"); id != "" {
		if v.plan, err = v.Plan(ctx, id); err != nil {
			return err
		}
		if runner = v.plan.RunnerID; v.plan.CheckID != "" {
			if v.check, err = v.Check(ctx, v.plan.CheckID); err != nil {
				return err
			}
		}
	}
	if id := v.r.PathValue("upload"); id != "" {
		if v.upload, err = v.Upload(ctx, id); err != nil {
			return err
		}
		runner, class = v.upload.RunnerID, v.upload.ClassID
	}
	if id := v.r.PathValue("activity"); id != "" {
		if v.activity, err = v.Activity(ctx, id); err != nil {
			return err
		}
		runner = v.activity.RunnerID
	}
	if v.link.ID != "" {
		if runner == "" {
			runner = v.link.RunnerID
		}
		if class == "" {
			class = v.link.ClassID
		}
	}
	if class != "" {
		v.class, err = v.Class(ctx, class)
		if err != nil && (v.r.PathValue("class") != "" || !errors.Is(err, store.ErrNotFound)) {
			return err // a class that was removed leaves its checks
		}
	}
	if runner == "" {
		return nil
	}
	if v.runner, err = v.Runner(ctx, runner); err != nil {
		return err
	}
	consents, err := v.Consents(ctx, runner)
	if c, ok := roster.Standing(consents, v.site.Now()); ok {
		v.shown = c.Shown
	}
	return err
}

// seeOther sends the browser to another page of this site.
func (v *visit) seeOther(to string) error {
	http.Redirect(v.w, v.r, to, http.StatusSeeOther)
	return nil
}

// local is a path of this site out of a form, or the way home: nothing that
// leads elsewhere.
func local(path string) string {
	u, err := url.Parse(path)
	if err != nil || u.Scheme != "" || u.Host != "" || u.User != nil || !strings.HasPrefix(u.Path, "/") ||
		strings.HasPrefix(path, "//") || strings.ContainsAny(path, "\\\r\n\t") {
		return "/"
	}
	return path
}
