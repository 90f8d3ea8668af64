// Package storetest opens shops for tests: in files, or, where
// NEEDLEPACE_TEST_STORE=postgres is set, in PostgreSQL databases, so that the tests
// of what stands on a store can be run on both.
package storetest

import (
	"context"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"needlepace/internal/pgtest"
	"needlepace/store"
	"needlepace/store/postgres"
)

// OnPostgres reports whether tests are to run on PostgreSQL.
func OnPostgres() bool { return os.Getenv("NEEDLEPACE_TEST_STORE") == "postgres" }

var (
	mu     sync.Mutex
	places = map[string]string{} // of files' paths
)

// Open opens the shop that a test keeps at path, with all that a file there holds.
func Open(t testing.TB, path string) store.Store {
	t.Helper()
	place := path
	if OnPostgres() {
		place = database(t, path)
	}
	s, err := store.Open(context.Background(), place)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func database(t testing.TB, path string) string {
	t.Helper()
	mu.Lock()
	defer mu.Unlock()
	if place, ok := places[path]; ok {
		return place
	}
	place := Empty(t)
	if _, err := os.Stat(path); err == nil {
		if _, err := store.Move(context.Background(), path, place); err != nil {
			t.Fatal(err)
		}
	}
	places[path] = place
	return place
}

// Empty is the address of a database with a shop that holds nothing.
func Empty(t testing.TB) string {
	t.Helper()
	return pgtest.Made(t, "shop", func(address string) {
		s, err := postgres.Open(context.Background(), address)
		if err == nil {
			err = s.Close()
		}
		if err != nil {
			t.Fatal(err)
		}
	})
}

// File is a file with what the shop at path holds now, to be read past the program.
func File(t testing.TB, path string) string {
	t.Helper()
	if !OnPostgres() {
		return path
	}
	to := filepath.Join(t.TempDir(), "copy.db")
	if _, err := store.Backup(context.Background(), database(t, path), to); err != nil {
		t.Fatal(err)
	}
	return to
}
