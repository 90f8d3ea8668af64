package shop

import (
	"cmp"
	"context"
	"sync"
	"time"
)

// Revision counts the changes of each kind of thing, by whatever program they
// were made: what was read before is as it was while its count stands.
type Revision struct {
	Added                                             int64 // designs that are new; all others are as they were, which Designs counts
	Designs, Machines, Orders, Reports, Plans, Setups int64
	Told                                              int64 // what machines tell of themselves, without their counts
	Rest                                              int64 // what pages show besides: settings, quotes, deliveries, kept lists, timed runs
}

// RevisionStore counts what is changed in it. It is part of the other stores.
type RevisionStore interface {
	Revision(ctx context.Context) (Revision, error)
}

// Kept remembers what was read until it changes. The zero value is empty. It may be used
// from many goroutines; what it gives is shared, nobody may change it.
type Kept[T any] struct {
	mu    sync.Mutex
	at    int64
	value T
}

// Get is what was read while the count stood at at (above 0), or what read gives now. The
// count must have been looked up before.
func (k *Kept[T]) Get(at int64, read func() (T, error)) (T, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.at == at {
		return k.value, nil
	}
	v, err := read()
	if err == nil {
		k.at, k.value = at, v
	}
	return v, err
}

// KeptByID remembers things of one kind by their IDs until any of the kind changes. The
// zero value is empty. It may be used from many goroutines; what it gives is shared, nobody
// may change it.
type KeptByID[T any] struct {
	Most int // so many are remembered, beyond it all is forgotten and read anew; 0: 20,000

	mu  sync.Mutex
	at  int64
	all map[string]T
}

// Get is Kept.Get for the thing with an ID.
func (k *KeptByID[T]) Get(at int64, id string, read func() (T, error)) (T, error) {
	k.mu.Lock()
	v, known := k.all[id]
	known = known && k.at == at
	k.mu.Unlock()
	if known {
		return v, nil
	}
	v, err := read()
	if err != nil {
		return v, err
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.at > at {
		return v, nil // somebody has read later states
	}
	if k.at < at || len(k.all) >= cmp.Or(k.Most, 20_000) {
		k.at, k.all = at, map[string]T{}
	}
	k.all[id] = v
	return v, nil
}

// Reading is ctx for one who only reads, for a moment: all that is read with it looks up
// once what changed. Not for one who changes something, nor for one who waits for changes.
func Reading(ctx context.Context) context.Context {
	return context.WithValue(ctx, readingKey{}, &reading{})
}

// OnlyReads reports whether ctx is Reading's: what is read with it is of no transaction that may yet be given up.
func OnlyReads(ctx context.Context) bool { return ctx.Value(readingKey{}) != nil }

type readingKey struct{}

// reading is what one who only reads looked up.
type reading struct {
	mu sync.Mutex
	is Revision
	by time.Time // when it was looked up; zero: not yet
}

// readingFor is how long a reader's moment lasts.
const readingFor = 100 * time.Millisecond

// RevisionOf looks up what changed, once in a moment for one who only reads.
func RevisionOf(ctx context.Context, look func(context.Context) (Revision, error)) (Revision, error) {
	r, _ := ctx.Value(readingKey{}).(*reading)
	if r == nil {
		return look(ctx)
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if !r.by.IsZero() && time.Since(r.by) < readingFor {
		return r.is, nil
	}
	now := time.Now()
	is, err := look(ctx)
	if err == nil {
		r.is, r.by = is, now
	}
	return is, err
}
