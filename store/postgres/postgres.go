// Package postgres keeps a shop in a PostgreSQL database, for several pages and
// workers on several computers. Its tables are those of package sqlite.
//
// What is promised is the same: when a change is acknowledged it is on disk
// (synchronous_commit is on), and a change is there whole or not at all. Changes of
// one shop follow each other: each takes the shop's lock first and holds it to its
// end, so what a change is decided by is as it was when it is kept, as with SQLite's
// one writer. Reading never waits. A database may hold several shops, a schema each
// (search_path in the address); their locks are apart.
package postgres

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"
	"golang.org/x/text/runes"
	"golang.org/x/text/transform"
	"golang.org/x/text/unicode/norm"

	"needlepace/shop"
	"needlepace/store/internal/dbstore"
	"needlepace/store/sqlite/migrations"
)

// Store is a shop in a PostgreSQL database.
type Store struct {
	*dbstore.DB
	shown string // its address, without the password
	// schema is where an installation keeps it; empty: where the address leads.
	schema string
	// What says to other processes that the shop is in use is held by a connection of
	// its own, or by the one that all shops of an installation share.
	held holder
	let  func() error // lets it go
}

// holder is a connection that holds locks.
type holder interface {
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// Oldest is the oldest server that is used: triggers are replaced in one step.
const Oldest = 14

// settings of every connection: a change waits ten seconds for others, as with
// SQLite, and is on disk when it is acknowledged.
var settings = map[string]string{"application_name": "needlepace", "timezone": "UTC", "lock_timeout": "10s",
	"synchronous_commit": "on", "standard_conforming_strings": "on", "extra_float_digits": "1"}

// IsAddress reports whether a place of a shop is a database's address.
func IsAddress(place string) bool {
	return strings.HasPrefix(place, "postgres://") || strings.HasPrefix(place, "postgresql://")
}

// Shown is an address for people: without the password.
func Shown(address string) string {
	scheme, rest, _ := strings.Cut(address, "://")
	rest, _, _ = strings.Cut(rest, "?")
	if at := strings.LastIndexByte(rest, '@'); at >= 0 {
		user, _, _ := strings.Cut(rest[:at], ":")
		rest = user + rest[at:]
	}
	return scheme + "://" + rest
}

// The locks of a shop, after a number made of its schema's name.
const (
	lockForm    = 1 // shared by all who have it open; alone: who changes its form or moves it
	lockChanges = 2 // of a change, to its end
	// 3 is of who makes the tables of work in parts (jobs/parts).
	lockCopies = 4 // of who makes a copy because it is due
)

func lockOf(which int) string {
	return fmt.Sprintf("hashtext(coalesce(current_schema(), '')), %d", which)
}

// lock is lockOf for a connection that may look elsewhere.
func (s *Store) lock(which int) string {
	if s.schema == "" {
		return lockOf(which)
	}
	return fmt.Sprintf("hashtext('%s'), %d", s.schema, which) // a name that IsName takes
}

func parsed(address string, reading bool) (*pgx.ConnConfig, error) {
	c, err := pgx.ParseConfig(address)
	if err != nil {
		return nil, shop.Invalidf("%s is no address of a database: write postgres://USER@HOST:PORT/DATABASE", Shown(address))
	}
	for k, v := range settings {
		c.RuntimeParams[k] = v
	}
	if reading {
		c.RuntimeParams["default_transaction_read_only"] = "on"
	}
	return c, nil
}

func connect(address string, reading bool) (*sql.DB, error) {
	c, err := parsed(address, reading)
	if err != nil {
		return nil, err
	}
	db := stdlib.OpenDB(*c)
	db.SetConnMaxIdleTime(5 * time.Minute)
	return db, nil
}

// There reports whether there is a shop at an address. A database that is not there,
// does not answer, or holds something else, is an error.
func There(ctx context.Context, address string) (bool, error) {
	db, err := connect(address, true)
	if err != nil {
		return false, err
	}
	defer db.Close() //nolint:errcheck // only read
	return there(ctx, db, Shown(address))
}

// suits says whether the server is one that a shop can be kept on, and what the schema
// is called that the address leads to; empty for none.
func suits(ctx context.Context, db *sql.DB, shown string) (schema string, err error) {
	var version int
	var encoding string
	if err := db.QueryRowContext(ctx, `SELECT current_setting('server_version_num')::int, current_setting('server_encoding'),
		coalesce(current_schema(), '')`).Scan(&version, &encoding, &schema); err != nil {
		return "", told(shown, err)
	}
	switch {
	case version < Oldest*10_000:
		return "", shop.Errorf(shop.Unsupported, "%s: the server is version %d; at least %d is needed", shown, version/10_000, Oldest)
	case encoding != "UTF8":
		return "", shop.Errorf(shop.Unsupported, "%s keeps text as %s; make a database with the encoding UTF8", shown, encoding)
	}
	return schema, nil
}

func there(ctx context.Context, db *sql.DB, shown string) (bool, error) {
	schema, err := suits(ctx, db, shown)
	if err != nil {
		return false, err
	}
	if schema == "" {
		return false, shop.Errorf(shop.NotFound, "%s: the schema that search_path names is not there; make it first", shown)
	}
	var tables, ours int
	if err := db.QueryRowContext(ctx, `SELECT count(*), count(*) FILTER (WHERE tablename IN ('goose_db_version', 'designs'))
		FROM pg_tables WHERE schemaname = current_schema()`).Scan(&tables, &ours); err != nil {
		return false, told(shown, err)
	}
	if tables > 0 && ours != 2 {
		return false, shop.Errorf(shop.Storage, "%s has tables, but no shop's; it is not opened, and nothing in it was "+
			"changed. Give another database, or a schema of its own (?search_path=NAME)", shown)
	}
	return tables > 0, nil
}

// Open opens a shop's database and brings it to this program's form, for which
// nobody else may have it open; in an empty one it makes a shop. What is no shop's,
// and a newer needlepace's, is an error and left as it is.
func Open(ctx context.Context, address string) (*Store, error) {
	write, err := connect(address, false)
	if err != nil {
		return nil, err
	}
	write.SetMaxOpenConns(4) // changes follow each other anyway
	read, err := connect(address, true)
	if err != nil {
		return nil, errors.Join(err, write.Close())
	}
	read.SetMaxOpenConns(max(4, 2*runtime.GOMAXPROCS(0)))
	read.SetMaxIdleConns(max(4, 2*runtime.GOMAXPROCS(0)))
	s := &Store{DB: &dbstore.DB{Write: write, Read: read, Engine: engine, Now: time.Now}, shown: Shown(address)}
	held, err := write.Conn(ctx)
	if err != nil {
		return nil, errors.Join(told(s.shown, err), s.Close())
	}
	s.held, s.let = held, held.Close
	if err := s.open(ctx); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

func (s *Store) open(ctx context.Context) error {
	alone, err := s.alone(ctx)
	if err != nil {
		return err
	}
	// Who is not alone waits here for one that changes the form.
	if _, err := s.held.ExecContext(ctx, "SELECT pg_advisory_lock_shared("+s.lock(lockForm)+")"); err != nil {
		return told(s.shown, err)
	}
	if _, err := there(ctx, s.Write, s.shown); err != nil {
		return err
	}
	if err := s.migrate(ctx, alone); err != nil {
		return err
	}
	if alone {
		_, err = s.held.ExecContext(ctx, "SELECT pg_advisory_unlock("+s.lock(lockForm)+")")
	}
	return told(s.shown, err)
}

// Turn waits until no other program makes a copy of the shop at an address that is due, and
// keeps others waiting until its end, or this program's.
func Turn(ctx context.Context, address string) (end func(), err error) {
	db, err := connect(address, true)
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1) // the lock is its
	db.SetConnMaxIdleTime(0)
	if _, err := db.ExecContext(ctx, "SELECT pg_advisory_lock("+lockOf(lockCopies)+")"); err != nil {
		db.Close() //nolint:errcheck // the error that counts is the lock's
		return nil, told(Shown(address), err)
	}
	return func() { db.Close() }, nil //nolint:errcheck // the lock goes with it
}

func (s *Store) alone(ctx context.Context) (alone bool, err error) {
	err = s.held.QueryRowContext(ctx, "SELECT pg_try_advisory_lock("+s.lock(lockForm)+")").Scan(&alone)
	return alone, told(s.shown, err)
}

// Alone keeps every other process out until the shop is closed; where one has it
// open, it is Busy.
func (s *Store) Alone(ctx context.Context) error {
	alone, err := s.alone(ctx)
	if err == nil && !alone {
		err = shop.Errorf(shop.Busy, "the shop is in use by another needlepace; stop that one first")
	}
	return err
}

// Serve says that this process serves the shop's page: here several may.
func (*Store) Serve(context.Context) error { return nil }

// ReadOnly says why nothing can be written: here it always can.
func (*Store) ReadOnly() string { return "" }

// Check says whether the database's texts and files are as they came in; the rest
// is looked after by its server.
func (s *Store) Check(ctx context.Context) error {
	changed, err := dbstore.ChangedFiles(ctx, s.Read)
	if err != nil {
		return told(s.shown, err)
	}
	if len(changed) > 0 {
		return shop.Errorf(shop.Storage, "%s is not sound: %s", s.shown, strings.Join(changed, "; "))
	}
	return nil
}

// Close lets the shop go.
func (s *Store) Close() error {
	var err error
	if s.let != nil {
		err = s.let()
		if errors.Is(err, sql.ErrConnDone) {
			err = nil
		}
	}
	return errors.Join(err, s.DB.Close())
}

// migrate brings the database to this program's form.
func (s *Store) migrate(ctx context.Context, alone bool) error {
	files, err := fs.Glob(migrations.Files, "*.sql")
	if err != nil {
		return err
	}
	var all []*goose.Migration
	for _, f := range files {
		n, err := migrations.Number(f)
		if err != nil {
			return err
		}
		text, err := fs.ReadFile(migrations.Files, f)
		if err != nil {
			return err
		}
		up, err := translate(string(text))
		if err != nil {
			return fmt.Errorf("%s: %w", f, err)
		}
		all = append(all, goose.NewGoMigration(n, &goose.GoFunc{RunTx: func(ctx context.Context, t *sql.Tx) error {
			_, err := t.ExecContext(ctx, up)
			return err
		}}, nil))
	}
	if !alone {
		// Nothing is made: the table of forms is there, or whoever makes it is waited for.
		var have int64
		if err := s.Read.QueryRowContext(ctx, "SELECT max(version_id) FROM goose_db_version").Scan(&have); err != nil {
			return told(s.shown, err)
		}
		known, err := migrations.Newest()
		switch {
		case err != nil:
			return err
		case have > known:
			return s.newer(have, known)
		case have < known:
			return shop.Errorf(shop.Busy, "the shop is in use by an older needlepace; stop that one first")
		}
		return nil
	}
	p, err := goose.NewProvider(goose.DialectPostgres, s.Write, nil, goose.WithDisableGlobalRegistry(true),
		goose.WithGoMigrations(all...))
	if err != nil {
		return err
	}
	have, target, err := p.GetVersions(ctx)
	switch {
	case err != nil:
		return told(s.shown, err)
	case have > target:
		return s.newer(have, target)
	case have < target:
		if err := s.dropTrails(ctx); err != nil {
			return told(s.shown, err)
		}
		if _, err := p.Up(ctx); err != nil {
			return told(s.shown, err)
		}
	}
	return told(s.shown, s.keepTrails(ctx))
}

func (s *Store) newer(have, known int64) error {
	return shop.Errorf(shop.Unsupported, "%s was made by a newer needlepace (form %d, this program knows %d); use that one",
		s.shown, have, known)
}

// told puts an error of the engine into words. Its own text is the cause, for logs.
func told(shown string, err error) error {
	if err == nil || shop.ErrorOf(err) != nil {
		return err
	}
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return shop.Errorf(shop.Stopped, "stopped before the end: %w", err)
	}
	text, code := "%s: the database failed; its server's log says why", shop.Storage
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		switch {
		case pg.Code == "3D000":
			return &shop.Error{Code: shop.NotFound, Text: shown + ": there is no such database; make it first (createdb)", Err: err}
		case pg.Code[:2] == "28":
			text = "%s: the server lets this user not in; look at the name and the password"
		case pg.Code == "42501":
			text = "%s: this user may not make tables or triggers there; give the database or the schema to it"
		case pg.Code == "22023" || pg.Code == "42704": // of a new shop, whose words are sorted by ICU
			text = "%s: the server lacks something that is needed (built with ICU)"
		}
	}
	switch classify(err) {
	case dbstore.Full:
		text = "%s: the server's disk is full; make room and do it again"
	case dbstore.Away:
		text = "%s: no server answers there; look whether it runs and at the address"
	case dbstore.Locked, dbstore.Again:
		code, text = shop.Busy, "%s is held by another program; try again when that one is done"
	}
	return &shop.Error{Code: code, Text: fmt.Sprintf(text, shown), Err: err}
}

// classify says what an error means, by its class (PostgreSQL's documentation,
// appendix A).
func classify(err error) dbstore.Kind {
	var pg *pgconn.PgError
	if !errors.As(err, &pg) {
		var dial *pgconn.ConnectError
		var network net.Error
		if errors.As(err, &dial) || errors.As(err, &network) || pgconn.SafeToRetry(err) || strings.Contains(err.Error(), "conn closed") ||
			strings.Contains(err.Error(), "unexpected EOF") {
			return dbstore.Away
		}
		return dbstore.Other
	}
	switch pg.Code {
	case "23505":
		return dbstore.Unique
	case "23503":
		return dbstore.Foreign
	case "53100":
		return dbstore.Full
	case "XX001", "XX002":
		return dbstore.Damaged
	case "40001", "40P01":
		return dbstore.Again
	case "55P03":
		return dbstore.Locked
	case "25006":
		return dbstore.ReadOnly
	case "22021", "22P05":
		return dbstore.NotText
	case "57P01", "57P02", "57P03", "53300":
		return dbstore.Away
	}
	if pg.Code[:2] == "08" {
		return dbstore.Away
	}
	return dbstore.Other
}

// engine is how PostgreSQL speaks.
var engine = dbstore.Engine{
	Classify: classify, Put: put, Clean: Clean,
	Begin: "SELECT pg_advisory_xact_lock(" + lockOf(lockChanges) + ")",
	Find: dbstore.FindWords{
		From:  "find_rows f",
		Where: "f.kind = ? AND find_words(f.words) @@ CAST(? AS tsquery) ORDER BY f.id DESC",
		Words: func(_ string, words []string) string {
			var all []string
			for _, w := range words {
				all = append(all, "'"+plainLetters(w)+"':*")
			}
			return strings.Join(all, " & ")
		},
	},
}

// plainLetters is a word as find_words makes it: without accents.
func plainLetters(s string) string {
	out, _, err := transform.String(transform.Chain(norm.NFKD, runes.Remove(runes.Predicate(func(r rune) bool {
		return r >= 0x300 && r <= 0x36f
	}))), s)
	if err != nil {
		return s
	}
	return strings.Map(unicode.ToLower, out)
}

// put numbers the arguments of a query, keeps yes and no as 1 and 0, as SQLite does,
// and replaces what no text may hold here.
func put(query string, args []any) (string, []any) {
	args = slices.Clone(args)
	for i, a := range args {
		switch a := a.(type) {
		case string:
			args[i] = Clean(a)
		case bool:
			args[i] = 0
			if a {
				args[i] = 1
			}
		}
	}
	if known, ok := numbered.Load(query); ok {
		return known.(string), args
	}
	var b strings.Builder
	n, quoted := 0, false
	for _, r := range query {
		switch {
		case r == '\'':
			quoted = !quoted
		case r == '?' && !quoted:
			n++
			fmt.Fprintf(&b, "$%d", n)
			continue
		}
		b.WriteRune(r)
	}
	if len(query) < 2000 { // those are a few hundred; long ones are lists of any length
		numbered.Store(query, b.String())
	}
	return b.String(), args
}

var numbered sync.Map // queries by themselves

// Clean is a text as it can be kept here: what is no Unicode, and the sign of value
// zero, become U+FFFD.
func Clean(s string) string {
	return strings.ToValidUTF8(strings.ReplaceAll(s, "\x00", "\uFFFD"), "\uFFFD")
}
