package dbstore

import (
	"context"
	"database/sql"
	"errors"

	"needlepace/shop"
)

// Setting is the value under a key.
func (db *DB) Setting(ctx context.Context, key string) ([]byte, error) {
	var value string
	err := db.row(ctx, `SELECT value FROM settings WHERE key = ?`, key).Scan(&value)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	return []byte(value), db.tell(err, "setting")
}

// SetSetting keeps a value under a key.
func (db *DB) SetSetting(ctx context.Context, key string, value []byte) error {
	return db.change(ctx, "setting", func(x *tx) error {
		if key == "door" {
			if err := x.tellDoor(string(value)); err != nil {
				return err
			}
		}
		_, err := x.exec(`INSERT INTO settings (key, value) VALUES (?, ?) ON CONFLICT (key)
		DO UPDATE SET value = excluded.value`, key, string(value))
		return err
	})
}

// tellDoor tells of the door for phones where it is opened or shut.
func (x *tx) tellDoor(is string) error {
	was := "shut"
	if err := x.row(`SELECT value FROM settings WHERE key = 'door'`).Scan(&was); err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	if is != was {
		x.told = &shop.Changed{Thing: "door", Verb: map[string]string{"open": "added", "shut": "gone"}[is], Things: 1}
	}
	return nil
}

const setupColumns = `id, kind, name, toml, version, changed`

func scanSetup(scan scan) (*shop.Setup, error) {
	var s shop.Setup
	err := scan(&s.ID, &s.Kind, &s.Name, &s.TOML, &s.Version, moment{&s.Changed})
	return &s, err
}

// Setups lists the setups of a kind by name.
func (db *DB) Setups(ctx context.Context, kind shop.SetupKind) ([]*shop.Setup, error) {
	return list(ctx, db, "setup", scanSetup,
		`SELECT `+setupColumns+` FROM setups WHERE kind = ? ORDER BY name_key, id`, string(kind))
}

// Setup finds a setup.
func (db *DB) Setup(ctx context.Context, id string) (*shop.Setup, error) {
	return find(ctx, db, "setup", scanSetup, `SELECT `+setupColumns+` FROM setups WHERE id = ?`, id)
}

// SaveSetup keeps a setup.
func (db *DB) SaveSetup(ctx context.Context, s *shop.Setup) error {
	return db.change(ctx, "setup", func(x *tx) error {
		if s.Version == 1 {
			_, err := x.exec(`INSERT INTO setups (id, kind, name, name_key, toml, version, changed) VALUES (`+marks(7)+
				`)`,
				s.ID, string(s.Kind), s.Name, sortKey(s.Name), s.TOML, s.Version, micros(s.Changed))
			return err
		}
		n,
			err := x.exec(`UPDATE setups SET name = ?, name_key = ?, toml = ?, version = ?,
		changed = ? WHERE id = ? AND version = ?`,
			s.Name, sortKey(s.Name), s.TOML, s.Version, micros(s.Changed), s.ID, s.Version-1)
		if err != nil || n > 0 {
			return err
		}
		var there int
		if err := x.row(`SELECT version FROM setups WHERE id = ?`, s.ID).Scan(&there); err != nil {
			return err
		}
		return shop.Errorf(shop.Conflict, "this was changed meanwhile: it is at version %d; look at it and do it again",
			there)
	})
}

// DeleteSetup forgets a setup.
func (db *DB) DeleteSetup(ctx context.Context, id string) error {
	return db.change(ctx, "setup", func(x *tx) error { return x.one(`DELETE FROM setups WHERE id = ?`, id) })
}
