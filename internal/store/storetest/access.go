package storetest

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"testing"
	"time"

	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

func hash(of string) string {
	sum := sha256.Sum256([]byte(of))
	return hex.EncodeToString(sum[:])
}

func containsHash(data []byte) bool { return bytes.Contains(data, []byte(hash("a"))) }

func links(t *testing.T, r *room) {
	c, a := r.class(t), r.runner(t, "Ada")
	l := must(r.AddLink(r.ctx, store.Link{Role: roster.Own, RunnerID: a.ID, Hash: hash("own"), Expires: r.Now().Add(day)}))(t)
	d := must(r.AddLink(r.ctx, store.Link{Role: roster.Door, ClassID: c.ID, Hash: hash("door"), Expires: r.Now().Add(time.Hour)}))(t)
	same(t, "read again", must(r.LinkByHash(r.ctx, hash("own")))(t), l)
	same(t, "a runner's", must(r.RunnerLinks(r.ctx, a.ID))(t), []store.Link{l})
	same(t, "a class's", must(r.ClassLinks(r.ctx, c.ID))(t), []store.Link{d})
	same(t, "actor", d.Actor(), roster.Actor{Role: roster.Door, ClassID: c.ID})
	_, err := r.AddLink(r.ctx, store.Link{Role: roster.Own, RunnerID: a.ID, Hash: hash("own"), Expires: r.Now().Add(day)})
	fails(t, "the same token", err, store.ErrTaken)
	_, err = r.AddLink(r.ctx, store.Link{Role: roster.Own, RunnerID: a.ID, Hash: hash("x"), Expires: r.Now()})
	refused(t, "over at once", err, "over before")
	_, err = r.LinkByHash(r.ctx, "own")
	fails(t, "the token itself", err, store.ErrNotFound)
	ok(t, r.LinkUsed(r.ctx, l.ID))
	if !must(r.LinkByHash(r.ctx, hash("own")))(t).Used.Equal(r.stamp()) {
		t.Error("its use is not recorded")
	}
	r.Move(time.Hour)
	if !l.Usable(r.Now()) || d.Usable(r.Now()) {
		t.Error("expiry")
	}
	ok(t, r.RevokeLink(r.ctx, l.ID))
	ok(t, r.RevokeLink(r.ctx, l.ID))
	if must(r.LinkByHash(r.ctx, hash("own")))(t).Usable(r.Now()) {
		t.Error("a revoked link opens")
	}
	fails(t, "no such link", r.RevokeLink(r.ctx, "none"), store.ErrNotFound)
	ok(t, r.RemoveExpired(r.ctx))
	_, err = r.LinkByHash(r.ctx, hash("door"))
	fails(t, "expired", err, store.ErrNotFound)
	_ = must(r.LinkByHash(r.ctx, hash("own")))(t)
}

func accounts(t *testing.T, r *room) {
	a := must(r.AddAccount(r.ctx, store.Account{Name: "kim", Role: roster.Coach, Secret: "s"}))(t)
	same(t, "by name", must(r.AccountByName(r.ctx, "kim"))(t), a)
	_, err := r.AddAccount(r.ctx, store.Account{Name: "kim", Role: roster.Helper, Secret: "t"})
	fails(t, "the same name", err, store.ErrTaken)
	b := must(r.AddAccount(r.ctx, store.Account{Name: "ash", Role: roster.Helper, Secret: "t"}))(t)
	same(t, "all", must(r.Accounts(r.ctx))(t), []store.Account{b, a})
	ok(t, r.AddSession(r.ctx, store.Session{Hash: hash("s"), AccountID: a.ID, Expires: r.Now().Add(day)}))
	a.Disabled, a.Secret = true, "u"
	changed := must(r.ChangeAccount(r.ctx, a))(t)
	if !changed.Disabled || changed.Secret != "u" || changed.Version != 2 {
		t.Errorf("%+v", changed)
	}
	_, err = r.ChangeAccount(r.ctx, a)
	fails(t, "an old version", err, store.ErrConflict)
	_, err = r.Session(r.ctx, hash("s"))
	fails(t, "its sessions end", err, store.ErrNotFound)
	same(t, "read again", must(r.Account(r.ctx, a.ID))(t), changed)
}

func sessions(t *testing.T, r *room) {
	a := must(r.AddAccount(r.ctx, store.Account{Name: "kim", Role: roster.Coach, Secret: "s"}))(t)
	ok(t, r.AddSession(r.ctx, store.Session{Hash: hash("1"), AccountID: a.ID, Expires: r.Now().Add(time.Hour)}))
	s := must(r.Session(r.ctx, hash("1")))(t)
	if s.AccountID != a.ID || !s.Made.Equal(r.stamp()) {
		t.Errorf("%+v", s)
	}
	r.Move(30 * time.Minute)
	ok(t, r.ExtendSession(r.ctx, hash("1"), r.Now().Add(time.Hour)))
	r.Move(59 * time.Minute)
	_ = must(r.Session(r.ctx, hash("1")))(t)
	r.Move(time.Minute)
	_, err := r.Session(r.ctx, hash("1"))
	fails(t, "expired", err, store.ErrNotFound)
	fails(t, "no life after", r.ExtendSession(r.ctx, hash("1"), r.Now().Add(time.Hour)), store.ErrNotFound)
	ok(t, r.RemoveExpired(r.ctx))
	ok(t, r.AddSession(r.ctx, store.Session{Hash: hash("1"), AccountID: a.ID, Expires: r.Now().Add(time.Hour)}))
	ok(t, r.RemoveSession(r.ctx, hash("1")))
	ok(t, r.RemoveSession(r.ctx, hash("1")))
	_, err = r.Session(r.ctx, hash("1"))
	fails(t, "signed out", err, store.ErrNotFound)
	fails(t, "nobody's", r.AddSession(r.ctx, store.Session{Hash: hash("2"), AccountID: "none", Expires: r.Now().Add(time.Hour)}), store.ErrNotFound)
}
