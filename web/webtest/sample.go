package webtest

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"needlepace/act"
	"needlepace/store/sqlite"
	"needlepace/web"
)

// NewSample serves a shop that holds the invented sample, until the test is over.
func NewSample(t testing.TB, opt web.Options) *App {
	t.Helper()
	return Open(t, Sample(t), opt)
}

// Sample is a new file with a shop that holds the invented sample. The sample is taken in
// once for all tests of a package: that takes seconds.
func Sample(t testing.TB) (file string) {
	t.Helper()
	b, err := sample()
	file = filepath.Join(t.TempDir(), "shop.db")
	if err = errors.Join(err, os.WriteFile(file, b, 0o600)); err != nil {
		t.Fatal(err)
	}
	return file
}

var sample = sync.OnceValues(func() ([]byte, error) {
	dir, err := os.MkdirTemp("", "needlepace-sample-*")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir) //nolint:errcheck // it is the system's place for such
	file, ctx := filepath.Join(dir, "shop.db"), context.Background()
	store, err := sqlite.Open(ctx, file)
	if err != nil {
		return nil, err
	}
	err = act.New(store, act.Options{Build: "test"}).LoadDemo(ctx, func(float64, string) {})
	if err = errors.Join(err, store.Close()); err != nil {
		return nil, err
	}
	return os.ReadFile(file)
})
