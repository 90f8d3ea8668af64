package dbstore

import (
	"context"

	"needlepace/shop"
)

// Lists are an account's.
func (db *DB) Lists(ctx context.Context, account string) ([]*shop.List, error) {
	return list(ctx, db, "list", func(scan scan) (*shop.List, error) {
		var l shop.List
		err := scan(&l.ID, &l.Account, &l.Of, &l.Name, &l.Query)
		return &l, err
	}, `SELECT id, account_id, of_things, name, query FROM lists WHERE account_id = ? ORDER BY of_things, name_key, id`, account)
}

// SaveList keeps a list.
func (db *DB) SaveList(ctx context.Context, l *shop.List) error {
	return db.change(ctx, "list", func(x *tx) error {
		_, err := x.exec(`INSERT INTO lists (id, account_id, of_things, name, name_key, query) VALUES (`+marks(6)+`)
			ON CONFLICT (id) DO UPDATE SET name = excluded.name, name_key = excluded.name_key, query = excluded.query`,
			l.ID, l.Account, l.Of, l.Name, sortKey(l.Name), l.Query)
		return err
	})
}

// DropList forgets a list.
func (db *DB) DropList(ctx context.Context, id string) error {
	return db.change(ctx, "list", func(x *tx) error { return x.one(`DELETE FROM lists WHERE id = ?`, id) })
}
