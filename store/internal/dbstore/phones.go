package dbstore

import (
	"context"
	"time"

	"needlepace/shop"
)

const phoneColumns = `id, name, role, made_by, made, code_made, code_until, let_in, seen`

func scanPhone(scan scan) (*shop.Phone, error) {
	var p shop.Phone
	err := scan(&p.ID, &p.Name, &p.Role, &p.By, moment{&p.Made}, moment{&p.CodeMade}, moment{&p.CodeUntil},
		moment{&p.LetIn}, moment{&p.Seen})
	for _, t := range []*time.Time{&p.CodeMade, &p.CodeUntil, &p.LetIn, &p.Seen} {
		if t.UnixMicro() == 0 { // kept as none
			*t = time.Time{}
		}
	}
	return &p, err
}

// nameTaken is the error where a person, a phone or a program is called so, or so
// that one would be taken for the other: histories tell them apart by their
// names.
func nameTaken(x *tx, name string) error {
	key, looks := fold(name), shop.Skeleton(name)
	for _, of := range []struct{ table, what string }{
		{"accounts", "a person"}, {"phones", "a phone"}, {"tokens", "a token"},
	} {
		rows, err := x.t.QueryContext(x.ctx, `SELECT name, name_key FROM `+of.table)
		if err != nil {
			return err
		}
		defer rows.Close() //nolint:errcheck // Err tells
		for rows.Next() {
			var other, otherKey string
			if err := rows.Scan(&other, &otherKey); err != nil {
				return err
			}
			if otherKey == key {
				return shop.Errorf(shop.Conflict, "%s is called %s already; choose another name", of.what, name)
			}
			if shop.Skeleton(other) == looks {
				return shop.Errorf(shop.Conflict, "%s is called %s, which looks like this name; choose another one",
					of.what, other)
			}
		}
		if err := rows.Err(); err != nil {
			return err
		}
	}
	return nil
}

// AddPhone keeps a phone that may come in with a code.
func (db *DB) AddPhone(ctx context.Context, p *shop.Phone, code string) error {
	return db.change(ctx, "phone", func(x *tx) error {
		if err := nameTaken(x, p.Name); err != nil {
			return err
		}
		_, err := x.exec(`INSERT INTO phones (id, name, name_key, role, made_by, made, code, code_made, code_until,
			session, let_in, seen) VALUES (`+marks(9)+`, '', 0, 0)`, p.ID, p.Name, fold(p.Name), string(p.Role), p.By,
			micros(p.Made), code, micros(p.CodeMade), micros(p.CodeUntil))
		return err
	})
}

// ChangePhoneCode gives a phone another code.
func (db *DB) ChangePhoneCode(ctx context.Context, p *shop.Phone, code string) error {
	return db.change(ctx, "phone", func(x *tx) error {
		return x.one(`UPDATE phones SET code = ?, code_made = ?, code_until = ? WHERE id = ?`, code,
			micros(p.CodeMade), micros(p.CodeUntil), p.ID)
	})
}

// Phones lists the phones by name.
func (db *DB) Phones(ctx context.Context) ([]*shop.Phone, error) {
	return list(ctx, db, "phone", scanPhone, `SELECT `+phoneColumns+` FROM phones ORDER BY name_key`)
}

// Phone finds a phone.
func (db *DB) Phone(ctx context.Context, id string) (*shop.Phone, error) {
	return find(ctx, db, "phone", scanPhone, `SELECT `+phoneColumns+` FROM phones WHERE id = ?`, id)
}

// LetPhoneIn uses up a code and begins a session, in one step.
func (db *DB) LetPhoneIn(ctx context.Context, code, session string, now, latest time.Time) (
	p *shop.Phone, err error,
) {
	err = db.change(ctx, "phone", func(x *tx) error {
		p, err = scanPhone(x.row(`SELECT `+phoneColumns+` FROM phones
			WHERE code = ? AND code <> '' AND code_until > ? AND code_made <= ?`, code, micros(now), micros(latest)).Scan)
		if err != nil {
			return err
		}
		p.CodeMade, p.CodeUntil, p.LetIn, p.Seen = time.Time{}, time.Time{}, now, now
		return x.one(`UPDATE phones SET code = '', code_made = 0, code_until = 0, session = ?, let_in = ?, seen = ?
			WHERE id = ?`, session, micros(now), micros(now), p.ID)
	})
	return p, err
}

// PhoneOf finds the phone of a session that was seen after a moment.
func (db *DB) PhoneOf(ctx context.Context, session string, after time.Time) (*shop.Phone, error) {
	return find(ctx, db, "phone", scanPhone,
		`SELECT `+phoneColumns+` FROM phones WHERE session = ? AND session <> '' AND seen > ?`, session, micros(after))
}

// SeePhone keeps when a phone was last here.
func (db *DB) SeePhone(ctx context.Context, id string, now time.Time) error {
	return db.note(ctx, "phone", func(x *tx) error {
		return x.one(`UPDATE phones SET seen = ? WHERE id = ?`, micros(now), id)
	})
}

// DropPhone forgets a phone and with it its session, and what was made by it.
func (db *DB) DropPhone(ctx context.Context, id string) error {
	return db.change(ctx, "phone", func(x *tx) error { return dropMaker(x, "phones", id) })
}

// DropPhones forgets those that never came in and those long away.
func (db *DB) DropPhones(ctx context.Context, codes, seen time.Time) error {
	return db.change(ctx, "phone", func(x *tx) error {
		_, err := x.exec(`DELETE FROM phones WHERE let_in = 0 AND code_until <= ? OR let_in > 0 AND seen <= ?`,
			micros(codes), micros(seen))
		return err
	})
}
