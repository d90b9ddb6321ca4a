// Package account takes names, passwords and tokens from the pages and gives
// the account, session or link behind them, or a reason to wait. Passwords
// are kept as argon2id hashes, tokens as SHA-256; neither is ever written
// down as it is.
package account

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/alexedwards/argon2id"
	"golang.org/x/text/unicode/norm"

	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// What a desk says besides form.Errors. Compare with errors.Is.
var (
	// ErrRefused: the name or the password is wrong; which, nobody is told.
	ErrRefused = errors.New("the name or the password is wrong")
	// ErrSignedOut: there is no such session, or no more.
	ErrSignedOut = errors.New("nobody is signed in")
	// ErrNoLink: there is no such link, or it is over.
	ErrNoLink = errors.New("this link opens nothing, or no more; ask your coach for a new one")
)

// TooSoon asks to wait before the next try.
type TooSoon struct{ Wait time.Duration }

// Error says how long.
func (e *TooSoon) Error() string {
	return fmt.Sprintf("too many tries; wait %d s", int(e.Wait.Round(time.Second)/time.Second)+1)
}

// The lengths of a password, in characters (common practice, no source).
const (
	MinPassword = 12
	maxPassword = 200
)

// The times of a session. A session in use is prolonged, up to its longest.
const (
	sessionFor     = 12 * time.Hour
	longestSession = 30 * 24 * time.Hour
)

// Cost is what a hash of a password costs.
type Cost = argon2id.Params

// DefaultCost is the second recommended option of RFC 9106, section 4: 64 MiB
// of memory, three passes, four lanes.
func DefaultCost() Cost {
	return Cost{Memory: 64 << 10, Iterations: 3, Parallelism: 4, SaltLength: 16, KeyLength: 32}
}

// hashing is how many passwords are hashed at once: each takes the memory of
// its Cost.
const hashing = 2

// Desk is where people sign in.
type Desk struct {
	s     store.Store
	now   func() time.Time
	cost  Cost
	tries *tries
	// busy holds a token for each hash in work.
	busy chan struct{}
	// nobody is the hash that is compared with where a name isn't there.
	nobody string
	code   string
}

// New gives a desk over a store.
func New(s store.Store, now func() time.Time, cost Cost) (*Desk, error) {
	nobody, err := argon2id.CreateHash(rand.Text(), &cost)
	if err != nil {
		return nil, fmt.Errorf("hashing a password: %w", err)
	}
	return &Desk{s: s, now: now, cost: cost, tries: newTries(), busy: make(chan struct{}, hashing), nobody: nobody, code: strings.ToLower(rand.Text()[:10])}, nil
}

// Code is what the first account must be founded with: show it to whoever
// started the program, on the machine itself, so that nobody else in the
// room is faster.
func (d *Desk) Code() string { return d.code }

// Fresh tells whether there is no account yet.
func (d *Desk) Fresh(ctx context.Context) (bool, error) {
	all, err := d.s.Accounts(ctx)
	return len(all) == 0, err
}

// Found makes the first account, a coach's. from is the sender's address.
func (d *Desk) Found(ctx context.Context, code, name, password, from string) (a store.Account, err error) {
	if err := d.tries.begin(d.now(), from, ""); err != nil {
		return a, err
	}
	if subtle.ConstantTimeCompare([]byte(strings.ToLower(strings.TrimSpace(code))), []byte(d.code)) != 1 {
		return a, form.UsageError("the code is not the one that stands where plumbstride was started; look there")
	}
	a, err = d.prepare(ctx, name, password, roster.Coach)
	if err != nil {
		return a, err
	}
	err = d.s.Within(ctx, func(s store.Store) error {
		all, err := s.Accounts(ctx)
		if err != nil {
			return err
		}
		if len(all) > 0 {
			return form.UsageError("there is an account already; sign in with it")
		}
		a, err = s.AddAccount(ctx, a)
		return err
	})
	return a, err
}

// Add makes a further account. Pass the store's By of whoever asks for it.
func (d *Desk) Add(ctx context.Context, by store.Accounts, name, password string, role roster.Role) (store.Account, error) {
	a, err := d.prepare(ctx, name, password, role)
	if err != nil {
		return a, err
	}
	a, err = by.AddAccount(ctx, a)
	if errors.Is(err, store.ErrTaken) {
		err = form.UsageError("somebody signs in as %s already; choose another name", a.Name)
	}
	return a, err
}

// ChangePassword gives an account another password and ends its sessions.
// Of one's own account, ask for the old one first, with Check.
func (d *Desk) ChangePassword(ctx context.Context, by store.Accounts, id, password string) error {
	a, err := by.Account(ctx, id)
	if err != nil {
		return err
	}
	ready, err := d.prepare(ctx, a.Name, password, a.Role)
	if err != nil {
		return err
	}
	a.Secret = ready.Secret
	_, err = by.ChangeAccount(ctx, a)
	return err
}

// prepare gives the account with its name tidied and its password hashed.
func (d *Desk) prepare(ctx context.Context, name, password string, role roster.Role) (a store.Account, err error) {
	name = tidy(name)
	if n := utf8.RuneCountInString(name); n < 2 || n > 60 || strings.ContainsAny(name, "\x00\n\r\t") || !utf8.ValidString(name) {
		return a, form.UsageError("a name to sign in with has 2 to 60 characters")
	}
	if role != roster.Coach && role != roster.Helper {
		return a, form.UsageError("an account is a coach's or a helper's")
	}
	password = norm.NFC.String(password)
	switch n := utf8.RuneCountInString(password); {
	case n < MinPassword:
		return a, form.UsageError("a password has at least %d characters; a few words that only you put together are a good one", MinPassword)
	case n > maxPassword:
		return a, form.UsageError("a password has at most %d characters", maxPassword)
	case strings.Contains(strings.ToLower(password), name) && n < MinPassword+utf8.RuneCountInString(name):
		return a, form.UsageError("the password is little more than the name; choose another")
	case few(password):
		return a, form.UsageError("the password repeats few characters; choose another")
	}
	if err := d.hold(ctx); err != nil {
		return a, err
	}
	defer d.release()
	secret, err := argon2id.CreateHash(password, &d.cost)
	if err != nil {
		return a, fmt.Errorf("hashing a password: %w", err)
	}
	return store.Account{Name: name, Role: role, Secret: secret}, nil
}

// few tells whether a password has fewer than five different characters.
func few(password string) bool {
	seen := map[rune]bool{}
	for _, r := range password {
		seen[r] = true
	}
	return len(seen) < 5
}

// tidy is a name as it is kept.
func tidy(name string) string {
	return strings.ToLower(strings.Join(strings.Fields(norm.NFC.String(name)), " "))
}

func (d *Desk) hold(ctx context.Context) error {
	select {
	case d.busy <- struct{}{}:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (d *Desk) release() { <-d.busy }

// Check gives the account behind a name and a password: ErrRefused where
// there is none, or it is disabled; *TooSoon after too many tries. An
// unknown name takes as long as a known one.
func (d *Desk) Check(ctx context.Context, name, password, from string) (a store.Account, err error) {
	name = tidy(name)
	// Until it is known to be right it counts as wrong, so that many tries at
	// once gain nothing.
	if err := d.tries.begin(d.now(), from, name); err != nil {
		return a, err
	}
	a, err = d.s.AccountByName(ctx, name)
	unknown := errors.Is(err, store.ErrNotFound)
	if err != nil && !unknown {
		return store.Account{}, err
	}
	secret := a.Secret
	if unknown {
		secret = d.nobody
	}
	if utf8.RuneCountInString(password) > maxPassword {
		password = ""
	}
	if err := d.hold(ctx); err != nil {
		return store.Account{}, err
	}
	defer d.release()
	right, err := argon2id.ComparePasswordAndHash(norm.NFC.String(password), secret)
	if err != nil {
		return store.Account{}, fmt.Errorf("comparing a password: %w", err)
	}
	if !right || unknown || a.Disabled {
		// The name stands nowhere: it may be a password in the wrong field.
		refused := store.Entry{Action: "refuse", Kind: roster.AccountKind, Subject: a.ID}
		if err := d.s.By(store.Who{Kind: "visitor"}).Record(ctx, refused); err != nil {
			return store.Account{}, err
		}
		return store.Account{}, ErrRefused
	}
	d.tries.succeeded(from, name)
	return a, nil
}

// SignIn checks a name and a password and gives the token of a new session,
// for a cookie. The session lasts until expires, and longer while it is used.
func (d *Desk) SignIn(ctx context.Context, name, password, from string) (token string, expires time.Time, err error) {
	a, err := d.Check(ctx, name, password, from)
	if err != nil {
		return "", expires, err
	}
	token, hash := NewToken()
	expires = d.now().Add(sessionFor)
	s := d.s.By(store.Who{Kind: "account", ID: a.ID})
	return token, expires, s.AddSession(ctx, store.Session{Hash: hash, AccountID: a.ID, Expires: expires})
}

// Who gives the account that is signed in with a token, and prolongs its
// session while it is used; ErrSignedOut where nobody is.
func (d *Desk) Who(ctx context.Context, token string) (store.Account, error) {
	s, err := d.s.Session(ctx, Hash(token))
	if errors.Is(err, store.ErrNotFound) {
		return store.Account{}, ErrSignedOut
	}
	if err != nil {
		return store.Account{}, err
	}
	a, err := d.s.Account(ctx, s.AccountID)
	if errors.Is(err, store.ErrNotFound) || err == nil && a.Disabled {
		return store.Account{}, ErrSignedOut
	}
	if err != nil {
		return store.Account{}, err
	}
	until, last := d.now().Add(sessionFor), s.Made.Add(longestSession)
	if until.After(last) {
		until = last
	}
	if s.Expires.Sub(d.now()) < sessionFor/2 && until.After(s.Expires) {
		if err := d.s.ExtendSession(ctx, s.Hash, until); err != nil && !errors.Is(err, store.ErrNotFound) {
			return store.Account{}, err
		}
	}
	return a, nil
}

// SignOut ends a session; again does no harm.
func (d *Desk) SignOut(ctx context.Context, token string) error {
	s, err := d.s.Session(ctx, Hash(token))
	if errors.Is(err, store.ErrNotFound) {
		return nil
	}
	if err != nil {
		return err
	}
	by := d.s.By(store.Who{Kind: "account", ID: s.AccountID})
	return by.Within(ctx, func(s2 store.Store) error {
		if err := s2.RemoveSession(ctx, s.Hash); err != nil {
			return err
		}
		return s2.Record(ctx, store.Entry{Action: "sign-out", Kind: roster.AccountKind, Subject: s.AccountID})
	})
}

// Actor is what an account is to package roster.
func Actor(a store.Account) roster.Actor { return roster.Actor{Role: a.Role} }

// NewToken gives a token that nobody guesses (130 random bits), and its hash.
func NewToken() (token, hash string) {
	token = strings.ToLower(rand.Text())
	return token, Hash(token)
}

// Hash is how a token is kept: its SHA-256 in hexadecimal. A token needs no
// salt, being random.
func Hash(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}

// NewLink makes a link of that role and gives its token, which is shown once
// and kept by nobody. l carries Role, RunnerID or ClassID, and Expires. Pass
// the store's By of whoever asks for it.
func NewLink(ctx context.Context, by store.Links, l store.Link) (token string, _ store.Link, err error) {
	token, l.Hash = NewToken()
	l, err = by.AddLink(ctx, l)
	return token, l, err
}

// Follow gives the link behind a token; ErrNoLink where it opens nothing.
// from is the sender's address: whoever guesses tokens must wait.
func (d *Desk) Follow(ctx context.Context, token, from string) (store.Link, error) {
	if err := d.tries.mayTry(d.now(), from, ""); err != nil {
		return store.Link{}, err
	}
	l, err := d.s.LinkByHash(ctx, Hash(token))
	switch {
	case errors.Is(err, store.ErrNotFound):
		d.tries.failed(d.now(), from, "")
		return store.Link{}, ErrNoLink
	case err != nil:
		return store.Link{}, err
	case !l.Usable(d.now()):
		return store.Link{}, ErrNoLink
	}
	return l, d.s.LinkUsed(ctx, l.ID)
}
