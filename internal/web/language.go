package web

import (
	"encoding/json"
	"fmt"
	"html/template"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"time"

	"plumbstride/internal/card"
	"plumbstride/internal/plan"
	"plumbstride/internal/words"
)

// languageCookie holds the language that a visitor chose.
const languageCookie = "language"

// languageOf is the language of the pages for a visitor: what they chose
// before, else the shop's own for staff, else the browser's.
func (s *Site) languageOf(r *http.Request) words.Language {
	if c, err := r.Cookie(languageCookie); err == nil && slices.Contains(words.Languages(), words.Language(c.Value)) {
		return words.Language(c.Value)
	}
	first, _, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
	if s.Language != "" && linkRoles[first] == "" {
		return s.Language
	}
	return words.Preferred(r.Header.Get("Accept-Language"), s.Language)
}

// chooseLanguage keeps the language that a visitor chose, and goes back to
// the page where they chose it.
func (v *visit) chooseLanguage() error {
	l := words.Language(v.field("language", 10))
	if _, err := words.In(l); err != nil {
		return err
	}
	http.SetCookie(v.w, &http.Cookie{
		Name: languageCookie, Value: string(l), Path: "/", MaxAge: int((365 * 24 * time.Hour).Seconds()), HttpOnly: true,
		Secure: v.secure(), SameSite: http.SameSiteLaxMode,
	})
	return v.seeOther(local(v.field("back", 2000)))
}

// languageChoice is one language at the foot of a page, by its own name.
type languageChoice struct {
	Tag   words.Language
	Name  string
	Shown bool
}

func languageChoices(shown words.Language) []languageChoice {
	names := map[words.Language]string{words.English: "English", words.Spanish: "Español", words.German: "Deutsch"}
	var out []languageChoice
	for _, l := range words.Languages() {
		out = append(out, languageChoice{l, names[l], l == shown})
	}
	return out
}

// helpers are what templates write with, in the language of a book.
func helpers(b words.Book) template.FuncMap {
	return template.FuncMap{
		"say":     func(message string, args ...any) any { return say(b, message, args...) },
		"of":      b.Of,
		"capital": card.Capital,
		"date":    func(d plan.Date) string { return b.Weekday(d.Time()) },
		"day":     b.Date,
		"moment":  func(t time.Time) string { return b.Moment(t.Local()) },
		"cm":      func(metres float64) float64 { return 100 * metres },
		"bdi": func(text string) template.HTML {
			return template.HTML("<bdi>" + template.HTMLEscapeString(text) + "</bdi>")
		},
		"bold": func(text any) template.HTML { return template.HTML("<b>" + markup(text) + "</b>") },
		"unseen": func(text any) template.HTML {
			return template.HTML(`<span class="unseen">` + markup(text) + "</span>")
		},
		"code": func(text string) template.HTML {
			return template.HTML("<code>" + template.HTMLEscapeString(text) + "</code>")
		},
		"module": func(name string) template.HTML { return module(b, name) },
	}
}

// markup is a text as HTML, if it isn't already.
func markup(text any) string {
	if h, ok := text.(template.HTML); ok {
		return string(h)
	}
	return template.HTMLEscapeString(fmt.Sprint(text))
}

// say fills arguments into a message in the book's language. Where one of
// them is HTML, so is the whole, and all else in it is escaped.
func say(b words.Book, message string, args ...any) any {
	filled, kept := slices.Clone(args), []string{}
	for i, a := range filled {
		if h, ok := a.(template.HTML); ok {
			filled[i] = fmt.Sprintf("\x01%d\x02", len(kept))
			kept = append(kept, filled[i].(string), string(h))
		}
	}
	text := b.Say(message, filled...)
	if len(kept) == 0 {
		return text
	}
	return template.HTML(strings.NewReplacer(kept...).Replace(template.HTMLEscapeString(text)))
}

// scriptSays is a message in a script, and scriptImport a script that it
// uses.
var (
	scriptSays   = regexp.MustCompile(`\bsay\((?:'([^'\\]*)'|"([^"\\]*)")`)
	scriptImport = regexp.MustCompile(`from ['"]\./([a-z-]+\.js)['"]`)
)

// module is the element that runs a script, with all that it and what it
// imports can say, in the book's language.
func module(b words.Book, name string) template.HTML {
	said := map[string]string{}
	gather(b, name, said)
	element := `<script type="module" src="/static/` + name + `"`
	if len(said) > 0 && b.Language() != words.English {
		object, err := json.Marshal(said)
		if err != nil {
			panic("web: " + err.Error())
		}
		element += ` data-say="` + template.HTMLEscapeString(string(object)) + `"`
	}
	return template.HTML(element + "></script>")
}

func gather(b words.Book, name string, said map[string]string) {
	source, err := staticFiles.ReadFile("static/" + name)
	if err != nil {
		return // made elsewhere, and says nothing
	}
	for _, m := range scriptSays.FindAllStringSubmatch(string(source), -1) {
		message := m[1] + m[2]
		said[message] = b.Of(message)
	}
	for _, m := range scriptImport.FindAllStringSubmatch(string(source), -1) {
		gather(b, m[1], said)
	}
}
