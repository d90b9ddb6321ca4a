package web

import (
	"net/http"
	"strings"
	"testing"

	"plumbstride/internal/roster"
)

// TestFirstStart: the first page asks for the first account, which needs the
// code; then the shop is closed to everybody else, and open to the coach.
func TestFirstStart(t *testing.T) {
	r := newRoom(t, nil)
	b := r.browser(t)
	if got := b.get("/"); got.to != "/begin" {
		t.Fatalf("the first page leads to %q", got.to)
	}
	if got := b.get("/sign-in"); got.to != "/begin" {
		t.Errorf("signing in leads to %q", got.to)
	}
	wrong := b.post("/begin", "code", "guess", "name", "Nora", "password", password, "again", password)
	if wrong.status != http.StatusUnprocessableEntity || !strings.Contains(wrong.body, `value="Nora"`) || strings.Contains(wrong.body, password) {
		t.Errorf("a wrong code: %d %s", wrong.status, wrong.body)
	}
	if got := b.post("/begin", "code", r.desk.Code(), "name", "Nora", "password", password, "again", "another long one"); got.status != http.StatusUnprocessableEntity {
		t.Errorf("two passwords: %d", got.status)
	}
	if got := b.post("/begin", "code", r.desk.Code(), "name", "Nora", "password", password, "again", password); got.to != "/" {
		t.Fatalf("founding: %d %s", got.status, got.body)
	}
	if got := b.get("/"); got.to != "/classes" {
		t.Errorf("the coach is led to %q", got.to)
	}
	other := r.browser(t)
	if got := other.get("/begin"); got.to != "/sign-in" {
		t.Errorf("a second coach is founded at %q", got.to)
	}
	if got := other.post("/begin", "code", r.desk.Code(), "name", "Eve", "password", password, "again", password); got.status != http.StatusUnprocessableEntity {
		t.Errorf("a second founding: %d", got.status)
	}
	if got := other.get("/classes"); got.to != "/sign-in?next=%2Fclasses" {
		t.Errorf("a stranger is led to %q", got.to)
	}
}

// TestSignIn: cookies, wrong passwords, waiting, and leaving.
func TestSignIn(t *testing.T) {
	r := newRoom(t, nil)
	b := r.signedIn(t, "nora", roster.Coach)
	got := b.post("/sign-in", "name", "nora", "password", password, "next", "/classes?a=b")
	if got.to != "/classes?a=b" {
		t.Errorf("led to %q", got.to)
	}
	cookie := got.head.Get("Set-Cookie")
	for _, want := range []string{"__Host-evening=", "HttpOnly", "Secure", "SameSite=Lax", "Path=/"} {
		if !strings.Contains(cookie, want) {
			t.Errorf("the cookie %q lacks %s", cookie, want)
		}
	}
	for _, next := range []string{"https://elsewhere.example/", "//elsewhere.example", `/\elsewhere.example`, "javascript:alert(1)", "classes", "/\t/elsewhere.example"} {
		if got := b.post("/sign-in", "name", "nora", "password", password, "next", next); got.to != "/" {
			t.Errorf("next=%q leads to %q", next, got.to)
		}
	}
	if got := b.post("/sign-out"); got.to != "/sign-in" {
		t.Errorf("leaving leads to %q", got.to)
	}
	if got := b.get("/classes"); got.status != http.StatusSeeOther {
		t.Errorf("still signed in: %d", got.status)
	}
	var last answer
	for range 8 {
		last = b.post("/sign-in", "name", "nora", "password", "not this one at all")
	}
	if last.status != http.StatusTooManyRequests || !strings.Contains(last.body, "wait") {
		t.Errorf("the eighth wrong password: %d", last.status)
	}
}

// TestOtherSites: a form on another site changes nothing here.
func TestOtherSites(t *testing.T) {
	r := newRoom(t, nil)
	b := r.signedIn(t, "nora", roster.Coach)
	for name, head := range map[string][2]string{"fetch metadata": {"Sec-Fetch-Site", "cross-site"}, "origin": {"Origin", "https://elsewhere.example"}} {
		q := b.request("POST", "/classes", "application/x-www-form-urlencoded", strings.NewReader("date=2026-03-02"))
		q.Header.Del("Sec-Fetch-Site")
		q.Header.Set(head[0], head[1])
		if got := b.do(q); got.status != http.StatusForbidden {
			t.Errorf("%s: %d", name, got.status)
		}
	}
	if all, err := r.db.Classes(t.Context()); err != nil || len(all) != 0 {
		t.Errorf("%d classes were made from elsewhere", len(all))
	}
}

// TestHeaders: what every answer says to the browser, and that nothing else
// may be fetched.
func TestHeaders(t *testing.T) {
	r := newRoom(t, nil)
	r.signedIn(t, "nora", roster.Coach)
	b := r.browser(t)
	for _, path := range []string{"/sign-in", "/static/site.css", "/nothing", "/static/../site.go"} {
		h := b.get(path).head
		if !strings.Contains(h.Get("Content-Security-Policy"), "default-src 'none'") || strings.Contains(h.Get("Content-Security-Policy"), "unsafe") {
			t.Errorf("%s: policy %q", path, h.Get("Content-Security-Policy"))
		}
		if h.Get("X-Content-Type-Options") != "nosniff" || h.Get("Referrer-Policy") != "same-origin" {
			t.Errorf("%s: %v", path, h)
		}
	}
	if got := b.get("/nothing"); got.status != http.StatusNotFound || !strings.Contains(got.body, "no such page") {
		t.Errorf("no page: %d", got.status)
	}
}

// TestPassword: one's own password is changed with the old one, and every
// other browser is signed out.
func TestPassword(t *testing.T) {
	r := newRoom(t, nil)
	b := r.signedIn(t, "hugo", roster.Helper)
	other := r.browser(t)
	other.post("/sign-in", "name", "hugo", "password", password)
	const next = "eight louder plumb lines"
	b.post("/password", "old", "not this one", "password", next, "again", next).want(t, 422)
	b.post("/password", "old", password, "password", next, "again", next+"x").want(t, 422, "not the same")
	b.post("/password", "old", password, "password", next, "again", next).want(t, 303)
	b.get("/classes").want(t, 200)
	if got := other.get("/classes"); !strings.HasPrefix(got.to, "/sign-in") {
		t.Errorf("another browser is still signed in: %d", got.status)
	}
	r.browser(t).post("/sign-in", "name", "hugo", "password", password).want(t, 422)
}
