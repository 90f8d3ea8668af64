// Package dbstore meets shop.Store with SQL on database/sql, in words that both
// engines know. What belongs to an engine (opening, migrations, what an error
// means) is in packages sqlite and postgres; how they speak is an Engine.
package dbstore

import (
	"context"
	"database/sql"
	"errors"
	"math/rand/v2"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// Kind is what an engine's error means.
type Kind int

// The kinds of error.
const (
	Other    Kind = iota
	Unique        // a key is there already
	Foreign       // it refers to what is not there
	Full          // no room left
	Damaged       // the database is not sound
	Locked        // somebody else holds it too long
	ReadOnly      // nothing can be written
	Again         // another change was in its way: done again, it may go well
	NotText       // a text that the engine cannot keep
	Away          // the server does not answer
)

// DB is a store on a database that is open and migrated.
type DB struct {
	// Write is for changes, one at a time where the engine wants that; Read for
	// the rest.
	Write, Read *sql.DB
	// Engine is how the engine speaks.
	Engine
	// Now is the time of day, for acts that do not say when they are done.
	Now func() time.Time

	seen shop.Kept[book.Seen]
}

var _ shop.Store = (*DB)(nil)

// Engine is how an engine speaks where the two differ.
type Engine struct {
	// Classify says what an error means.
	Classify func(error) Kind
	// Put turns a query with ? for each argument, and the arguments, into the
	// engine's; nil: as they are.
	Put func(query string, args []any) (string, []any)
	// Begin is done first in every change; empty: nothing.
	Begin string
	// Clean is a text as it can be kept; nil: as it is.
	Clean func(string) string
	// Find is how words are found.
	Find FindWords
}

// Close closes both.
func (db *DB) Close() error {
	if db.Read == db.Write {
		return db.Write.Close()
	}
	return errors.Join(db.Read.Close(), db.Write.Close())
}

// errNone says that no row was there.
var errNone = errors.New("no such row")

// asked is what is said of things that an operator may ask for, in the catalogue.
var asked = map[string]words.Message{
	"design": words.Say("refused.no-such-design"), "machine": words.Say("refused.no-such-machine"), "timing": words.Say("refused.no-such-timing"),
	"visit": words.Say("refused.no-such-visit"),
}

// tell puts an engine's error into the shop's. what is what was looked for or
// changed, e.g. "design".
func (db *DB) tell(err error, what string) error {
	var e *shop.Error
	switch {
	case err == nil:
		return nil
	case errors.As(err, &e):
		return err
	case errors.Is(err, errNone), errors.Is(err, sql.ErrNoRows):
		if m, ok := asked[what]; ok {
			return shop.Saying(shop.NotFound, m)
		}
		return shop.Errorf(shop.NotFound, "there is no such %s", what)
	case errors.Is(err, context.DeadlineExceeded):
		return &shop.Error{Code: shop.Stopped, Text: "it took too long and was stopped before the end", Err: err}
	case errors.Is(err, context.Canceled):
		return &shop.Error{Code: shop.Stopped, Text: "stopped before the end", Err: err}
	}
	switch db.Classify(err) {
	case Unique:
		return shop.Errorf(shop.Conflict, "there is such a %s already", what)
	case Foreign:
		return shop.Errorf(shop.NotFound, "the %s refers to something that is not there", what)
	case Full:
		return saying(shop.Storage, words.Say("refused.full"), err)
	case Damaged:
		return saying(shop.Storage, words.Say("refused.damaged"), err)
	case NotText:
		return shop.Invalidf("the %s has a text with signs that cannot be kept; write it without them", what)
	case Away:
		return saying(shop.Storage, words.Say("refused.away"), err)
	case Locked, Again:
		return saying(shop.Busy, words.Say("refused.taken"), err)
	}
	if db.Classify(err) == ReadOnly {
		return saying(shop.Storage, words.Say("refused.read-only"), err)
	}
	return saying(shop.Storage, words.Say("refused.storage"), err)
}

// saying is an error that users read, and its cause.
func saying(code shop.Code, m words.Message, cause error) error {
	e := shop.Saying(code, m)
	e.Err = cause
	return e
}

// note is change for what no person did: that somebody was here, what is computed
// anew where it is lost. No trail is kept of it.
func (db *DB) note(ctx context.Context, what string, do func(*tx) error) error {
	return db.inOne(ctx, what, func(x *tx) error {
		if err := do(x); err != nil {
			return err
		}
		_, err := x.exec(`DELETE FROM trail WHERE change IS NULL`)
		return err
	})
}

// change does something in one transaction, and notes what it changed under the
// context's act.
func (db *DB) change(ctx context.Context, what string, do func(*tx) error) error {
	return db.changeAs(ctx, what, nil, do)
}

// changeAs is change where it is said whose change it is; nil: as it is found.
func (db *DB) changeAs(ctx context.Context, what string, as *shop.Changed, do func(*tx) error) error {
	act, id := shop.ActOf(ctx), int64(0)
	err := db.inOne(ctx, what, func(x *tx) (err error) {
		if err := do(x); err != nil {
			return err
		}
		id, err = x.keepTrail(act, db.at(act), as)
		return err
	})
	if err == nil && id != 0 {
		act.Change.Store(id)
	}
	return err
}

// at is when an act is done.
func (db *DB) at(act *shop.Act) time.Time {
	if act.At.IsZero() {
		return db.Now()
	}
	return act.At
}

// inOne does something in one transaction.
func (db *DB) inOne(ctx context.Context, what string, do func(*tx) error) error {
	const most = 8
	for try := 1; ; try++ {
		err := db.once(ctx, do)
		if err == nil || try == most || db.Classify(err) != Again {
			return db.tell(err, what)
		}
		select { // a little longer each time, and not all at the same moment
		case <-time.After(time.Duration(rand.Int64N(int64(try * 10 * int(time.Millisecond))))):
		case <-ctx.Done():
			return db.tell(ctx.Err(), what)
		}
	}
}

func (db *DB) once(ctx context.Context, do func(*tx) error) error {
	t, err := db.Write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer t.Rollback() //nolint:errcheck // after Commit it does nothing
	x := &tx{ctx: ctx, t: asker{&db.Engine, t}}
	if db.Begin != "" {
		if _, err := x.exec(db.Begin); err != nil {
			return err
		}
	}
	if err := do(x); err != nil {
		return err
	}
	if err = t.Commit(); err != nil && db.Classify(err) == Away {
		return &shop.Error{Code: shop.Storage, Text: "the database's server went away at the very end: whether it was " +
			"kept is not known; look at it before you do it again", Err: err}
	}
	return err
}

// asker asks a database or a transaction, with ? for each argument.
type asker struct {
	e *Engine
	q interface {
		ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
		QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
		QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
	}
}

func (a asker) put(s string, args []any) (string, []any) {
	if a.e.Put == nil {
		return s, args
	}
	return a.e.Put(s, args)
}

// ExecContext is as that of package sql.
func (a asker) ExecContext(ctx context.Context, s string, args ...any) (sql.Result, error) {
	s, args = a.put(s, args)
	return a.q.ExecContext(ctx, s, args...)
}

// QueryContext is as that of package sql.
func (a asker) QueryContext(ctx context.Context, s string, args ...any) (*sql.Rows, error) {
	shop.Note(ctx, PartsOf(s))
	s, args = a.put(s, args)
	return a.q.QueryContext(ctx, s, args...)
}

// QueryRowContext is as that of package sql.
func (a asker) QueryRowContext(ctx context.Context, s string, args ...any) *sql.Row {
	shop.Note(ctx, PartsOf(s))
	s, args = a.put(s, args)
	return a.q.QueryRowContext(ctx, s, args...)
}

func (db *DB) read() asker { return asker{&db.Engine, db.Read} }

// tx is a transaction.
type tx struct {
	ctx context.Context
	t   asker
	// told is what it changes where that leaves no trail: it is told of, and not taken back.
	told *shop.Changed
}

func (t *tx) exec(s string, args ...any) (rows int64, err error) {
	r, err := t.t.ExecContext(t.ctx, s, args...)
	if err != nil {
		return 0, err
	}
	return r.RowsAffected()
}

// one is exec where a row must be there.
func (t *tx) one(s string, args ...any) error {
	n, err := t.exec(s, args...)
	if err == nil && n == 0 {
		return errNone
	}
	return err
}

func (t *tx) row(s string, args ...any) *sql.Row {
	return t.t.QueryRowContext(t.ctx, s, args...)
}

func (db *DB) row(ctx context.Context, s string, args ...any) *sql.Row {
	return db.read().QueryRowContext(ctx, s, args...)
}

// scan reads a row into what it is given.
type scan = func(...any) error

// find reads the one row of a query; what is what it should be, e.g. "design".
func find[T any](ctx context.Context, db *DB, what string, read func(scan) (T, error), s string, args ...any) (
	T, error,
) {
	v, err := read(db.row(ctx, s, args...).Scan)
	if err != nil {
		var none T
		return none, db.tell(err, what)
	}
	return v, nil
}

// list reads all rows of a query.
func list[T any](
	ctx context.Context, db *DB, what string, read func(scan) (T, error), s string, args ...any,
) (all []T, err error) {
	err = db.each(ctx, func(row scan) error {
		v, err := read(row)
		all = append(all, v)
		return err
	}, s, args...)
	return all, db.tell(err, what)
}

// each calls do with every row.
func (db *DB) each(ctx context.Context, do func(scan) error, s string, args ...any) error {
	rows, err := db.read().QueryContext(ctx, s, args...)
	if err != nil {
		return err
	}
	defer rows.Close() //nolint:errcheck // Err tells
	for rows.Next() {
		if err := do(rows.Scan); err != nil {
			return err
		}
	}
	return rows.Err()
}

func micros(t time.Time) int64 { return t.UnixMicro() }

func flag(b bool) int {
	if b {
		return 1
	}
	return 0
}

func fold(s string) string { return shop.Fold(s) }

func sortKey(s string) string { return shop.SortKey(s) }

// marks is "?, ?, ?" for a list.
func marks(n int) string { return strings.TrimSuffix(strings.Repeat("?, ", n), ", ") }

func anys(list ...[]string) (out []any) {
	for _, l := range list {
		for _, s := range l {
			out = append(out, s)
		}
	}
	return out
}
