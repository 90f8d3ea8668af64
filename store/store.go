// Package store opens a shop where it is kept: in a file, or in a PostgreSQL
// database; and moves it from one place to another.
package store

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"needlepace/shop"
	"needlepace/store/internal/dbstore"
	"needlepace/store/postgres"
	"needlepace/store/sqlite"
)

// Store is a shop that is open, wherever it is kept.
type Store interface {
	shop.Store
	shop.PeopleStore
	dbstore.Whole
	// Serve says that this process serves the shop's page; in a file's shop a second
	// one is Busy.
	Serve(ctx context.Context) error
	// Alone keeps every other process out until Close; where one is in, it is Busy.
	Alone(ctx context.Context) error
	// ReadOnly says why nothing can be written; empty where it can.
	ReadOnly() string
	// Check reads all of it and reports the first things unsound.
	Check(ctx context.Context) error
}

var (
	_ Store = (*sqlite.Store)(nil)
	_ Store = (*postgres.Store)(nil)
)

// Open opens the shop at a place, a file's path or an address postgres://…, and
// makes one where nothing is.
func Open(ctx context.Context, place string) (Store, error) {
	if postgres.IsAddress(place) {
		return opened(postgres.Open(ctx, place))
	}
	return opened(sqlite.Open(ctx, place))
}

func opened[S Store](s S, err error) (Store, error) {
	if err != nil {
		return nil, err
	}
	return s, nil
}

// There reports whether a shop is at a place. A database that does not answer or
// holds something else is an error; of a file only that it is there is looked at.
func There(ctx context.Context, place string) (bool, error) {
	if postgres.IsAddress(place) {
		return postgres.There(ctx, place)
	}
	_, err := os.Stat(place)
	return !errors.Is(err, fs.ErrNotExist), nil
}

// Shown is a place for people: without a password.
func Shown(place string) string {
	if postgres.IsAddress(place) {
		return postgres.Shown(place)
	}
	return place
}

// Move copies all of a shop (its history, its trail and its counts too) to a place
// where none is, and compares what is there then with what was read, table by table;
// all in one transaction. Nobody may have either open; the old one stays as it was.
func Move(ctx context.Context, from, to string) (all []dbstore.Copied, err error) {
	there, err := There(ctx, from)
	if err != nil {
		return nil, err
	}
	if !there {
		return nil, shop.Errorf(shop.NotFound, "there is no shop at %s", Shown(from))
	}
	src, err := Open(ctx, from)
	if err != nil {
		return nil, err
	}
	err = src.Alone(ctx)
	if err == nil {
		all, err = copyTo(ctx, src, to)
	}
	return all, errors.Join(err, src.Close())
}

func copyTo(ctx context.Context, src Store, to string) (all []dbstore.Copied, err error) {
	if !postgres.IsAddress(to) {
		if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
			return nil, shop.Errorf(shop.Storage, "%w", err)
		}
		_, err = sqlite.Make(ctx, to, func(dst *sqlite.Store) (err error) {
			all, err = dbstore.Copy(ctx, src, dst)
			return err
		})
		return all, err
	}
	dst, err := postgres.Open(ctx, to)
	if err != nil {
		return nil, err
	}
	err = dst.Alone(ctx)
	if err == nil {
		all, err = dbstore.Copy(ctx, src, dst)
	}
	return all, errors.Join(err, dst.Close())
}

// Backup writes a copy of the shop at a place to the file to, which must not exist:
// a file's shop, wherever it was kept before. The shop may be in use.
func Backup(ctx context.Context, place, to string) (sum sqlite.Summary, err error) {
	if !postgres.IsAddress(place) {
		return sqlite.Backup(ctx, place, to)
	}
	there, err := There(ctx, place)
	if err != nil {
		return sum, err
	}
	if !there {
		return sum, shop.Errorf(shop.NotFound, "there is no shop to copy: nothing is at %s", Shown(place))
	}
	src, err := postgres.Open(ctx, place)
	if err != nil {
		return sum, err
	}
	sum, err = sqlite.Make(ctx, to, func(dst *sqlite.Store) error {
		_, err := dbstore.Copy(ctx, src, dst)
		return err
	})
	return sum, errors.Join(err, src.Close())
}

// Restore puts a copy in the place of a shop, see sqlite.Restore. A database must
// hold nothing: a shop in one is not overwritten.
func Restore(ctx context.Context, from, place string, overwrite bool) (sum sqlite.Summary, kept string, err error) {
	if !postgres.IsAddress(place) {
		return sqlite.Restore(ctx, from, place, overwrite)
	}
	if overwrite {
		return sum, "", shop.Invalidf("a shop in a database is not overwritten: restore into an empty database, or a schema of " +
			"its own (?search_path=NAME), and serve that")
	}
	if sum, err = sqlite.Inspect(ctx, from); err != nil {
		return sum, "", err
	}
	err = sqlite.OfCopy(ctx, from, func(src *sqlite.Store) error {
		_, err := copyTo(ctx, src, place)
		return err
	})
	return sum, "", err
}
