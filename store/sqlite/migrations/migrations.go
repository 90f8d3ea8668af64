// Package migrations are the forms that a shop's database went through, oldest
// first, in SQLite's words; package postgres translates them. What only one engine
// has is marked: lines from one with --sqlite to one with --both are SQLite's alone,
// and a line that begins with --postgres is PostgreSQL's alone.
package migrations

import (
	"embed"
	"fmt"
	"io/fs"
)

// Files are the migrations, NNNNN_name.sql.
//
//go:embed *.sql
var Files embed.FS

// Number is the number of a migration's file.
func Number(file string) (n int64, err error) {
	_, err = fmt.Sscanf(file, "%d_", &n)
	return n, err
}

// Newest is the form that this program knows.
func Newest() (known int64, err error) {
	files, err := fs.Glob(Files, "*.sql")
	for _, f := range files {
		n, e := Number(f)
		if e != nil {
			return 0, e
		}
		known = max(known, n)
	}
	return known, err
}
