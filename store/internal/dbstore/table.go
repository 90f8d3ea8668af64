package dbstore

import (
	"context"
	"database/sql"
	"fmt"

	"needlepace/shop"
)

// Type is what a column holds.
type Type string

// The types of columns.
const (
	Integer Type = "INTEGER"
	Real    Type = "REAL"
	Text    Type = "TEXT"
	Blob    Type = "BLOB"
)

// Column is a column of a table.
type Column struct {
	Name string
	Type Type
	Null bool // it may hold nothing
	Key  int  // its place in the primary key, from 1; 0: it is not of it
}

// Table is a table of a shop.
type Table struct {
	Name    string
	Columns []Column
}

// ChangedFiles reads every file in a shop and says which are not what came in, by
// their digests.
func ChangedFiles(ctx context.Context, db *sql.DB) (problems []string, err error) {
	for _, c := range []struct{ query, what string }{
		{"SELECT d.name, d.digest, c.content FROM designs d JOIN contents c ON c.design_id = d.id", "the files of %d designs"},
		{"SELECT f.name, f.digest, c.content FROM visit_files f JOIN visit_contents c USING (visit_id, digest)", "%d files of visits"},
	} {
		changed, err := changedFiles(ctx, db, c.query)
		if err != nil {
			return nil, err
		}
		if len(changed) > 0 {
			problems = append(problems, fmt.Sprintf(c.what+" are not what came in, e.g. %s", len(changed), changed[0]))
		}
	}
	return problems, nil
}

func changedFiles(ctx context.Context, db *sql.DB, query string) (changed []string, err error) {
	rows, err := db.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer rows.Close() //nolint:errcheck // Err tells
	for rows.Next() {
		var name, digest string
		var content sql.RawBytes
		if err := rows.Scan(&name, &digest, &content); err != nil {
			return nil, err
		}
		if shop.Digest(content) != digest {
			changed = append(changed, name)
		}
	}
	return changed, rows.Err()
}
