package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"

	"needlepace/shop"
	"needlepace/store/internal/dbstore"
)

// Tables are the shop's tables, as they were made; the index of words is made anew.
func (s *Store) Tables(ctx context.Context) (all []dbstore.Table, err error) {
	names, err := texts(ctx, s.Read, `SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite\_%' ESCAPE '\'
		AND name NOT LIKE 'goose\_%' ESCAPE '\' AND name NOT LIKE 'find\_words%' ESCAPE '\' ORDER BY rowid`)
	if err != nil {
		return nil, told(s.path, err)
	}
	for _, name := range names {
		columns, err := columnsOf(ctx, s.Read, name)
		if err != nil {
			return nil, told(s.path, err)
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

// Alone keeps every other process out until the shop is closed; where one has it
// open, it is Busy.
func (s *Store) Alone(ctx context.Context) error {
	if s.lock == nil {
		return nil // nothing can be changed
	}
	_, _ = s.lock.ExecContext(ctx, "ROLLBACK") // what was shared
	return (&lock{s.lock, s.path + ".lock"}).alone(ctx)
}

// Reading does something while all is as it was when it began; others go on.
func (s *Store) Reading(ctx context.Context, do func(*sql.Tx) error) error {
	t, err := s.Read.BeginTx(ctx, nil)
	if err != nil {
		return told(s.path, err)
	}
	defer t.Rollback() //nolint:errcheck // nothing was changed
	return told(s.path, do(t))
}

// Filling does something in one transaction, in which the shop has no triggers.
func (s *Store) Filling(ctx context.Context, do func(*sql.Tx) error) error {
	return told(s.path, func() error {
		t, err := s.Write.BeginTx(ctx, nil)
		if err != nil {
			return err
		}
		defer t.Rollback() //nolint:errcheck // after Commit it does nothing
		drop, err := texts(ctx, t, `SELECT 'DROP TRIGGER ' || name FROM sqlite_master WHERE type = 'trigger'`)
		if err != nil {
			return err
		}
		after, err := texts(ctx, t, `SELECT sql FROM sqlite_master WHERE type = 'trigger'`)
		if err != nil {
			return err
		}
		for _, q := range drop {
			if _, err := t.ExecContext(ctx, q); err != nil {
				return err
			}
		}
		if err := do(t); err != nil {
			return err
		}
		for _, q := range append(after, `INSERT INTO find_words (find_words) VALUES ('rebuild')`) {
			if _, err := t.ExecContext(ctx, q); err != nil {
				return err
			}
		}
		return t.Commit()
	}())
}

// Make makes a shop in a file that must not exist: it is there when fill has filled
// it and it was checked, or not at all.
func Make(ctx context.Context, path string, fill func(*Store) error) (Summary, error) {
	if err := mustNotExist(path); err != nil {
		return Summary{}, err
	}
	return put(path, func(tmp string) (Summary, error) {
		s, err := Open(ctx, tmp)
		if err != nil {
			return Summary{}, err
		}
		if err := errors.Join(fill(s), s.Close()); err != nil {
			return Summary{}, err
		}
		return Inspect(ctx, tmp)
	})
}

// OfCopy opens a copy of a shop for something, and leaves the copy as it is.
func OfCopy(ctx context.Context, from string, do func(*Store) error) error {
	if _, err := Inspect(ctx, from); err != nil {
		return err
	}
	folder, err := os.MkdirTemp("", "needlepace-")
	if err != nil {
		return fmt.Errorf("the copy: %w", err)
	}
	defer os.RemoveAll(folder) //nolint:errcheck // only a copy of the copy
	tmp := folder + "/copy.db"
	if err := copyFile(from, tmp); err != nil {
		return err
	}
	s, err := Open(ctx, tmp)
	if err != nil {
		return err
	}
	return errors.Join(do(s), s.Close())
}

var _ shop.Store = (*Store)(nil)
