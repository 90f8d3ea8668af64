package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"needlepace/store/internal/dbstore"
)

// The trail is written by triggers, made of the columns that tables have: what
// is changed leaves its trail whoever changes it.

// trailTriggers are the triggers that a database of this form has, by name.
func trailTriggers(ctx context.Context, db asker) (map[string]string, error) {
	all, err := dbstore.TrailTriggers(func(table string) ([]dbstore.Column, error) { return columnsOf(ctx, db, table) },
		func(row string, columns []dbstore.Column) string {
			var all []string
			for _, c := range columns {
				value := row + "." + c.Name
				if c.Type == dbstore.Blob {
					value = "hex(" + value + ")"
				}
				all = append(all, "'"+c.Name+"', "+value)
			}
			return "json_object(" + strings.Join(all, ", ") + ")"
		}, "IS NOT")
	out := map[string]string{}
	for _, t := range all {
		when := ""
		if t.When != "" {
			when = " WHEN " + t.When
		}
		out[t.Name] = fmt.Sprintf("CREATE TRIGGER %s AFTER %s ON %s%s BEGIN %s; END", t.Name, t.Verb, t.Table, when, t.Insert)
	}
	return out, err
}

// asker is a database or a transaction of one.
type asker interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

func columnsOf(ctx context.Context, db asker, table string) (all []dbstore.Column, err error) {
	rows, err := db.QueryContext(ctx, `SELECT name, type, "notnull" = 0 AND pk = 0, pk FROM pragma_table_info(?) ORDER BY cid`, table)
	if err != nil {
		return nil, err
	}
	defer rows.Close() //nolint:errcheck // Err tells
	for rows.Next() {
		var c dbstore.Column
		if err := rows.Scan(&c.Name, &c.Type, &c.Null, &c.Key); err != nil {
			return nil, err
		}
		all = append(all, c)
	}
	return all, rows.Err()
}

// keepTrails makes the triggers those of this program, where they are not.
func keepTrails(ctx context.Context, db *sql.DB) (err error) {
	want, err := trailTriggers(ctx, db)
	if err != nil {
		return err
	}
	have, err := triggersThere(ctx, db)
	if err != nil {
		return err
	}
	var stmts []string
	for name, text := range have {
		if want[name] != text {
			stmts = append(stmts, "DROP TRIGGER "+name)
		}
	}
	for name, text := range want {
		if have[name] != text {
			stmts = append(stmts, text)
		}
	}
	return allOrNone(ctx, db, stmts)
}

// dropTrails takes the triggers away: a change of the form leaves no trail.
func dropTrails(ctx context.Context, db *sql.DB) error {
	have, err := triggersThere(ctx, db)
	if err != nil {
		return err
	}
	var stmts []string
	for name := range have {
		stmts = append(stmts, "DROP TRIGGER "+name)
	}
	return allOrNone(ctx, db, stmts)
}

func triggersThere(ctx context.Context, db *sql.DB) (map[string]string, error) {
	rows, err := db.QueryContext(ctx, `SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'trail\_%' ESCAPE '\'`)
	if err != nil {
		return nil, err
	}
	defer rows.Close() //nolint:errcheck // Err tells
	out := map[string]string{}
	for rows.Next() {
		var name, text string
		if err := rows.Scan(&name, &text); err != nil {
			return nil, err
		}
		out[name] = text
	}
	return out, rows.Err()
}

func allOrNone(ctx context.Context, db *sql.DB, stmts []string) (err error) {
	if len(stmts) == 0 {
		return nil
	}
	t, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, t.Rollback())
		}
	}()
	for _, s := range stmts {
		if _, err := t.ExecContext(ctx, s); err != nil {
			return err
		}
	}
	return t.Commit()
}
