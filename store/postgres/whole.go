package postgres

import (
	"context"
	"database/sql"

	"needlepace/store/internal/dbstore"
)

// Tables are the shop's tables, as they were made.
func (s *Store) Tables(ctx context.Context) (all []dbstore.Table, err error) {
	names, err := texts(ctx, s.Read, `SELECT relname FROM pg_class WHERE relnamespace = current_schema()::regnamespace
		AND relkind = 'r' AND relname NOT LIKE 'goose\_%' AND relname NOT LIKE 'river\_%' ORDER BY oid`)
	if err != nil {
		return nil, told(s.shown, err)
	}
	for _, name := range names {
		columns, err := columnsOf(ctx, s.Read, name)
		if err != nil {
			return nil, told(s.shown, err)
		}
		all = append(all, dbstore.Table{Name: name, Columns: columns})
	}
	return all, nil
}

func texts(ctx context.Context, db asker, query string) (all []string, err error) {
	rows, err := db.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer rows.Close() //nolint:errcheck // Err tells
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			return nil, err
		}
		all = append(all, s)
	}
	return all, rows.Err()
}

// Reading does something while all is as it was when it began; others go on.
func (s *Store) Reading(ctx context.Context, do func(*sql.Tx) error) error {
	t, err := s.Read.BeginTx(ctx, &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true})
	if err != nil {
		return told(s.shown, err)
	}
	defer t.Rollback() //nolint:errcheck // nothing was changed
	return told(s.shown, do(t))
}

// Filling does something in one transaction, in which no trigger of the shop works.
func (s *Store) Filling(ctx context.Context, do func(*sql.Tx) error) error {
	tables, err := s.Tables(ctx)
	if err != nil {
		return err
	}
	return told(s.shown, func() error {
		t, err := s.Write.BeginTx(ctx, nil)
		if err != nil {
			return err
		}
		defer t.Rollback() //nolint:errcheck // after Commit it does nothing
		turn := func(how string) error {
			for _, table := range tables {
				if _, err := t.ExecContext(ctx, "ALTER TABLE "+table.Name+" "+how+" TRIGGER USER"); err != nil {
					return err
				}
			}
			return nil
		}
		if _, err := t.ExecContext(ctx, engine.Begin); err != nil {
			return err
		}
		if err := turn("DISABLE"); err != nil {
			return err
		}
		if err := do(t); err != nil {
			return err
		}
		// What counts up by itself goes on after the highest.
		counts, err := texts(ctx, t, `SELECT format('SELECT setval(%L, (SELECT coalesce(max(%I), 0) + 1 FROM %I), false)',
			pg_get_serial_sequence(c.relname, a.attname), a.attname, c.relname)
			FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid
			WHERE a.attidentity <> '' AND c.relkind = 'r' AND c.relnamespace = current_schema()::regnamespace
			AND c.relname NOT LIKE 'goose\_%' AND c.relname NOT LIKE 'river\_%'`)
		if err != nil {
			return err
		}
		for _, c := range counts {
			if _, err := t.ExecContext(ctx, c); err != nil {
				return err
			}
		}
		if err := turn("ENABLE"); err != nil {
			return err
		}
		return t.Commit()
	}())
}
