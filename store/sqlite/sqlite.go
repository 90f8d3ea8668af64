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
	"needlepace/store/sqlite/migrations"
)

// busy is how long a connection waits for another one's lock: a checkpoint
// or a backup holds it for moments.
const busy = "busy_timeout(10000)"

// Store is a shop's database.
type Store struct {
	*dbstore.DB
	path     string
	lock     *sql.DB // shared with other processes; nil: nothing can be written
	page     *sql.DB // not shared; nil: this process serves no page
	readOnly string  // why nothing can be written; empty: it can
}

// ReadOnly says why nothing can be written to the shop; empty where it can.
func (s *Store) ReadOnly() string { return s.readOnly }

// Open opens a shop's database and brings it to this program's form, for which
// nobody else may have it open; where nothing is, it makes one. What is there and
// no whole shop (an empty file, a damaged or cut-off one, another program's, one
// of a newer needlepace) is an error and is left as it is. A shop that cannot be
// written, because of the medium, the user or a full disk, is opened for
// reading; see ReadOnly.
func Open(ctx context.Context, path string) (*Store, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("the shop's database: %w", err)
	}
	there, wal, err := look(abs)
	if err != nil {
		return nil, err
	}
	if there {
		if why := cannotWrite(abs); why != "" {
			return openReading(ctx, abs, why, wal, false)
		}
	} else if err := os.MkdirAll(filepath.Dir(abs), 0o700); err != nil {
		return nil, fmt.Errorf("the shop's database: %w", err)
	}
	s := &Store{path: abs}
	alone, err := lockFile(abs + ".lock")
	if err != nil {
		return nil, err
	}
	s.lock = alone.db
	ok := false
	defer func() {
		if !ok {
			s.lock.Close() //nolint:errcheck // the first error counts
		}
	}()
	first, err := alone.first(ctx)
	if there && noRoom(err) {
		return openReading(ctx, abs, "the disk is full", wal, true)
	}
	if err != nil {
		return nil, err
	}
	if there, _, err = look(abs); err != nil { // another process may have made it meanwhile
		return nil, err
	}
	if !there {
		if !first {
			return nil, unreadable(abs, "is gone, though another needlepace has it open")
		}
		if err := makeNew(ctx, abs); err != nil {
			return nil, err
		}
	}
	read, err := sql.Open("sqlite", dsn(abs, "", busy, "foreign_keys(1)", "query_only(1)"))
	if err != nil {
		return nil, told(abs, err)
	}
	read.SetMaxOpenConns(max(4, 2*runtime.GOMAXPROCS(0)))
	read.SetMaxIdleConns(max(4, 2*runtime.GOMAXPROCS(0)))
	s.DB = &dbstore.DB{Write: read, Read: read, Engine: engine, Now: time.Now}
	if err = isShop(ctx, read, abs); err == nil { // before anything is written to it
		if s.Write, err = openWriting(abs); err == nil {
			err = migrate(ctx, s.Write, first, abs)
		}
	}
	if noRoom(err) {
		s.DB.Close()   //nolint:errcheck // it could not be opened
		s.lock.Close() //nolint:errcheck // what was held alone is let go
		return openReading(ctx, abs, "the disk is full", wal, true)
	}
	if err != nil {
		return nil, errors.Join(err, s.DB.Close())
	}
	if err := alone.share(ctx); err != nil {
		return nil, errors.Join(err, s.DB.Close())
	}
	ok = true
	return s, nil
}

// noRoom reports whether a database could not be opened because nothing more can
// be written beside it.
func noRoom(err error) bool {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return false
	}
	switch e.Code() {
	case lib.SQLITE_IOERR_SHMSIZE, lib.SQLITE_IOERR_SHMOPEN, lib.SQLITE_IOERR_SHMMAP, lib.SQLITE_IOERR_WRITE:
		return true
	}
	return e.Code()&0xff == lib.SQLITE_FULL
}

func openWriting(path string) (*sql.DB, error) {
	// What is deleted is written over: an erased visit is not to be read from the file either.
	write, err := sql.Open("sqlite", dsn(path, "_txlock=immediate", busy, "journal_mode(WAL)", "synchronous(FULL)",
		"foreign_keys(1)", "secure_delete(1)"))
	if err != nil {
		return nil, told(path, err)
	}
	write.SetMaxOpenConns(1)
	return write, nil
}

// EraseVisit takes a visit out for good, also from the log of what was written, where pages as
// they were before stand until it is begun anew.
func (s *Store) EraseVisit(ctx context.Context, id string) error {
	if err := s.DB.EraseVisit(ctx, id); err != nil {
		return err
	}
	// Where somebody reads an older state just now the log goes with the next erasure or the next start.
	_, err := s.Write.ExecContext(context.WithoutCancel(ctx), "PRAGMA wal_checkpoint(TRUNCATE)")
	return told(s.path, err)
}

// makeNew makes a shop's database under another name and gives it its name when
// it is whole: it is there whole, or not at all.
func makeNew(ctx context.Context, path string) error {
	tmp := path + ".new"
	for _, end := range []string{"", "-wal", "-shm", "-journal"} { // of one that was killed on the way
		if err := os.Remove(tmp + end); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("the shop's database: %w", err)
		}
	}
	f, err := os.OpenFile(filepath.Clean(tmp), os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o600) // only the shop's own user may read it
	if err != nil {
		return fmt.Errorf("the shop's database: %w", err)
	}
	if err := f.Close(); err != nil {
		return fmt.Errorf("the shop's database: %w", err)
	}
	db, err := openWriting(tmp)
	if err != nil {
		return err
	}
	if err := errors.Join(migrate(ctx, db, true, path), told(path, db.Close())); err != nil {
		return err
	}
	if err := toDisk(tmp); err != nil {
		return err
	}
	if err := os.Rename(tmp, path); err != nil {
		return fmt.Errorf("the shop's database: %w", err)
	}
	return toDisk(filepath.Dir(path))
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
	if s.readOnly != "" {
		return nil // nothing is changed
	}
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
		return nil, told(path, err)
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
	return told(l.path, err)
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
		return told(l.path, err)
	}
	return nil
}

// migrate brings a database to this program's form; alone says that nobody else
// has it open.
func migrate(ctx context.Context, db *sql.DB, alone bool, path string) error {
	p, err := goose.NewProvider(goose.DialectSQLite3, db, migrations.Files, goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return err
	}
	have, target, err := p.GetVersions(ctx)
	if err != nil {
		return told(path, err)
	}
	if have > target {
		return notNewer(ctx, db, path)
	}
	if have < target {
		if !alone {
			return shop.Errorf(shop.Busy, "the shop is in use by an older needlepace; stop that one first")
		}
		if err := dropTrails(ctx, db); err != nil {
			return told(path, err)
		}
		if _, err = p.Up(ctx); err != nil {
			return told(path, err)
		}
	}
	return told(path, keepTrails(ctx, db))
}

// Close writes what the WAL holds into the file and lets the shop go.
func (s *Store) Close() error {
	err := s.DB.Close()
	if s.lock != nil {
		err = errors.Join(err, s.lock.Close())
	}
	if s.page != nil {
		err = errors.Join(err, s.page.Close())
	}
	return err
}

// engine is how SQLite speaks. Its full-text index is find_words.
var engine = dbstore.Engine{Classify: classify, Find: dbstore.FindWords{
	From:  "find_words w JOIN find_rows f ON f.id = w.rowid AND f.kind = ?",
	Where: "w.find_words MATCH ? ORDER BY w.rowid DESC",
	Words: func(kind string, words []string) string {
		return "kind : " + kind + ` AND words : ("` + strings.Join(words, `"* AND "`) + `"*)`
	},
}}

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
	case lib.SQLITE_READONLY:
		return dbstore.ReadOnly
	}
	return dbstore.Other
}
