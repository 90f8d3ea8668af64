package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"

	"needlepace/store/internal/dbstore"
)

// The trail is written by triggers, made of the columns that tables have: what
// is changed leaves its trail whoever changes it.

// trailTriggers are the triggers that a database of this form has, by name.
func trailTriggers(ctx context.Context, db *sql.DB) (map[string]string, error) {
	out := map[string]string{}
	for _, t := range dbstore.TrailedTables {
		columns, blobs, err := columnsOf(ctx, db, t.Table)
		if err != nil {
			return nil, err
		}
		image := func(row string) string {
			var all []string
			for _, c := range columns {
				if len(t.Only) > 0 && !slices.Contains(t.Only, c) && !slices.Contains(t.Key, c) {
					continue
				}
				value := row + "." + c
				if blobs[c] {
					value = "hex(" + value + ")"
				}
				all = append(all, "'"+c+"', "+value)
			}
			return "json_object(" + strings.Join(all, ", ") + ")"
		}
		var differ []string
		for _, c := range columns {
			differ = append(differ, "OLD."+c+" IS NOT NEW."+c)
		}
		for _, on := range []struct{ op, verb, row, was, became, when string }{
			{"I", "INSERT", "NEW", "''", image("NEW"), ""},
			{"U", "UPDATE", "NEW", image("OLD"), image("NEW"), "(" + strings.Join(differ, " OR ") + ")"},
			{"D", "DELETE", "OLD", image("OLD"), "''", ""},
		} {
			if t.Added && on.op != "I" {
				continue
			}
			var when []string
			if on.when != "" {
				when = append(when, on.when)
			}
			if t.When != "" {
				when = append(when, strings.ReplaceAll(t.When, "row.", on.row+"."))
			}
			if len(when) > 0 {
				when = []string{" WHEN " + strings.Join(when, " AND ")}
			}
			name := "trail_" + t.Table + "_" + strings.ToLower(on.op)
			out[name] = fmt.Sprintf("CREATE TRIGGER %s AFTER %s ON %s%s BEGIN INSERT INTO trail (tbl, op, was, became) "+
				"VALUES ('%s', '%s', %s, %s); END", name, on.verb, t.Table, strings.Join(when, ""), t.Table, on.op, on.was, on.became)
		}
	}
	return out, nil
}

func columnsOf(ctx context.Context, db *sql.DB, table string) (all []string, blobs map[string]bool, err error) {
	rows, err := db.QueryContext(ctx, "SELECT name, type FROM pragma_table_info(?) ORDER BY cid", table)
	if err != nil {
		return nil, nil, err
	}
	defer rows.Close() //nolint:errcheck // Err tells
	blobs = map[string]bool{}
	for rows.Next() {
		var name, kind string
		if err := rows.Scan(&name, &kind); err != nil {
			return nil, nil, err
		}
		all = append(all, name)
		blobs[name] = kind == "BLOB"
	}
	return all, blobs, rows.Err()
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
