package postgres

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"slices"
	"strings"

	"needlepace/store/internal/dbstore"
)

// columnsOf are a table's columns.
func columnsOf(ctx context.Context, db asker, table string) (all []dbstore.Column, err error) {
	rows, err := db.QueryContext(ctx, `SELECT a.attname, format_type(a.atttypid, NULL), NOT a.attnotnull,
		coalesce(array_position(i.indkey::int2[], a.attnum), -1) + 1
		FROM pg_attribute a LEFT JOIN pg_index i ON i.indrelid = a.attrelid AND i.indisprimary
		WHERE a.attrelid = to_regclass($1) AND a.attnum > 0 AND NOT a.attisdropped ORDER BY a.attnum`, table)
	if err != nil {
		return nil, err
	}
	defer rows.Close() //nolint:errcheck // Err tells
	for rows.Next() {
		var c dbstore.Column
		if err := rows.Scan(&c.Name, &c.Type, &c.Null, &c.Key); err != nil {
			return nil, err
		}
		if t, ok := map[dbstore.Type]dbstore.Type{"bigint": dbstore.Integer, "double precision": dbstore.Real,
			"text": dbstore.Text, "bytea": dbstore.Blob}[c.Type]; ok {
			c.Type = t
		}
		all = append(all, c)
	}
	return all, rows.Err()
}

// asker is a database or a transaction of one.
type asker interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// trailText makes the functions and triggers that write the trail.
func (s *Store) trailText(ctx context.Context) (string, error) {
	all, err := dbstore.TrailTriggers(func(table string) ([]dbstore.Column, error) { return columnsOf(ctx, s.Write, table) },
		func(row string, columns []dbstore.Column) string {
			var all []string
			for _, c := range columns {
				value := row + "." + c.Name
				if c.Type == dbstore.Blob {
					value = "upper(encode(" + value + ", 'hex'))"
				}
				all = append(all, "'"+c.Name+"', "+value)
			}
			return "json_build_object(" + strings.Join(all, ", ") + ")::text"
		}, "IS DISTINCT FROM")
	var texts []string
	for _, t := range all {
		texts = append(texts, triggerText(t.Name, t.Verb, t.Table, t.When, t.Insert+";"))
	}
	slices.Sort(texts)
	return strings.Join(texts, "\n"), err
}

// keepTrails makes the triggers those of this program, where they are not: which
// ones are there is written on the trail.
func (s *Store) keepTrails(ctx context.Context) error {
	want, err := s.trailText(ctx)
	if err != nil {
		return err
	}
	sum := sha256.Sum256([]byte(want))
	mark := "written by " + hex.EncodeToString(sum[:])
	var have string
	if err := s.Write.QueryRowContext(ctx, `SELECT coalesce(obj_description('trail'::regclass), '')`).Scan(&have); err != nil || have == mark {
		return err
	}
	if err := s.dropTrails(ctx); err != nil {
		return err
	}
	_, err = s.Write.ExecContext(ctx, want+"\nCOMMENT ON TABLE trail IS '"+mark+"'") // one text is one transaction
	return err
}

// dropTrails takes the triggers away: a change of the form leaves no trail.
func (s *Store) dropTrails(ctx context.Context) error {
	_, err := s.Write.ExecContext(ctx, `DO $$ DECLARE f regprocedure; BEGIN
		FOR f IN SELECT oid FROM pg_proc WHERE pronamespace = current_schema()::regnamespace AND proname LIKE 'trail\_%'
		LOOP EXECUTE 'DROP FUNCTION ' || f || ' CASCADE'; END LOOP;
		IF to_regclass('trail') IS NOT NULL THEN COMMENT ON TABLE trail IS NULL; END IF; END $$`)
	return err
}
