package dbstore

import (
	"context"
	"time"

	"needlepace/shop"
)

const accountColumns = `a.id, a.name, a.role, a.hash, a.made, a.disabled`

func scanAccountAfter(scan scan, before ...any) (*shop.Account, error) {
	var a shop.Account
	err := scan(append(before, &a.ID, &a.Name, &a.Role, &a.Hash, moment{&a.Made}, &a.Disabled)...)
	return &a, err
}

func scanAccount(scan scan) (*shop.Account, error) { return scanAccountAfter(scan) }

// AddAccount keeps a new account.
func (db *DB) AddAccount(ctx context.Context, a *shop.Account) error {
	return db.change(ctx, "account", func(x *tx) error {
		if err := nameTaken(x, "phones", a.Name, "a phone"); err != nil {
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

// ChangeAccount changes an account and ends sessions that must not go on.
func (db *DB) ChangeAccount(ctx context.Context, a *shop.Account) error {
	return db.change(ctx, "account", func(x *tx) error {
		old, err := scanAccount(x.row(`SELECT `+accountColumns+` FROM accounts a WHERE a.id = ?`, a.ID).Scan)
		if err != nil {
			return err
		}
		if err := x.one(`UPDATE accounts SET role = ?, hash = ?, disabled = ? WHERE id = ?`, string(a.Role), a.Hash,
			flag(a.Disabled), a.ID); err != nil {
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
		if a.Disabled || a.Hash != old.Hash {
			_, err = x.exec(`DELETE FROM sessions WHERE account_id = ?`, a.ID)
		}
		return err
	})
}

// AddSession keeps a session.
func (db *DB) AddSession(ctx context.Context, s shop.Session) error {
	return db.change(ctx, "session", func(x *tx) error {
		_, err := x.exec(`INSERT INTO sessions (digest, account_id, made, expires) VALUES (?, ?, ?, ?)`, s.Digest,
			s.AccountID, micros(s.Made), micros(s.Expires))
		return err
	})
}

// Session finds a session that is good at now.
func (db *DB) Session(ctx context.Context, digest string, now time.Time) (*shop.Session, *shop.Account, error) {
	var s shop.Session
	a, err := scanAccountAfter(db.row(ctx, `SELECT s.digest, s.account_id, s.made, s.expires, `+accountColumns+`
		FROM sessions s JOIN accounts a ON a.id = s.account_id WHERE s.digest = ? AND s.expires > ?`, digest, micros(now)).Scan,
		&s.Digest, &s.AccountID, moment{&s.Made}, moment{&s.Expires})
	if err != nil {
		return nil, nil, db.tell(err, "session")
	}
	return &s, a, nil
}

// EndSession forgets a session; one that is not there is no error.
func (db *DB) EndSession(ctx context.Context, digest string) error {
	return db.change(ctx, "session", func(x *tx) error {
		_, err := x.exec(`DELETE FROM sessions WHERE digest = ?`, digest)
		return err
	})
}

// DropSessions forgets those expired.
func (db *DB) DropSessions(ctx context.Context, now time.Time) error {
	return db.change(ctx, "session", func(x *tx) error {
		_, err := x.exec(`DELETE FROM sessions WHERE expires <= ?`, micros(now))
		return err
	})
}
