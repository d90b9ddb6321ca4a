package account

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/store/sqlite"
	"plumbstride/internal/store/storetest"
)

const password = "four odd horses sing"

// cheap is a hash that costs next to nothing.
var cheap = Cost{Memory: 8, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32}

type room struct {
	*Desk
	s     *sqlite.Database
	clock *storetest.Clock
	ctx   context.Context
}

func newRoom(t *testing.T) *room {
	t.Helper()
	clock := storetest.NewClock(time.Date(2026, 3, 3, 18, 0, 0, 0, time.UTC))
	s, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "a.db"), clock.Now)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	d, err := New(s, clock.Now, cheap)
	if err != nil {
		t.Fatal(err)
	}
	return &room{d, s, clock, t.Context()}
}

func (r *room) found(t *testing.T) store.Account {
	t.Helper()
	a, err := r.Found(r.ctx, r.Code(), " Kim  Lee ", password, "here")
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestFound(t *testing.T) {
	r := newRoom(t)
	if fresh, err := r.Fresh(r.ctx); !fresh || err != nil {
		t.Errorf("%t, %v", fresh, err)
	}
	if _, err := r.Found(r.ctx, "guess", "kim", password, "there"); form.CodeOf(err) != form.CodeUsage {
		t.Errorf("without the code: %v", err)
	}
	a := r.found(t)
	if a.Name != "kim lee" || a.Role != roster.Coach || strings.Contains(a.Secret, password) || !strings.HasPrefix(a.Secret, "$argon2id$v=19$m=8,t=1,p=1$") {
		t.Errorf("%+v", a)
	}
	if fresh, err := r.Fresh(r.ctx); fresh || err != nil {
		t.Errorf("%t, %v", fresh, err)
	}
	if _, err := r.Found(r.ctx, r.Code(), "eve", password, "here"); form.CodeOf(err) != form.CodeUsage {
		t.Errorf("a second first account: %v", err)
	}
	// Whoever guesses the code must wait.
	var soon *TooSoon
	for i := 0; ; i++ {
		_, err := r.Found(r.ctx, fmt.Sprint(i), "kim", password, "there")
		if errors.As(err, &soon) {
			break
		}
		if i > freeOfAddress {
			t.Fatal("the code may be guessed without end")
		}
	}
}

func TestPasswords(t *testing.T) {
	r := newRoom(t)
	for what, p := range map[string]string{
		"short": "elevenchars", "long": strings.Repeat("abcdefgh", 26), "one letter": strings.Repeat("a", 20), "the name": "kimberlylee1", "two letters": "abababababababab",
	} {
		if _, err := r.Add(r.ctx, r.s, "kimberlylee", p, roster.Helper); form.CodeOf(err) != form.CodeUsage {
			t.Errorf("%s: %v", what, err)
		}
	}
	for _, name := range []string{"", "k", "a\x00b", strings.Repeat("n", 61)} {
		if _, err := r.Add(r.ctx, r.s, name, password, roster.Helper); form.CodeOf(err) != form.CodeUsage {
			t.Errorf("%q: %v", name, err)
		}
	}
	if _, err := r.Add(r.ctx, r.s, "kim", password, roster.Own); form.CodeOf(err) != form.CodeUsage {
		t.Errorf("a link's account: %v", err)
	}
	if _, err := r.Add(r.ctx, r.s, "kim", password, roster.Helper); err != nil {
		t.Error(err)
	}
	if _, err := r.Add(r.ctx, r.s, "KIM", password, roster.Helper); form.CodeOf(err) != form.CodeUsage {
		t.Errorf("the same name: %v", err)
	}
}

func TestSignIn(t *testing.T) {
	r := newRoom(t)
	a := r.found(t)
	token, expires, err := r.SignIn(r.ctx, "KIM LEE", password, "here")
	if err != nil || !expires.Equal(r.clock.Now().Add(sessionFor)) {
		t.Fatal(expires, err)
	}
	if who, err := r.Who(r.ctx, token); err != nil || who.ID != a.ID || Actor(who).Role != roster.Coach {
		t.Errorf("%+v, %v", who, err)
	}
	for _, wrong := range []string{"", "x", Hash(token), token + "a"} {
		if _, err := r.Who(r.ctx, wrong); !errors.Is(err, ErrSignedOut) {
			t.Errorf("%q: %v", wrong, err)
		}
	}
	for _, wrong := range []struct{ name, password string }{{"kim lee", "four odd horses sang"}, {"kim", password}, {"", ""}, {"kim lee", strings.Repeat(password, 50)}} {
		if _, _, err := r.SignIn(r.ctx, wrong.name, wrong.password, "here"); !errors.Is(err, ErrRefused) {
			t.Errorf("%+v: %v", wrong, err)
		}
	}
	if err := r.SignOut(r.ctx, token); err != nil {
		t.Error(err)
	}
	if _, err := r.Who(r.ctx, token); !errors.Is(err, ErrSignedOut) {
		t.Errorf("signed out: %v", err)
	}
	trail, err := r.s.Entries(r.ctx, store.TrailFilter{}, 100)
	if err != nil || trail[0].Action != "sign-out" || trail[0].Who.ID != a.ID {
		t.Errorf("%+v, %v", trail, err)
	}
	did := map[string]int{}
	for _, e := range trail {
		did[e.Action]++
		if e.Action == "refuse" && (e.Who.Kind != "visitor" || e.Subject != "" && e.Subject != a.ID) {
			t.Errorf("%+v", e)
		}
	}
	if did["sign-in"] != 1 || did["refuse"] < 2 {
		t.Errorf("%v", did)
	}
}

func TestSessionsEnd(t *testing.T) {
	r := newRoom(t)
	a := r.found(t)
	signIn := func(p string) string {
		t.Helper()
		token, _, err := r.SignIn(r.ctx, "kim lee", p, "here")
		if err != nil {
			t.Fatal(err)
		}
		return token
	}
	stands := func(token string, want bool) {
		t.Helper()
		if _, err := r.Who(r.ctx, token); (err == nil) != want || err != nil && !errors.Is(err, ErrSignedOut) {
			t.Errorf("stands: %v, want %t", err, want)
		}
	}
	idle := signIn(password)
	r.clock.Move(sessionFor)
	stands(idle, false)
	used := signIn(password)
	for at := time.Duration(0); at+8*time.Hour < longestSession; at += 8 * time.Hour {
		r.clock.Move(8 * time.Hour)
		stands(used, true)
	}
	r.clock.Move(8 * time.Hour)
	stands(used, false) // after thirty days, however much it is used
	before := signIn(password)
	if err := r.ChangePassword(r.ctx, r.s, a.ID, "five odd horses sing"); err != nil {
		t.Fatal(err)
	}
	stands(before, false)
	after := signIn("five odd horses sing")
	a, err := r.s.Account(r.ctx, a.ID)
	if err != nil {
		t.Fatal(err)
	}
	a.Disabled = true
	if _, err := r.s.ChangeAccount(r.ctx, a); err != nil {
		t.Fatal(err)
	}
	stands(after, false)
	if _, _, err := r.SignIn(r.ctx, "kim lee", "five odd horses sing", "here"); !errors.Is(err, ErrRefused) {
		t.Errorf("a disabled account: %v", err)
	}
}

// TestGuessing: however many try at once, a name gets few guesses, and waits
// that grow; the right password then works after the wait.
func TestGuessing(t *testing.T) {
	r := newRoom(t)
	r.found(t)
	var mu sync.Mutex
	guesses := 0
	var all sync.WaitGroup
	for i := range 40 {
		all.Go(func() {
			_, _, err := r.SignIn(r.ctx, "kim lee", fmt.Sprint("a wrong password ", i), fmt.Sprint("address ", i))
			mu.Lock()
			defer mu.Unlock()
			var soon *TooSoon
			switch {
			case errors.Is(err, ErrRefused):
				guesses++
			case !errors.As(err, &soon) || soon.Wait <= 0 || soon.Wait > longestOfName:
				t.Error(err)
			}
		})
	}
	all.Wait()
	if guesses > freeOfName {
		t.Errorf("%d guesses at once", guesses)
	}
	perHour := 0
	for range 3600 {
		r.clock.Move(time.Second)
		if _, _, err := r.SignIn(r.ctx, "kim lee", "still a wrong one", "x"); errors.Is(err, ErrRefused) {
			perHour++
		}
	}
	if perHour > 70 {
		t.Errorf("%d guesses an hour", perHour)
	}
	r.clock.Move(longestOfName)
	if _, _, err := r.SignIn(r.ctx, "kim lee", password, "elsewhere"); err != nil {
		t.Errorf("the coach is locked out: %v", err)
	}
	if _, _, err := r.SignIn(r.ctx, "kim lee", password, "elsewhere"); err != nil {
		t.Errorf("and again: %v", err)
	}
}

func TestTriesStaySmall(t *testing.T) {
	x := newTries()
	now := time.Now()
	for i := range 3 * mostKept {
		x.failed(now, fmt.Sprint(i), fmt.Sprint(i))
	}
	if len(x.seen) > mostKept+2 {
		t.Errorf("%d are remembered", len(x.seen))
	}
}

func TestLinks(t *testing.T) {
	r := newRoom(t)
	a, err := r.s.AddRunner(r.ctx, roster.Runner{Name: "Ada"})
	if err != nil {
		t.Fatal(err)
	}
	token, l, err := NewLink(r.ctx, r.s, store.Link{Role: roster.Own, RunnerID: a.ID, Expires: r.clock.Now().Add(time.Hour)})
	if err != nil || len(token) < 26 || strings.Contains(fmt.Sprintf("%+v", l), token) {
		t.Fatal(token, l, err)
	}
	got, err := r.Follow(r.ctx, token, "phone")
	if err != nil || got.ID != l.ID {
		t.Errorf("%+v, %v", got, err)
	}
	if _, err := r.Follow(r.ctx, l.Hash, "phone"); !errors.Is(err, ErrNoLink) {
		t.Errorf("the hash opens: %v", err)
	}
	r.clock.Move(time.Hour)
	if _, err := r.Follow(r.ctx, token, "phone"); !errors.Is(err, ErrNoLink) {
		t.Errorf("expired: %v", err)
	}
	token, l, err = NewLink(r.ctx, r.s, store.Link{Role: roster.Own, RunnerID: a.ID, Expires: r.clock.Now().Add(time.Hour)})
	if err != nil {
		t.Fatal(err)
	}
	if err := r.s.RevokeLink(r.ctx, l.ID); err != nil {
		t.Fatal(err)
	}
	if _, err := r.Follow(r.ctx, token, "phone"); !errors.Is(err, ErrNoLink) {
		t.Errorf("revoked: %v", err)
	}
	var soon *TooSoon
	for i := 0; ; i++ {
		if _, err := r.Follow(r.ctx, fmt.Sprint(i), "guesser"); errors.As(err, &soon) {
			break
		}
		if i > freeOfAddress {
			t.Fatal("tokens may be guessed without end")
		}
	}
}

func BenchmarkSignIn(b *testing.B) {
	s, err := sqlite.Open(b.Context(), filepath.Join(b.TempDir(), "a.db"), time.Now)
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	d, err := New(s, time.Now, DefaultCost())
	if err != nil {
		b.Fatal(err)
	}
	if _, err := d.Found(b.Context(), d.Code(), "kim", password, "here"); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, _, err := d.SignIn(b.Context(), "kim", password, "here"); err != nil {
			b.Fatal(err)
		}
	}
}
