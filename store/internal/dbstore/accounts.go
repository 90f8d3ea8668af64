package dbstore

import (
	"context"
	"database/sql"
	"errors"
	"slices"
	"time"

	"needlepace/shop"
)

const accountColumns = `a.id, a.name, a.role, a.hash, a.made, a.disabled, a.language, a.person`

func scanAccountAfter(scan scan, before ...any) (*shop.Account, error) {
	var a shop.Account
	err := scan(append(before, &a.ID, &a.Name, &a.Role, &a.Hash, moment{&a.Made}, &a.Disabled, &a.Language, &a.Person)...)
	return &a, err
}

func scanAccount(scan scan) (*shop.Account, error) { return scanAccountAfter(scan) }

// AddAccount keeps a new account.
func (db *DB) AddAccount(ctx context.Context, a *shop.Account) error {
	return db.change(ctx, "account", func(x *tx) error {
		if err := nameTaken(x, a.Name); err != nil {
			return err
		}
		_, err := x.exec(`INSERT INTO accounts (id, name, name_key, role, hash, made, disabled) VALUES (`+marks(7)+`)`,
			a.ID, a.Name, fold(a.Name), string(a.Role), a.Hash, micros(a.Made), flag(a.Disabled))
		return err
	})
}

// Accounts lists the accounts by name.
func (db *DB) Accounts(ctx context.Context) ([]*shop.Account, error) {
	return list(ctx, db, "account", scanAccount, `SELECT `+accountColumns+` FROM accounts a ORDER BY a.name_key`)
}

// Account finds an account.
func (db *DB) Account(ctx context.Context, id string) (*shop.Account, error) {
	return find(ctx, db, "account", scanAccount, `SELECT `+accountColumns+` FROM accounts a WHERE a.id = ?`, id)
}

// AccountNamed finds an account by its name, whatever its case.
func (db *DB) AccountNamed(ctx context.Context, name string) (*shop.Account, error) {
	return find(ctx, db, "account", scanAccount,
		`SELECT `+accountColumns+` FROM accounts a WHERE a.name_key = ?`, fold(name))
}

// SetLanguage keeps the language that an account has chosen.
func (db *DB) SetLanguage(ctx context.Context, accountID, tag string) error {
	return db.change(ctx, "account", func(x *tx) error {
		return x.one(`UPDATE accounts SET language = ? WHERE id = ?`, tag, accountID)
	})
}

// SetHash changes an account's hash and whose it is; where the hash is another one its sessions end.
func (db *DB) SetHash(ctx context.Context, accountID, was, hash, person string) error {
	return db.change(ctx, "account", func(x *tx) error {
		n, err := x.exec(`UPDATE accounts SET hash = ?, person = ? WHERE id = ? AND hash = ?`, hash, person, accountID, was)
		switch {
		case err != nil:
			return err
		case n == 0:
			return shop.Errorf(shop.Conflict, "the account was changed meanwhile; look at it again")
		case hash != was:
			_, err = x.exec(`DELETE FROM sessions WHERE account_id = ?`, accountID)
		}
		return err
	})
}

// ChangeAccount changes an account, ends sessions that must not go on and takes back the tokens and phones of its making that
// may do more than the account may now.
func (db *DB) ChangeAccount(ctx context.Context, a *shop.Account) error {
	return db.change(ctx, "account", func(x *tx) error {
		old, err := scanAccount(x.row(`SELECT `+accountColumns+` FROM accounts a WHERE a.id = ?`, a.ID).Scan)
		if err != nil {
			return err
		}
		hash, person := old.Hash, old.Person
		if a.Hash != "" && a.Hash != old.Hash {
			hash, person = a.Hash, ""
		}
		if err := x.one(`UPDATE accounts SET role = ?, hash = ?, disabled = ?, person = ? WHERE id = ?`, string(a.Role), hash,
			flag(a.Disabled), person, a.ID); err != nil {
			return err
		}
		var owners int
		if err := x.row(`SELECT count(*) FROM accounts WHERE role = ? AND disabled = 0`,
			string(shop.Owner)).Scan(&owners); err != nil {
			return err
		}
		if owners == 0 {
			return shop.Errorf(shop.Conflict, "this is the last owner who can sign in; make another one first")
		}
		if a.Disabled || hash != old.Hash {
			if _, err = x.exec(`DELETE FROM sessions WHERE account_id = ?`, a.ID); err != nil {
				return err
			}
		}
		return dropMadeBy(x, a)
	})
}

// dropMadeBy takes back the tokens, and takes out the phones, that an account, or one of these, made and that may do more than
// the account. Phones of operators stay: they are those of who stands at the machines, whoever let them in.
func dropMadeBy(x *tx, a *shop.Account) error {
	all, over := []any{}, []any{}
	for _, r := range []shop.Role{shop.Operator, shop.Planner, shop.Owner} {
		all = append(all, string(r))
		if a.Disabled || !a.Role.May(r) {
			over = append(over, string(r))
		}
	}
	if len(over) == 0 {
		return nil
	}
	for makers := []string{a.Name}; len(makers) > 0; {
		var table, id, name string
		err := x.row(`SELECT 'tokens', id, name FROM tokens WHERE role IN (`+marks(len(over))+`) AND made_by = ?
			UNION ALL SELECT 'phones', id, name FROM phones WHERE role IN (`+marks(len(over))+`) AND role <> ? AND made_by = ? LIMIT 1`,
			slices.Concat(over, []any{makers[0]}, over, []any{string(shop.Operator), makers[0]})...).Scan(&table, &id, &name)
		switch {
		case errors.Is(err, sql.ErrNoRows):
			makers, over = makers[1:], all // who is gone may do nothing
			continue
		case err == nil:
			_, err = x.exec(`DELETE FROM `+table+` WHERE id = ?`, id)
		}
		if err != nil {
			return err
		}
		makers = append(makers, name)
	}
	return nil
}

const sessionColumns = `s.id, s.digest, s.account_id, s.made, s.expires, s.seen, s.address, s.agent`

func intoSession(s *shop.Session) []any {
	return []any{&s.ID, &s.Digest, &s.AccountID, moment{&s.Made}, moment{&s.Expires}, moment{&s.Seen}, &s.Address, &s.Agent}
}

// AddSession keeps a session.
func (db *DB) AddSession(ctx context.Context, s shop.Session, hash string) error {
	return db.change(ctx, "account", func(x *tx) error {
		var id string // of the account, which may have been changed while the password was held against its hash
		if err := x.row(`SELECT id FROM accounts WHERE id = ? AND hash = ? AND disabled = 0`, s.AccountID, hash).Scan(&id); err != nil {
			return err
		}
		_, err := x.exec(`INSERT INTO sessions (id, digest, account_id, made, expires, seen, address, agent)
			VALUES (`+marks(8)+`)`, s.ID, s.Digest, s.AccountID, micros(s.Made), micros(s.Expires), micros(s.Seen), s.Address,
			s.Agent)
		return err
	})
}

// Session finds a session that is good at now.
func (db *DB) Session(ctx context.Context, digest string, now time.Time) (*shop.Session, *shop.Account, error) {
	var s shop.Session
	a, err := scanAccountAfter(db.row(ctx, `SELECT `+sessionColumns+`, `+accountColumns+`
		FROM sessions s JOIN accounts a ON a.id = s.account_id WHERE s.digest = ? AND s.expires > ?`, digest, micros(now)).Scan,
		intoSession(&s)...)
	if err != nil {
		return nil, nil, db.tell(err, "session")
	}
	return &s, a, nil
}

// Sessions lists the sessions that are good at now, the last seen first.
func (db *DB) Sessions(ctx context.Context, accountID string, now time.Time) ([]*shop.Session, error) {
	return list(ctx, db, "session", func(scan scan) (*shop.Session, error) {
		var s shop.Session
		return &s, scan(intoSession(&s)...)
	}, `SELECT `+sessionColumns+` FROM sessions s WHERE s.expires > ? AND (? = '' OR s.account_id = ?)
		ORDER BY s.seen DESC, s.id`, micros(now), accountID, accountID)
}

// SeeSession keeps when and from where a session was last used.
func (db *DB) SeeSession(ctx context.Context, digest string, now time.Time, address string) error {
	return db.note(ctx, "session", func(x *tx) error {
		_, err := x.exec(`UPDATE sessions SET seen = ?, address = ? WHERE digest = ?`, micros(now), address, digest)
		return err
	})
}

// EndSession forgets a session; one that is not there is no error.
func (db *DB) EndSession(ctx context.Context, digest string) error {
	return db.change(ctx, "session", func(x *tx) error {
		_, err := x.exec(`DELETE FROM sessions WHERE digest = ?`, digest)
		return err
	})
}

// EndSessionOf forgets a session by its ID; empty accountID: anybody's.
func (db *DB) EndSessionOf(ctx context.Context, accountID, id string) error {
	return db.change(ctx, "sign-in", func(x *tx) error {
		x.told = &shop.Changed{Thing: "sign-in", Verb: "gone", Things: 1}
		if err := x.row(`SELECT a.name FROM sessions s JOIN accounts a ON a.id = s.account_id WHERE s.id = ?`, id).Scan(&x.told.Name); err != nil {
			return err
		}
		return x.one(`DELETE FROM sessions WHERE id = ? AND (? = '' OR account_id = ?)`, id, accountID, accountID)
	})
}

// DropSessions forgets those expired.
func (db *DB) DropSessions(ctx context.Context, now time.Time) error {
	return db.note(ctx, "session", func(x *tx) error {
		_, err := x.exec(`DELETE FROM sessions WHERE expires <= ?`, micros(now))
		return err
	})
}

// KeepDevice keeps that somebody signed in with a browser.
func (db *DB) KeepDevice(ctx context.Context, digest, accountID string, now, forget time.Time) error {
	return db.note(ctx, "browser", func(x *tx) error {
		if _, err := x.exec(`DELETE FROM devices WHERE seen <= ?`, micros(forget)); err != nil {
			return err
		}
		_, err := x.exec(`INSERT INTO devices (digest, account_id, seen) VALUES (?, ?, ?)
			ON CONFLICT (digest, account_id) DO UPDATE SET seen = excluded.seen`, digest, accountID, micros(now))
		return err
	})
}

// KnowsDevice reports whether an account signed in with a browser after a moment.
func (db *DB) KnowsDevice(ctx context.Context, digest, accountID string, after time.Time) (bool, error) {
	var n int
	err := db.row(ctx, `SELECT count(*) FROM devices WHERE digest = ? AND account_id = ? AND seen > ?`, digest, accountID,
		micros(after)).Scan(&n)
	return n > 0, db.tell(err, "browser")
}

const tokenColumns = `id, name, role, made_by, made, expires, seen`

func scanToken(scan scan) (*shop.Token, error) {
	var t shop.Token
	err := scan(&t.ID, &t.Name, &t.Role, &t.By, moment{&t.Made}, moment{&t.Expires}, moment{&t.Seen})
	if t.Seen.UnixMicro() == 0 { // kept as none
		t.Seen = time.Time{}
	}
	return &t, err
}

// AddToken keeps a new token.
func (db *DB) AddToken(ctx context.Context, t *shop.Token, digest string) error {
	return db.change(ctx, "token", func(x *tx) error {
		if err := nameTaken(x, t.Name); err != nil {
			return err
		}
		_, err := x.exec(`INSERT INTO tokens (id, digest, name, name_key, role, made_by, made, expires, seen)
			VALUES (`+marks(8)+`, 0)`, t.ID, digest, t.Name, fold(t.Name), string(t.Role), t.By, micros(t.Made), micros(t.Expires))
		return err
	})
}

// Tokens lists the tokens by name.
func (db *DB) Tokens(ctx context.Context) ([]*shop.Token, error) {
	return list(ctx, db, "token", scanToken, `SELECT `+tokenColumns+` FROM tokens ORDER BY name_key`)
}

// TokenOf finds a token that is good at now.
func (db *DB) TokenOf(ctx context.Context, digest string, now time.Time) (*shop.Token, error) {
	return find(ctx, db, "token", scanToken, `SELECT `+tokenColumns+` FROM tokens WHERE digest = ? AND expires > ?`, digest,
		micros(now))
}

// SeeToken keeps when a token was last used.
func (db *DB) SeeToken(ctx context.Context, id string, now time.Time) error {
	return db.note(ctx, "token", func(x *tx) error {
		_, err := x.exec(`UPDATE tokens SET seen = ? WHERE id = ?`, micros(now), id)
		return err
	})
}

// DropToken forgets a token, and what was made by it: whoever had it may have.
func (db *DB) DropToken(ctx context.Context, id string) error {
	return db.change(ctx, "token", func(x *tx) error { return dropMaker(x, "tokens", id) })
}

// dropMaker takes a token back, or a phone out, with what it made.
func dropMaker(x *tx, table, id string) error {
	var name string
	err := x.row(`SELECT name FROM `+table+` WHERE id = ?`, id).Scan(&name)
	if err == nil {
		err = x.one(`DELETE FROM `+table+` WHERE id = ?`, id)
	}
	if err != nil {
		return err
	}
	return dropMadeBy(x, &shop.Account{Name: name, Disabled: true})
}
