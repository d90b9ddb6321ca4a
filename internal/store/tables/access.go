package tables

import (
	"context"
	"strings"
	"time"

	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

const linkColumns = "id, role, runner_id, class_id, hash, made_us, expires_us, revoked_us, used_us"

func readLink(scan scanner) (l store.Link, err error) {
	return l, scan(&l.ID, &l.Role, text{&l.RunnerID}, text{&l.ClassID}, &l.Hash, when{&l.Made}, when{&l.Expires}, when{&l.Revoked}, when{&l.Used})
}

// AddLink adds a link.
func (t *Tables) AddLink(ctx context.Context, l store.Link) (store.Link, error) {
	ofRunner := (l.Role == roster.Own || l.Role == roster.Invited || l.Role == roster.Stop) && l.RunnerID != ""
	ofClass := l.Role == roster.Door && l.ClassID != "" && l.RunnerID == ""
	if !ofRunner && !ofClass || len(l.Hash) != 64 {
		panic("tables: a link of nobody, or without a hash")
	}
	l.ID, l.Made, l.Revoked, l.Used = newID(), t.now(), time.Time{}, time.Time{}
	l.Expires = l.Expires.UTC().Truncate(time.Microsecond)
	if !l.Expires.After(l.Made) {
		return l, form.UsageError("the link would be over before it began; choose a later day")
	}
	return l, t.change(ctx, func(t *Tables) (store.Entry, error) {
		_, err := t.exec(ctx, "INSERT INTO links ("+linkColumns+") VALUES (?, ?, ?, ?, ?, ?, ?, 0, 0)",
			l.ID, string(l.Role), maybe(l.RunnerID), maybe(l.ClassID), l.Hash, micro(l.Made), micro(l.Expires))
		return entry(roster.Add, roster.LinkKind, l.ID, l.RunnerID), err
	})
}

// LinkByHash gives the link of a token.
func (t *Tables) LinkByHash(ctx context.Context, hash string) (store.Link, error) {
	return only(ctx, t, readLink, "SELECT "+linkColumns+" FROM links WHERE hash = ?", hash)
}

// RunnerLinks lists a runner's links, the earliest first.
func (t *Tables) RunnerLinks(ctx context.Context, runnerID string) ([]store.Link, error) {
	return list(ctx, t, readLink, "SELECT "+linkColumns+" FROM links WHERE runner_id = ? ORDER BY made_us, id", runnerID)
}

// ClassLinks lists a class's doors, the earliest first.
func (t *Tables) ClassLinks(ctx context.Context, classID string) ([]store.Link, error) {
	return list(ctx, t, readLink, "SELECT "+linkColumns+" FROM links WHERE class_id = ? ORDER BY made_us, id", classID)
}

// RevokeLink ends a link.
func (t *Tables) RevokeLink(ctx context.Context, id string) error {
	return t.change(ctx, func(t *Tables) (e store.Entry, err error) {
		l, err := only(ctx, t, readLink, "SELECT "+linkColumns+" FROM links WHERE id = ?", id)
		if err != nil || !l.Revoked.IsZero() {
			return e, err
		}
		return entry("revoke", roster.LinkKind, id, l.RunnerID), t.execOne(ctx, "UPDATE links SET revoked_us = ? WHERE id = ?", micro(t.now()), id)
	})
}

// LinkUsed records that a link was opened.
func (t *Tables) LinkUsed(ctx context.Context, id string) error {
	return t.within(ctx, func(t *Tables) error {
		return t.execOne(ctx, "UPDATE links SET used_us = ? WHERE id = ?", micro(t.now()), id)
	})
}

const accountColumns = "id, version, name, role, secret, disabled, made_us, changed_us"

func readAccount(scan scanner) (a store.Account, err error) {
	return a, scan(&a.ID, &a.Version, &a.Name, &a.Role, &a.Secret, &a.Disabled, when{&a.Made}, when{&a.Changed})
}

func checkAccount(a store.Account) {
	if a.Role != roster.Coach && a.Role != roster.Helper || a.Secret == "" || a.Name == "" || a.Name != strings.ToLower(a.Name) {
		panic("tables: an account without a role, a secret or a name in lower case")
	}
}

// AddAccount adds an account.
func (t *Tables) AddAccount(ctx context.Context, a store.Account) (store.Account, error) {
	checkAccount(a)
	a.ID, a.Version, a.Made = newID(), 1, t.now()
	a.Changed = a.Made
	return a, t.change(ctx, func(t *Tables) (store.Entry, error) {
		_, err := t.exec(ctx, "INSERT INTO accounts ("+accountColumns+") VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
			a.ID, a.Version, a.Name, string(a.Role), a.Secret, truth(a.Disabled), micro(a.Made), micro(a.Changed))
		return entry(roster.Add, roster.AccountKind, a.ID, ""), err
	})
}

// Account gives an account.
func (t *Tables) Account(ctx context.Context, id string) (store.Account, error) {
	return only(ctx, t, readAccount, "SELECT "+accountColumns+" FROM accounts WHERE id = ?", id)
}

// AccountByName gives the account that signs in with that name.
func (t *Tables) AccountByName(ctx context.Context, name string) (store.Account, error) {
	return only(ctx, t, readAccount, "SELECT "+accountColumns+" FROM accounts WHERE name = ?", name)
}

// Accounts lists all accounts by name.
func (t *Tables) Accounts(ctx context.Context) ([]store.Account, error) {
	return list(ctx, t, readAccount, "SELECT "+accountColumns+" FROM accounts ORDER BY name")
}

// ChangeAccount changes an account and ends its sessions.
func (t *Tables) ChangeAccount(ctx context.Context, a store.Account) (store.Account, error) {
	checkAccount(a)
	err := t.change(ctx, func(t *Tables) (e store.Entry, err error) {
		err = t.execVersion(ctx, "accounts", "UPDATE accounts SET version = version + 1, role = ?, secret = ?, disabled = ?, changed_us = ? WHERE id = ? AND version = ?",
			string(a.Role), a.Secret, truth(a.Disabled), micro(t.now()), a.ID, a.Version)
		if err != nil {
			return e, err
		}
		if _, err := t.exec(ctx, "DELETE FROM sessions WHERE account_id = ?", a.ID); err != nil {
			return e, err
		}
		a, err = t.Account(ctx, a.ID)
		return entry(roster.Change, roster.AccountKind, a.ID, ""), err
	})
	return a, err
}

// AddSession signs a browser in.
func (t *Tables) AddSession(ctx context.Context, s store.Session) error {
	return t.change(ctx, func(t *Tables) (store.Entry, error) {
		_, err := t.exec(ctx, "INSERT INTO sessions (hash, account_id, made_us, expires_us) VALUES (?, ?, ?, ?)",
			s.Hash, s.AccountID, micro(t.now()), micro(s.Expires))
		return entry("sign-in", roster.AccountKind, s.AccountID, ""), err
	})
}

// Session gives a session that stands.
func (t *Tables) Session(ctx context.Context, hash string) (store.Session, error) {
	return only(ctx, t, func(scan scanner) (s store.Session, err error) {
		return s, scan(&s.Hash, &s.AccountID, when{&s.Made}, when{&s.Expires})
	}, "SELECT hash, account_id, made_us, expires_us FROM sessions WHERE hash = ? AND expires_us > ?", hash, micro(t.now()))
}

// ExtendSession lets a session last longer.
func (t *Tables) ExtendSession(ctx context.Context, hash string, expires time.Time) error {
	return t.within(ctx, func(t *Tables) error {
		return t.execOne(ctx, "UPDATE sessions SET expires_us = ? WHERE hash = ? AND expires_us > ?", micro(expires), hash, micro(t.now()))
	})
}

// RemoveSession signs a browser out; again does no harm.
func (t *Tables) RemoveSession(ctx context.Context, hash string) error {
	return t.within(ctx, func(t *Tables) error {
		_, err := t.exec(ctx, "DELETE FROM sessions WHERE hash = ?", hash)
		return err
	})
}

// RemoveSessions signs every browser out.
func (t *Tables) RemoveSessions(ctx context.Context) error {
	return t.within(ctx, func(t *Tables) error {
		_, err := t.exec(ctx, "DELETE FROM sessions")
		return err
	})
}

// RemoveExpired deletes sessions and links that are past.
func (t *Tables) RemoveExpired(ctx context.Context) error {
	return t.within(ctx, func(t *Tables) error {
		if _, err := t.exec(ctx, "DELETE FROM sessions WHERE expires_us <= ?", micro(t.now())); err != nil {
			return err
		}
		_, err := t.exec(ctx, "DELETE FROM links WHERE expires_us <= ?", micro(t.now()))
		return err
	})
}

// Setting gives a setting; "" where nothing was set.
func (t *Tables) Setting(ctx context.Context, name string) (string, error) {
	all, err := list(ctx, t, readText, "SELECT value FROM settings WHERE name = ?", name)
	if err != nil || len(all) == 0 {
		return "", err
	}
	return all[0], nil
}

// SetSetting sets a setting.
func (t *Tables) SetSetting(ctx context.Context, name, value string) error {
	return t.change(ctx, func(t *Tables) (store.Entry, error) {
		_, err := t.exec(ctx, "INSERT INTO settings (name, value) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value", name, value)
		return entry(roster.Change, roster.SettingKind, name, ""), err
	})
}

const entryColumns = "id, at_us, who_kind, who_id, action, kind, subject, runner_id"

// Record adds a line to the trail.
func (t *Tables) Record(ctx context.Context, e store.Entry) error {
	return t.within(ctx, func(t *Tables) error {
		_, err := t.exec(ctx, "INSERT INTO trail ("+entryColumns+", place) VALUES (?, ?, ?, ?, ?, ?, ?, ?, (SELECT COALESCE(MAX(place), 0) + 1 FROM trail))",
			newID(), micro(t.now()), t.who.Kind, t.who.ID, e.Action, string(e.Kind), e.Subject, e.RunnerID)
		return err
	})
}

// Entries lists the trail, the latest first.
func (t *Tables) Entries(ctx context.Context, f store.TrailFilter, most int) ([]store.Entry, error) {
	read := func(scan scanner) (e store.Entry, err error) {
		return e, scan(&e.ID, when{&e.At}, &e.Who.Kind, &e.Who.ID, &e.Action, &e.Kind, &e.Subject, &e.RunnerID)
	}
	where, args := []string{"1 = 1"}, []any{}
	only := func(condition string, arg any) { where, args = append(where, condition), append(args, arg) }
	if f.RunnerID != "" {
		only("runner_id = ?", f.RunnerID)
	}
	if f.WhoID != "" {
		only("who_id = ?", f.WhoID)
	}
	if !f.From.IsZero() {
		only("at_us >= ?", micro(f.From))
	}
	if !f.Until.IsZero() {
		only("at_us < ?", micro(f.Until))
	}
	if f.Before != "" {
		only("place < (SELECT place FROM trail WHERE id = ?)", f.Before)
	}
	return list(ctx, t, read, "SELECT "+entryColumns+" FROM trail WHERE "+strings.Join(where, " AND ")+" ORDER BY place DESC LIMIT ?", append(args, most)...)
}

// RemoveEntries deletes lines from before then.
func (t *Tables) RemoveEntries(ctx context.Context, before time.Time) error {
	return t.within(ctx, func(t *Tables) error {
		_, err := t.exec(ctx, "DELETE FROM trail WHERE at_us < ?", micro(before))
		return err
	})
}
