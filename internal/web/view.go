package web

import (
	"bytes"
	"compress/gzip"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"path"
	"regexp"
	"strings"

	"plumbstride/internal/account"
	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/words"
)

//go:embed view/*.html
var viewFiles embed.FS

// views are the pages' templates, by language and name.
type views map[words.Language]map[string]*template.Template

// readViews reads all templates; each page is put into the layout, in each
// language.
func readViews(books map[words.Language]words.Book) views {
	layout := template.Must(template.New("layout").Option("missingkey=zero").Funcs(helpers(words.Book{})).ParseFS(viewFiles, "view/layout.html", "view/parts.html"))
	entries, err := viewFiles.ReadDir("view")
	if err != nil {
		panic("web: " + err.Error())
	}
	out := views{}
	for l := range books {
		out[l] = map[string]*template.Template{}
	}
	for _, e := range entries {
		name := strings.TrimSuffix(e.Name(), ".html")
		if name == "layout" || name == "parts" {
			continue
		}
		page := template.Must(template.Must(layout.Clone()).ParseFS(viewFiles, path.Join("view", e.Name())))
		for l, b := range books {
			out[l][name] = template.Must(page.Clone()).Funcs(helpers(b))
		}
	}
	return out
}

// shell is what stands around a page.
type shell struct {
	Title   string
	Account store.Account
	Coach   bool
	// Plain: the page came without TLS, from another machine.
	Plain bool
	// ReadOnly: nothing can be changed.
	ReadOnly bool
	Shop     string
	// Problem is said at the top, first of all.
	Problem string
	// At is the place in the navigation.
	At   string
	Data any
	// Language is the page's; Languages are offered where the page can be
	// asked for again, at Here.
	Language  words.Language
	Languages []languageChoice
	Here      string
}

// show answers with a page.
func (v *visit) show(view, title string, data any) error {
	return v.showAs(http.StatusOK, view, title, "", data)
}

// again shows a form once more, with what is wrong with it and everything
// that was filled in. An error that isn't about what somebody wrote is given
// back.
func (v *visit) again(problem error, view, title string, data any) error {
	status := http.StatusUnprocessableEntity
	if _, ok := errors.AsType[*account.TooSoon](problem); ok {
		status = http.StatusTooManyRequests
		problem = form.UsageError("%w", problem)
	}
	switch {
	case errors.Is(problem, account.ErrRefused):
		problem = form.UsageError("%w", problem)
	case errors.Is(problem, store.ErrConflict):
		status = http.StatusConflict
		problem = form.UsageError("Somebody else changed this meanwhile. What you wrote still stands below; look at both, then send it again.")
	}
	if form.CodeOf(problem) == "" {
		return problem
	}
	return v.showAs(status, view, title, v.words.Of(sentence(problem)), data)
}

// sentence is an error as a sentence of its own.
func sentence(err error) string {
	text := card.Capital(strings.TrimSpace(err.Error()))
	if text != "" && !strings.ContainsAny(text[len(text)-1:], ".!?") {
		text += "."
	}
	return text
}

func (v *visit) showAs(status int, view, title, problem string, data any) error {
	s := shell{
		Title: title, Account: v.account, Coach: v.account.Role == roster.Coach, Shop: v.site.Shop.Name, Problem: problem, ReadOnly: v.site.ReadOnly,
		Plain: !v.secure() && !loopback(v.from()), At: strings.Split(strings.TrimPrefix(v.r.URL.Path, "/"), "/")[0], Data: data,
		Language: v.words.Language(),
	}
	if v.r.Method == http.MethodGet {
		s.Languages, s.Here = languageChoices(s.Language), v.r.URL.RequestURI()
	}
	var b bytes.Buffer
	if err := v.site.views[v.words.Language()][view].ExecuteTemplate(&b, "layout", s); err != nil {
		return fmt.Errorf("the page %s: %w", view, err)
	}
	if v.site.ReadOnly {
		b = *bytes.NewBuffer(still(b.Bytes()))
	}
	h := v.w.Header()
	h.Set("Content-Type", "text/html; charset=utf-8")
	h.Set("Vary", "Accept-Encoding, Accept-Language, Cookie")
	h.Set("Content-Language", string(s.Language))
	if !strings.Contains(v.r.Header.Get("Accept-Encoding"), "gzip") {
		v.w.WriteHeader(status)
		_, err := b.WriteTo(v.w)
		return gone(err)
	}
	// Nothing secret stands on a page beside what a stranger could put there:
	// the cookie never does, and links are shown on a page of their own.
	h.Set("Content-Encoding", "gzip")
	v.w.WriteHeader(status)
	z := gzip.NewWriter(v.w)
	if _, err := b.WriteTo(z); err != nil {
		return gone(err)
	}
	return gone(z.Close())
}

// changing is how a form begins that changes something.
var changing = regexp.MustCompile(`<form [^>]*method="post"[^>]*>`)

// still takes the forms of a page out of use that change something, but for
// those of coming in and going out.
func still(page []byte) []byte {
	return changing.ReplaceAllFunc(page, func(tag []byte) []byte {
		if bytes.Contains(tag, []byte(`action="/sign-`)) || bytes.Contains(tag, []byte(`action="/language"`)) {
			return tag
		}
		return append([]byte("<form inert"), tag[len("<form"):]...)
	})
}

// part fills one named part of a view, for a page that is open already.
func (v *visit) part(view, name string, data any) (string, error) {
	var b bytes.Buffer
	if err := v.site.views[v.words.Language()][view].ExecuteTemplate(&b, name, data); err != nil {
		return "", fmt.Errorf("the part %s of page %s: %w", name, view, err)
	}
	return b.String(), nil
}

// file answers with a file to be shown or kept.
func (v *visit) file(kind, name string, content []byte) error {
	v.w.Header().Set("Content-Type", kind)
	v.w.Header().Set("Content-Disposition", fmt.Sprintf("inline; filename=%q", name))
	_, err := v.w.Write(content)
	return gone(err)
}

// json answers a script.
func (v *visit) json(status int, value any) error {
	v.w.Header().Set("Content-Type", "application/json")
	v.w.WriteHeader(status)
	return gone(json.NewEncoder(v.w).Encode(value))
}

// errGone: nobody reads the answer any more.
var errGone = errors.New("the browser has gone")

func gone(err error) error {
	if err != nil {
		return fmt.Errorf("%w: %w", errGone, err)
	}
	return nil
}

// trouble is what a page about an error says.
type trouble struct {
	Sentence string
	Back     string
}

// fail answers a request that came to nothing.
func (s *Site) fail(v *visit, err error) {
	if errors.Is(err, errGone) || v.r.Context().Err() != nil {
		return
	}
	b := v.words
	status, title, text := http.StatusInternalServerError, b.Say("This did not work"), b.Say("Something went wrong here. Nothing that was saved before is lost. Try again; if it comes back, look at the window in which plumbstride runs.")
	switch code := form.CodeOf(err); {
	case errors.Is(err, account.ErrSignedOut):
		if v.r.Method == http.MethodGet && !wantsJSON(v.r) {
			http.Redirect(v.w, v.r, "/sign-in?next="+template.URLQueryEscaper(v.r.URL.RequestURI()), http.StatusSeeOther)
			return
		}
		status, title, text = http.StatusUnauthorized, b.Say("Sign in first"), b.Say("Nobody is signed in here any more. Sign in on another page, then come back to this one and send it again.")
	case errors.Is(err, errForbidden):
		status, title, text = http.StatusForbidden, b.Say("Not with this account"), b.Of(sentence(err))
	case errors.Is(err, account.ErrNoLink):
		status, title, text = http.StatusNotFound, b.Say("This link is over"), b.Of(sentence(err))
	case errors.Is(err, store.ErrReadOnly):
		status, title, text = http.StatusForbidden, b.Say("Open for reading alone"), b.Say("These records are open for reading alone: nothing can be changed here now, and nothing was.")
	case errors.Is(err, store.ErrNotFound):
		status, title, text = http.StatusNotFound, b.Say("Nothing is here"), b.Say("There is no such page, or what was here has been deleted.")
	case errors.Is(err, store.ErrConflict):
		status, title, text = http.StatusConflict, b.Say("Somebody was faster"), b.Say("Somebody else changed this meanwhile. Nothing was overwritten: go back, look at it again, then decide.")
	case code != "":
		status, title, text = http.StatusUnprocessableEntity, b.Say("This did not work yet"), b.Of(sentence(err))
	default:
		if wait, ok := errors.AsType[*account.TooSoon](err); ok {
			status, title, text = http.StatusTooManyRequests, b.Say("Wait a moment"), b.Of(sentence(wait))
			break
		}
		s.log.Printf("%s %s: %v", v.r.Method, v.r.Pattern, err)
	}
	if wantsJSON(v.r) {
		_ = v.json(status, map[string]string{"error": text})
		return
	}
	if v.w.Header().Get("Content-Type") != "" {
		return // part of an answer is on its way
	}
	if err := v.showAs(status, "trouble", title, "", trouble{Sentence: text}); err != nil && !errors.Is(err, errGone) {
		s.log.Printf("the page about an error: %v", err)
	}
}

// wantsJSON tells a script's request.
func wantsJSON(r *http.Request) bool { return r.Header.Get("Accept") == "application/json" }
