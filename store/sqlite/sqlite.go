// Package sqlite keeps a shop in one SQLite file (pure Go, no server).
//
// What is promised: when a change is acknowledged it is on disk. The file is in
// WAL mode with synchronous=FULL, so that neither the death of the process nor
// a power cut loses an acknowledged change or leaves half of one. Designs'
// files are in the database and not beside it: a design and its bytes are kept
// in one transaction, a backup is one consistent file, and files of this size
// (kilobytes to a few megabytes) are no slower to read from a row.
//
// Several processes may have a shop open: the page is served while a command
// takes in an order. Each has one connection that writes and several that read
// and never wait for it; a change of another process is waited for, which takes
// moments. Only a new form of the database and a restore want it alone.
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
	"time"

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
	lock *sql.DB // shared with other processes
	page *sql.DB // not shared; nil: this process serves no page
}

// Open opens a shop's database, makes it where it is not there, and brings it
// to this program's form, for which nobody else may have it open. A file made by
// a newer program is an error.
func Open(ctx context.Context, path string) (*Store, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("the shop's database: %w", err)
	}
	if err := os.MkdirAll(filepath.Dir(abs), 0o700); err != nil {
		return nil, fmt.Errorf("the shop's database: %w", err)
	}
	s := &Store{path: abs}
	alone, err := lockFile(abs + ".lock")
	if err != nil {
		return nil, err
	}
	s.lock = alone.db
	first, err := alone.first(ctx)
	if err != nil {
		return nil, errors.Join(err, s.lock.Close())
	}
	ok := false
	defer func() {
		if !ok {
			s.lock.Close() //nolint:errcheck // the first error counts
		}
	}()
	if f, err := os.OpenFile(abs, os.O_CREATE|os.O_RDWR, 0o600); err != nil { // only the shop's own user may read it
		return nil, fmt.Errorf("the shop's database: %w", err)
	} else if err := f.Close(); err != nil {
		return nil, fmt.Errorf("the shop's database: %w", err)
	}
	write, err := sql.Open("sqlite", dsn(abs, "_txlock=immediate", busy, "journal_mode(WAL)", "synchronous(FULL)",
		"foreign_keys(1)"))
	if err != nil {
		return nil, fmt.Errorf("the shop's database: %w", err)
	}
	write.SetMaxOpenConns(1)
	read, err := sql.Open("sqlite", dsn(abs, "", busy, "foreign_keys(1)", "query_only(1)"))
	if err != nil {
		return nil, errors.Join(fmt.Errorf("the shop's database: %w", err), write.Close())
	}
	read.SetMaxOpenConns(max(4, 2*runtime.GOMAXPROCS(0)))
	read.SetMaxIdleConns(max(4, 2*runtime.GOMAXPROCS(0)))
	s.DB = &dbstore.DB{Write: write, Read: read, Classify: classify}
	if err := migrate(ctx, write, first); err != nil {
		return nil, errors.Join(fmt.Errorf("%s: %w", path, err), s.DB.Close())
	}
	if err := alone.share(ctx); err != nil {
		return nil, errors.Join(err, s.DB.Close())
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
	u := url.URL{Scheme: "file", Opaque: (&url.URL{Path: filepath.ToSlash(path)}).EscapedPath(),
		RawQuery: strings.Join(q, "&")}
	return u.String()
}

// Serve says that this process serves the shop's page. Another one that does is
// Busy.
func (s *Store) Serve(ctx context.Context) error {
	l, err := lockFile(s.path + ".serving")
	if err != nil {
		return err
	}
	if err := l.alone(ctx); err != nil {
		return errors.Join(err, l.db.Close())
	}
	s.page = l.db
	return nil
}

// lock is a tiny database beside the shop's, whose transactions keep processes
// out of each other's way. Every system releases them when the process dies,
// however it dies.
type lock struct {
	db   *sql.DB
	path string
}

// A change of the database's form is waited for as long as a change; who may
// have it alone is known at once.
const (
	waitForForm = 10 * time.Second
	waitAlone   = 200 * time.Millisecond
)

func lockFile(path string) (*lock, error) {
	db, err := sql.Open("sqlite", dsn(path, ""))
	if err != nil {
		return nil, fmt.Errorf("the shop's database: %w", err)
	}
	db.SetMaxOpenConns(1) // the transaction is the connection's
	return &lock{db, path}, nil
}

func (l *lock) do(ctx context.Context, wait time.Duration, stmts ...string) error {
	stmts = append([]string{fmt.Sprintf("PRAGMA busy_timeout = %d", wait.Milliseconds())}, stmts...)
	for _, stmt := range stmts {
		if _, err := l.db.ExecContext(ctx, stmt); err != nil {
			return err
		}
	}
	return nil
}

// alone keeps every other process out; where one is in, it is Busy.
func (l *lock) alone(ctx context.Context) error {
	err := l.do(ctx, waitAlone, "BEGIN EXCLUSIVE")
	switch {
	case err == nil:
		return nil
	case classify(err) == dbstore.Locked:
		return shop.Errorf(shop.Busy, "the shop is in use by another needlepace; stop that one first")
	}
	return fmt.Errorf("lock %s: %w", l.path, err)
}

// first is alone where no other process has the shop open, and else waits until
// one that is bringing it to its form lets others in.
func (l *lock) first(ctx context.Context) (bool, error) {
	err := l.alone(ctx)
	if shop.CodeOf(err) == shop.Busy {
		return false, l.share(ctx)
	}
	return err == nil, err
}

// share lets others in that share it too.
func (l *lock) share(ctx context.Context) error {
	_, _ = l.db.ExecContext(ctx, "ROLLBACK") // what was held alone, if it was
	err := l.do(ctx, waitForForm, "BEGIN", "SELECT count(*) FROM sqlite_master")
	if err != nil && classify(err) == dbstore.Locked {
		return shop.Errorf(shop.Busy,
			"the shop is being changed by another needlepace; try again when that one is done")
	}
	if err != nil {
		return fmt.Errorf("lock %s: %w", l.path, err)
	}
	return nil
}

// migrate brings a database to this program's form; alone says that nobody else
// has it open.
func migrate(ctx context.Context, db *sql.DB, alone bool) error {
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
		return shop.Errorf(shop.Unsupported,
			"the database was made by a newer needlepace (form %d, this program knows %d); use that one", have, target)
	}
	if have == target {
		return nil
	}
	if !alone {
		return shop.Errorf(shop.Busy, "the shop is in use by an older needlepace; stop that one first")
	}
	_, err = p.Up(ctx)
	return err
}

// Close writes what the WAL holds into the file and lets the shop go.
func (s *Store) Close() error {
	err := errors.Join(s.DB.Close(), s.lock.Close())
	if s.page != nil {
		err = errors.Join(err, s.page.Close())
	}
	return err
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
