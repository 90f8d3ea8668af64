package shop

import (
	"cmp"
	"context"
	"sync"
	"sync/atomic"
	"time"
)

// Revision counts the changes of each kind of thing, by whatever program they
// were made: what was read before is as it was while its count stands.
type Revision struct {
	Added                                             int64 // designs that are new; all others are as they were, which Designs counts
	Designs, Machines, Orders, Reports, Plans, Setups int64
	Told                                              int64 // what machines tell of themselves, without their counts
	Rest                                              int64 // what pages show besides: settings, quotes, deliveries, kept lists, timed runs
	Visits                                            int64 // visits, their files and the pages of their open calls; no answer about the shop is made from them
}

// RevisionStore counts what is changed in it. It is part of the other stores.
type RevisionStore interface {
	Revision(ctx context.Context) (Revision, error)
}

// Parts are kinds of things that a Revision counts. What is read with a context of Noting is noted as the parts that it
// is of: whatever was made from it is as it was while those counts stand. Nobody lists by hand what an answer shows.
type Parts uint32

// The parts, one a count of Revision.
const (
	AddedPart Parts = 1 << iota
	DesignsPart
	MachinesPart
	OrdersPart
	ReportsPart
	PlansPart
	SetupsPart
	ToldPart
	RestPart
	VisitsPart
	// Uncounted is what no count tells of: what is made from it is not kept.
	Uncounted

	AllParts = Uncounted - 1
)

// Of is the counts of some parts; those of the others are 0.
func (r Revision) Of(p Parts) Revision {
	for part, n := range map[Parts]*int64{AddedPart: &r.Added, DesignsPart: &r.Designs, MachinesPart: &r.Machines, OrdersPart: &r.Orders,
		ReportsPart: &r.Reports, PlansPart: &r.Plans, SetupsPart: &r.Setups, ToldPart: &r.Told, RestPart: &r.Rest, VisitsPart: &r.Visits} {
		if p&part == 0 {
			*n = 0
		}
	}
	return r
}

// Same reports whether what was read from some parts at one state is so at another; of what is uncounted nobody knows.
func (r Revision) Same(is Revision, p Parts) bool { return p&Uncounted == 0 && r.Of(p) == is.Of(p) }

// AsNew reports whether what was read from some parts at one state is at least as new as another state; of what is
// uncounted nobody knows. Counts only grow.
func (r Revision) AsNew(as Revision, p Parts) bool {
	r, as = r.Of(p), as.Of(p)
	return p&Uncounted == 0 && r.Added >= as.Added && r.Designs >= as.Designs && r.Machines >= as.Machines && r.Orders >= as.Orders &&
		r.Reports >= as.Reports && r.Plans >= as.Plans && r.Setups >= as.Setups && r.Told >= as.Told && r.Rest >= as.Rest &&
		r.Visits >= as.Visits
}

// noted is what was read, noted also for all who wait for it.
type noted struct {
	up  *noted
	but Parts // not noted further up
	of  atomic.Uint32
}

type notedKey struct{}

// Noting is ctx with which all that is read is noted; read gives it.
func Noting(ctx context.Context) (_ context.Context, read func() Parts) {
	up, _ := ctx.Value(notedKey{}).(*noted)
	n := &noted{up: up}
	return context.WithValue(ctx, notedKey{}, n), func() Parts { return Parts(n.of.Load()) }
}

// Without is ctx with which some parts are not noted: for one who knows that what is read is not of them.
func Without(ctx context.Context, but Parts) context.Context {
	up, _ := ctx.Value(notedKey{}).(*noted)
	if up == nil {
		return ctx
	}
	return context.WithValue(ctx, notedKey{}, &noted{up: up, but: but})
}

// Note notes that parts were read.
func Note(ctx context.Context, p Parts) {
	for n, _ := ctx.Value(notedKey{}).(*noted); n != nil; n = n.up {
		n.of.Or(uint32(p))
		p &^= n.but
	}
}

// Counts are the counts of some parts, which are noted as read; those of others are 0.
func Counts(ctx context.Context, store RevisionStore, p Parts) (Revision, error) {
	Note(ctx, p)
	r, err := store.Revision(Without(ctx, AllParts))
	return r.Of(p), err
}

// read is what was read, with what it was read from.
type read[T any] struct {
	at    Revision
	of    Parts
	value T
}

// readAt reads what is to be kept.
func readAt[T any](ctx context.Context, at Revision, how func(context.Context) (T, error)) (r read[T], err error) {
	ctx, of := Noting(ctx)
	r.at = at
	r.value, err = how(ctx)
	r.of = of()
	return r, err
}

// Kept remembers what was read until what it was read from changes. The zero value is empty. It may be used
// from many goroutines; what it gives is shared, nobody may change it.
type Kept[T any] struct {
	mu sync.Mutex
	is *read[T]
}

// Get is what was read while nothing that it was read from has changed, else what how gives now, which reads with the
// context that it is given.
func (k *Kept[T]) Get(ctx context.Context, store RevisionStore, how func(context.Context) (T, error)) (T, error) {
	now, err := store.Revision(Without(ctx, AllParts))
	if err != nil {
		var none T
		return none, err
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.is != nil && k.is.at.Same(now, k.is.of) {
		Note(ctx, k.is.of)
		return k.is.value, nil
	}
	r, err := readAt(ctx, now, how)
	if err == nil {
		k.is = &r
	}
	return r.value, err
}

// KeptByID remembers things of one kind by their IDs, each until what it was read from changes. The
// zero value is empty. It may be used from many goroutines; what it gives is shared, nobody
// may change it.
type KeptByID[T any] struct {
	Most int // so many are remembered, beyond it all is forgotten and read anew; 0: 20,000

	mu  sync.Mutex
	all map[string]read[T]
}

// Get is Kept.Get for the thing with an ID.
func (k *KeptByID[T]) Get(ctx context.Context, store RevisionStore, id string, how func(context.Context) (T, error)) (T, error) {
	now, err := store.Revision(Without(ctx, AllParts))
	if err != nil {
		var none T
		return none, err
	}
	k.mu.Lock()
	r, known := k.all[id]
	k.mu.Unlock()
	if known && r.at.Same(now, r.of) {
		Note(ctx, r.of)
		return r.value, nil
	}
	if r, err = readAt(ctx, now, how); err != nil {
		return r.value, err
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.all == nil || !known && len(k.all) >= cmp.Or(k.Most, 20_000) {
		k.all = map[string]read[T]{}
	}
	k.all[id] = r
	return r.value, nil
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

// RevisionOf looks up what changed, once in a moment for one who only reads. All parts are noted as read: Counts looks up
// some.
func RevisionOf(ctx context.Context, look func(context.Context) (Revision, error)) (Revision, error) {
	Note(ctx, AllParts)
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
