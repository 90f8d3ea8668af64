package dbstore

import (
	"context"
	"time"

	"needlepace/shop"
)

const (
	memberColumns = `shop, account, person, hash`
	entryColumns  = `shop, account, person, browser, digest, ends`
)

func scanMember(scan scan) (*shop.Member, error) {
	var m shop.Member
	return &m, scan(&m.Shop, &m.Account, &m.Person, &m.Hash)
}

func scanEntry(scan scan) (*shop.Entry, error) {
	var e shop.Entry
	return &e, scan(&e.Shop, &e.Account, &e.Person, &e.Browser, &e.Digest, moment{&e.Ends})
}

// Member finds an account that is one with others.
func (db *DB) Member(ctx context.Context, in, account string) (*shop.Member, error) {
	return find(ctx, db, "member", scanMember, `SELECT `+memberColumns+` FROM members WHERE shop = ? AND account = ?`, in, account)
}

// Members are a person's accounts, or everybody's.
func (db *DB) Members(ctx context.Context, person string) ([]*shop.Member, error) {
	return list(ctx, db, "member", scanMember, `SELECT `+memberColumns+` FROM members WHERE ? = '' OR person = ? ORDER BY person, shop`, person, person)
}

// Join makes two members one person's.
func (db *DB) Join(ctx context.Context, a, b shop.Member) error {
	return db.note(ctx, "member", func(x *tx) error {
		if b.Person != a.Person && b.Person != "" {
			if err := dropEntries(x, b.Person); err != nil {
				return err
			}
			if _, err := x.exec(`UPDATE members SET person = ? WHERE person = ?`, a.Person, b.Person); err != nil {
				return err
			}
		}
		for _, m := range []shop.Member{a, b} {
			if _, err := x.exec(`INSERT INTO members (shop, account, person, hash) VALUES (?, ?, ?, '')
				ON CONFLICT (shop, account) DO UPDATE SET person = excluded.person`, m.Shop, m.Account, a.Person); err != nil {
				return err
			}
		}
		_, err := x.exec(`UPDATE members SET hash = ? WHERE person = ?`, a.Hash, a.Person)
		return err
	})
}

// Part takes an account out.
func (db *DB) Part(ctx context.Context, in, account string) error {
	return db.note(ctx, "member", func(x *tx) error {
		var person string
		if err := x.row(`SELECT person FROM members WHERE shop = ? AND account = ?`, in, account).Scan(&person); err != nil {
			return err
		}
		for _, table := range []string{"members", "entries", "tickets"} {
			if _, err := x.exec(`DELETE FROM `+table+` WHERE shop = ? AND account = ?`, in, account); err != nil {
				return err
			}
		}
		var left int
		if err := x.row(`SELECT count(*) FROM members WHERE person = ?`, person).Scan(&left); err != nil || left > 1 {
			return err
		}
		if err := dropEntries(x, person); err != nil {
			return err
		}
		_, err := x.exec(`DELETE FROM members WHERE person = ?`, person)
		return err
	})
}

func dropEntries(x *tx, person string) error {
	_, err := x.exec(`DELETE FROM entries WHERE person = ?`, person)
	if err == nil {
		_, err = x.exec(`DELETE FROM tickets WHERE person = ?`, person)
	}
	return err
}

// SetPersonHash keeps another password's hash for all of a person's accounts.
func (db *DB) SetPersonHash(ctx context.Context, person, hash string) error {
	return db.note(ctx, "member", func(x *tx) error {
		if err := x.one(`UPDATE members SET hash = ? WHERE person = ?`, hash, person); err != nil {
			return err
		}
		return dropEntries(x, person)
	})
}

// AddEntry keeps a sign-in of a person, whose password must still be e.Hash.
func (db *DB) AddEntry(ctx context.Context, e shop.Entry, now time.Time) error {
	return db.note(ctx, "member", func(x *tx) error {
		if _, err := x.exec(`DELETE FROM entries WHERE ends <= ?`, micros(now)); err != nil {
			return err
		}
		return x.one(`INSERT INTO entries (`+entryColumns+`) SELECT m.shop, m.account, m.person, CAST(? AS TEXT), CAST(? AS TEXT), CAST(? AS BIGINT)
			FROM members m WHERE m.shop = ? AND m.account = ? AND m.person = ? AND m.hash = ?`,
			e.Browser, e.Digest, micros(e.Ends), e.Shop, e.Account, e.Person, e.Hash)
	})
}

// Entry finds an entry that is good at now.
func (db *DB) Entry(ctx context.Context, digest string, now time.Time) (*shop.Entry, error) {
	return find(ctx, db, "sign-in", scanEntry, `SELECT `+entryColumns+` FROM entries WHERE digest = ? AND ends > ?`, digest, micros(now))
}

// EndBrowser ends the entries that go together with one.
func (db *DB) EndBrowser(ctx context.Context, digest string) (all []*shop.Entry, err error) {
	err = db.note(ctx, "sign-in", func(x *tx) error {
		all = nil
		const of = ` WHERE browser IN (SELECT browser FROM entries WHERE digest = ?)`
		rows, err := x.t.QueryContext(ctx, `SELECT `+entryColumns+` FROM entries`+of, digest)
		if err != nil {
			return err
		}
		defer rows.Close() //nolint:errcheck // Err tells
		for rows.Next() {
			e, err := scanEntry(rows.Scan)
			if err != nil {
				return err
			}
			all = append(all, e)
		}
		if err := rows.Err(); err != nil || len(all) == 0 {
			return err
		}
		for _, table := range []string{"tickets", "entries"} {
			if _, err := x.exec(`DELETE FROM `+table+` WHERE browser = ?`, all[0].Browser); err != nil {
				return err
			}
		}
		return nil
	})
	return all, err
}

// AddTicket keeps a ticket while its entry is there.
func (db *DB) AddTicket(ctx context.Context, t shop.Ticket, digest, entry string, now time.Time) error {
	return db.note(ctx, "ticket", func(x *tx) error {
		if _, err := x.exec(`DELETE FROM tickets WHERE until <= ?`, micros(now)); err != nil {
			return err
		}
		return x.one(`INSERT INTO tickets (digest, shop, account, person, browser, asked, until, ends)
			SELECT CAST(? AS TEXT), CAST(? AS TEXT), CAST(? AS TEXT), e.person, e.browser, CAST(? AS TEXT), CAST(? AS BIGINT), e.ends FROM entries e
			WHERE e.digest = ? AND e.person = ? AND e.ends > ?`,
			digest, t.Shop, t.Account, t.Asked, micros(t.Until), entry, t.Person, micros(now))
	})
}

// UseTicket finds a ticket and uses it up.
func (db *DB) UseTicket(ctx context.Context, digest, in, asked string, now time.Time) (*shop.Ticket, error) {
	var t *shop.Ticket
	err := db.note(ctx, "ticket", func(x *tx) error {
		t = &shop.Ticket{}
		err := x.row(`DELETE FROM tickets WHERE digest = ? RETURNING shop, account, person, browser, asked, until, ends`, digest).Scan(
			&t.Shop, &t.Account, &t.Person, &t.Browser, &t.Asked, moment{&t.Until}, moment{&t.Ends})
		return err
	})
	switch {
	case err != nil:
		return nil, err
	case t.Shop != in, t.Asked != asked, !now.Before(t.Until), !now.Before(t.Ends):
		return nil, shop.Errorf(shop.NotFound, "there is no such ticket")
	}
	return t, nil
}
