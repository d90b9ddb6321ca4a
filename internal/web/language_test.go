package web

import (
	"net/http"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"plumbstride/internal/roster"
	"plumbstride/internal/words"
)

// speaks asks as a browser that wants a language.
func (b *browser) speaks(path, accept string) answer {
	b.t.Helper()
	q := b.request("GET", path, "", nil)
	q.Header.Set("Accept-Language", accept)
	return b.do(q)
}

// A page speaks the language that its reader chose, else the shop's to staff,
// else the browser's, else English.
func TestWhoseLanguage(t *testing.T) {
	r := newRoom(t, nil)
	ada := r.things(t, "Ada")
	coach, runner := r.signedIn(t, "nora", roster.Coach), r.browser(t)
	site := r.http.Config.Handler.(*Site)
	door := "/door/" + ada.door
	runner.speaks(door, "de-CH, en;q=0.5").want(t, 200, `<html lang="de">`, "Melde dich für heute an")
	runner.speaks(door, "fr").want(t, 200, `<html lang="en">`)
	coach.speaks("/people", "es-MX").want(t, 200, `<html lang="es">`)
	site.Language = words.German
	coach.speaks("/people", "es-MX").want(t, 200, `<html lang="de">`)
	runner.speaks(door, "es").want(t, 200, `<html lang="es">`)
	runner.speaks(door, "fr").want(t, 200, `<html lang="de">`)
	// An explicit choice is kept, and leads back to where it was made.
	if got := runner.post("/language", "language", "en", "back", door); got.status != http.StatusSeeOther || got.to != door {
		t.Errorf("%d, to %q", got.status, got.to)
	}
	runner.speaks(door, "es").want(t, 200, `<html lang="en">`)
	if got := runner.post("/language", "language", "es", "back", "https://elsewhere.example/"); got.to != "/" {
		t.Errorf("sent away to %q", got.to)
	}
	if got := runner.post("/language", "language", "xx", "back", "/"); got.status != http.StatusUnprocessableEntity {
		t.Errorf("an unknown language: %d", got.status)
	}
	coach.post("/runner/"+ada.runner.ID+"/notes", "text", "").want(t, http.StatusUnprocessableEntity, `<html lang="de">`)
}

// What is said with markup in it is escaped but for the markup.
func TestSayWithMarkup(t *testing.T) {
	r := newRoom(t, nil)
	class := r.class(t)
	person := r.person(t, "Ann <b> & Co", class, roster.Audience{})
	coach := r.signedIn(t, "nora", roster.Coach)
	coach.get("/runner/"+person.ID+"/consent").want(t, 200, "Consent of <bdi>Ann &lt;b&gt; &amp; Co</bdi>", "All clips and pictures of Ann &lt;b&gt; &amp; Co are deleted")
}

// english finds words that no Spanish or German sentence has.
var english = regexp.MustCompile(`(?i)\b(the|of|with|your|are|from|when|this|steps|runner|which|its|seen|measured|practise|again|week|and|to|not|is|for|back|add|make)\b`)

// notRead is what stands on a page and is not read as the page's words:
// scripts, addresses, what somebody typed, and cards, plans and comparisons, which have
// tests of their own.
var (
	notRead  = regexp.MustCompile(`(?s)<script type="application/json".*?</script>|<article class="form-(?:card|plan|compare)">.*</article>|seen in the room|history of Zoe|contact of Zoe|<style.*?</style>|<code>.*?</code>|<!doctype html>|\[[^\]]*\]|doi \S+|PMC\d+`)
	readTags = regexp.MustCompile(`(?:aria-label|alt|title|placeholder)="([^"]*)"`)
	anyTag   = regexp.MustCompile(`(?s)<[^>]*>`)
)

// readable gives the words of a page.
func readable(page string) string {
	page = notRead.ReplaceAllString(page, "")
	var out strings.Builder
	for _, m := range readTags.FindAllStringSubmatch(page, -1) {
		out.WriteString(m[1] + "\n")
	}
	out.WriteString(anyTag.ReplaceAllString(page, "\n"))
	return out.String()
}

// Every page, in Spanish and German, as everybody who may see it: no English
// is left on it.
func TestEveryPageIsTranslated(t *testing.T) {
	r := newRoom(t, nil)
	ada := r.things(t, "Zoe")
	nobody := r.browser(t)
	nobody.get("/begin")
	coach := r.signedIn(t, "nora", roster.Coach)
	site := r.http.Config.Handler.(*Site)
	pages := 0
	for _, l := range words.Languages()[1:] {
		for _, rt := range site.routes() {
			method, pattern, _ := strings.Cut(rt.pattern, " ")
			if method != "GET" || strings.HasSuffix(pattern, "news") || strings.Contains(pattern, "{file}") || strings.Contains(pattern, "{picture}") ||
				strings.Contains(pattern, "{upload}") || pattern == "/{$}" {
				continue
			}
			b, token := coach, ""
			for first, own := range map[string]string{"/my/": ada.own, "/invited/": ada.invited, "/door/": ada.door, "/stop/": ada.stop} {
				if strings.HasPrefix(pattern, first) {
					b, token = nobody, own
				}
			}
			for _, released := range []bool{true, false} {
				path := ada.path(pattern, token, released)
				got := b.speaks(path, string(l))
				if got.status == http.StatusSeeOther || got.status == http.StatusNotFound && (!released || strings.HasSuffix(pattern, "/stride") || strings.Contains(pattern, "/compare")) {
					continue
				}
				if got.status != http.StatusOK {
					t.Fatalf("%s: %d", path, got.status)
				}
				if !strings.HasPrefix(got.head.Get("Content-Type"), "text/html") {
					continue // a sheet, a calendar, data
				}
				pages++
				if !strings.Contains(got.body, `<html lang="`+string(l)+`">`) {
					t.Errorf("%s: %s: the page says another language", l, rt.pattern)
				}
				for line := range strings.Lines(readable(got.body)) {
					if word := english.FindString(line); word != "" {
						t.Errorf("%s: %s: %q in %q", l, rt.pattern, word, strings.TrimSpace(line))
					}
				}
			}
		}
	}
	if pages < 40 {
		t.Errorf("only %d pages were looked at", pages)
	}
}

// What scripts can say stands in the page in its language, and nowhere where
// it is English.
func TestScriptsSay(t *testing.T) {
	r := newRoom(t, nil)
	ada := r.things(t, "Ada")
	own := "/my/" + ada.own
	r.browser(t).speaks(own, "de").want(t, 200, `data-say="`, "&#34;Pause&#34;:&#34;Pause&#34;", "Schritte abspielen")
	if got := r.browser(t).speaks(own, "en"); strings.Contains(got.body, "data-say") {
		t.Error("an English page carries a translation")
	}
	for _, name := range []string{"beat-page.js", "match.js", "upload.js", "stride.js"} {
		b, err := words.In(words.Spanish)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(string(module(b, name)), "data-say") {
			t.Errorf("%s says nothing", name)
		}
	}
}

// action is one of a template's actions, with the words in its strings.
var (
	action  = regexp.MustCompile(`(?s)\{\{.*?\}\}`)
	unit    = regexp.MustCompile(`^(?:[^\pL]*(?:cm|kg|km/h|m|s|JSON|CSV|PDF|Plumbstride)?[^\pL]*)$`)
	tagWord = regexp.MustCompile(`(?:aria-label|alt|title|placeholder)="([^"{]*\pL[^"]*)"`)
)

// No template holds words that don't go through say.
func TestTemplatesSayTheirWords(t *testing.T) {
	entries, err := viewFiles.ReadDir("view")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		text, err := viewFiles.ReadFile("view/" + e.Name())
		if err != nil {
			t.Fatal(err)
		}
		bare := action.ReplaceAllString(string(text), "")
		for _, m := range tagWord.FindAllStringSubmatch(bare, -1) {
			t.Errorf("%s: %q is not said", e.Name(), m[1])
		}
		for _, words := range strings.Split(anyTag.ReplaceAllString(notRead.ReplaceAllString(bare, ""), "\n"), "\n") {
			if !unit.MatchString(words) {
				t.Errorf("%s: %q is not said", e.Name(), strings.TrimSpace(words))
			}
		}
	}
}

// On a narrow phone no page sticks out in a language of longer words, and the
// choice at its foot changes it without a script of ours.
func TestLanguagesInABrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("a browser takes a while")
	}
	r := newRoom(t, nil)
	ada := r.things(t, "Zoe")
	r.signedIn(t, "nora", roster.Coach)
	for l, button := range map[words.Language]string{words.Spanish: "Español", words.German: "Deutsch"} {
		w := r.open(t, "language-"+string(l), 360, 760, false)
		w.do(t, chromedp.Navigate(r.http.URL+"/sign-in"), chromedp.WaitReady(chromedp.CSS("main")),
			chromedp.Click(chromedp.CSS(`footer button[value="`+string(l)+`"]`)), chromedp.WaitReady(chromedp.CSS(`html[lang="`+string(l)+`"]`)))
		name, err := chromedp.Run(w.ctx, chromedp.Evaluate[string](`document.querySelector('footer [aria-current]').textContent`))
		if err != nil || name != button {
			t.Errorf("%s: %q is chosen: %v", l, name, err)
		}
		w.look(t, "sign-in")
		w.do(t, chromedp.SendKeys(chromedp.CSS("input[name=name]"), "nora"), chromedp.SendKeys(chromedp.CSS("input[name=password]"), password),
			chromedp.Click(chromedp.CSS("main button")), chromedp.WaitReady(chromedp.CSS("header.top")))
		class, runner, check, plan := "/class/"+ada.class.ID, "/runner/"+ada.runner.ID, "/check/"+ada.released.ID, "/plan/"+ada.releasedPlan.ID
		for _, page := range []struct{ name, path string }{
			{"class", class}, {"board", class + "/board"}, {"clips", class + "/clips"}, {"film", class + runner + "/film"}, {"class-edit", class + "/edit"},
			{"runner", runner}, {"runner-edit", runner + "/edit"}, {"consent", runner + "/consent"}, {"check", check}, {"plan", plan},
			{"classes", "/classes"}, {"accounts", "/accounts"}, {"password", "/password"}, {"trail", "/trail"}, {"follow-up", "/follow-up"}, {"message", runner + "/message"}, {"stop", "/stop/" + ada.stop},
			{"door", "/door/" + ada.door}, {"invited", "/invited/" + ada.invited}, {"my", "/my/" + ada.own},
		} {
			w.do(t, chromedp.Navigate(r.http.URL+page.path), chromedp.WaitReady(chromedp.CSS(`html[lang="`+string(l)+`"] main`)))
			w.look(t, page.name)
		}
	}
}
