// Package sqlite keeps a shop in one SQLite file (pure Go, no server).
//
// What is promised: when a change is acknowledged it is on disk. The file is in
// WAL mode with synchronous=FULL, so that neither the death of the process nor
// a power cut loses an acknowledged change or leaves half of one. Designs'
// files are in the database and not beside it: a design and its bytes are kept
// in one transaction, a backup is one consistent file, and files of this size
// (kilobytes to a few megabytes) are no slower to read from a row.
//
// One process holds a shop at a time (Open takes a lock), with one connection
// that writes and several that read and never wait for it.
package sqlite

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"github.com/pressly/goose/v3"
	"modernc.org/sqlite"
	lib "modernc.org/sqlite/lib"

	"needlepace/shop"
	"needlepace/store/internal/dbstore"
)

//go:embed migrations/*.sql
var migrations embed.FS

// busy is how long a connection waits for another one's lock: a checkpoint
// or a backup holds it for moments.
const busy = "busy_timeout(10000)"

// Store is a shop's database.
type Store struct {
	*dbstore.DB
	path string
	lock *sql.DB
}

// Open opens a shop's database, makes it where it is not there, and brings it
// to this program's form. Another process that has it open is an error, and so
// is a file made by a newer program.
func Open(ctx context.Context, path string) (*Store, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("sqlite: %w", err)
	}
	if err := os.MkdirAll(filepath.Dir(abs), 0o700); err != nil {
		return nil, fmt.Errorf("sqlite: %w", err)
	}
	s := &Store{path: abs}
	if s.lock, err = hold(ctx, abs+".lock"); err != nil {
		return nil, err
	}
	ok := false
	defer func() {
		if !ok {
			s.lock.Close() //nolint:errcheck // the first error counts
		}
	}()
	if f, err := os.OpenFile(abs, os.O_CREATE|os.O_RDWR, 0o600); err != nil { // only the shop's own user may read it
		return nil, fmt.Errorf("sqlite: %w", err)
	} else if err := f.Close(); err != nil {
		return nil, fmt.Errorf("sqlite: %w", err)
	}
	write, err := sql.Open("sqlite", dsn(abs, "_txlock=immediate", busy, "journal_mode(WAL)", "synchronous(FULL)", "foreign_keys(1)"))
	if err != nil {
		return nil, fmt.Errorf("sqlite: %w", err)
	}
	write.SetMaxOpenConns(1)
	read, err := sql.Open("sqlite", dsn(abs, "", busy, "foreign_keys(1)", "query_only(1)"))
	if err != nil {
		return nil, errors.Join(fmt.Errorf("sqlite: %w", err), write.Close())
	}
	read.SetMaxOpenConns(max(4, 2*runtime.GOMAXPROCS(0)))
	read.SetMaxIdleConns(max(4, 2*runtime.GOMAXPROCS(0)))
	s.DB = &dbstore.DB{Write: write, Read: read, Dialect: dbstore.Dialect{Classify: classify}}
	if err := migrate(ctx, write); err != nil {
		return nil, errors.Join(fmt.Errorf("sqlite: %s: %w", path, err), s.DB.Close())
	}
	ok = true
	return s, nil
}

// dsn names a database for the driver; the first pragma is the waiting time,
// so that it holds for the others.
func dsn(path, txlock string, pragmas ...string) string {
	var q []string
	for _, p := range pragmas {
		q = append(q, "_pragma="+url.QueryEscape(p))
	}
	if txlock != "" {
		q = append(q, txlock)
	}
	u := url.URL{Scheme: "file", Opaque: (&url.URL{Path: filepath.ToSlash(path)}).EscapedPath(), RawQuery: strings.Join(q, "&")}
	return u.String()
}

// hold takes the lock that keeps a second process out: an exclusive
// transaction on a tiny database, which every system releases when the process
// dies, however it dies.
func hold(ctx context.Context, path string) (*sql.DB, error) {
	db, err := sql.Open("sqlite", dsn(path, "", "busy_timeout(200)", "locking_mode(EXCLUSIVE)"))
	if err != nil {
		return nil, fmt.Errorf("sqlite: %w", err)
	}
	db.SetMaxOpenConns(1)
	for _, stmt := range []string{"CREATE TABLE IF NOT EXISTS held (x)", "BEGIN EXCLUSIVE"} {
		if _, err = db.ExecContext(ctx, stmt); err != nil {
			break
		}
	}
	if err != nil {
		db.Close() //nolint:errcheck // the first error counts
		if classify(err) == dbstore.Locked {
			return nil, shop.Errorf(shop.Busy, "the shop's database is in use by another needlepace; stop that one first")
		}
		return nil, fmt.Errorf("sqlite: lock %s: %w", path, err)
	}
	return db, nil
}

func migrate(ctx context.Context, db *sql.DB) error {
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	p, err := goose.NewProvider(goose.DialectSQLite3, db, files, goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return err
	}
	have, target, err := p.GetVersions(ctx)
	if err != nil {
		return err
	}
	if have > target {
		return shop.Errorf(shop.Unsupported, "the database was made by a newer needlepace (form %d, this program knows %d); use that one", have, target)
	}
	_, err = p.Up(ctx)
	return err
}

// Close writes what the WAL holds into the file and lets the shop go.
func (s *Store) Close() error {
	return errors.Join(s.DB.Close(), s.lock.Close())
}

// classify says what an SQLite error means.
func classify(err error) dbstore.Kind {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return dbstore.Other
	}
	switch e.Code() {
	case lib.SQLITE_CONSTRAINT_UNIQUE, lib.SQLITE_CONSTRAINT_PRIMARYKEY:
		return dbstore.Unique
	case lib.SQLITE_CONSTRAINT_FOREIGNKEY:
		return dbstore.Foreign
	}
	switch e.Code() & 0xff {
	case lib.SQLITE_FULL:
		return dbstore.Full
	case lib.SQLITE_CORRUPT, lib.SQLITE_NOTADB:
		return dbstore.Damaged
	case lib.SQLITE_BUSY, lib.SQLITE_LOCKED:
		return dbstore.Locked
	}
	return dbstore.Other
}
