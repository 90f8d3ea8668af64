package jobs

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"runtime"
	"runtime/debug"
	"strings"
	"sync"
	"time"

	"needlepace/ask"
	"needlepace/shop"
	"needlepace/words"
)

const (
	MaxWaiting  = 32               // pieces of work not done yet
	keepResults = 20 * time.Minute // after the end of a piece of work
	keepMost    = 200              // finished pieces of work
)

// Local does long work apart from the requests that asked for it: a few at
// a time, each with a time limit, progress and cancelling. A hearing takes up to
// a minute a recording: it has a slot of its own, and others never wait for it. What it holds is in
// memory: after a restart the work is asked for again.
type Local struct {
	mu     sync.Mutex
	now    func() time.Time
	limit  time.Duration
	items  map[string]*item
	slots  *Slots
	shared *Slots // that other queues have too; nil: none
	ctx    context.Context
	cancel context.CancelCauseFunc
	wg     sync.WaitGroup
}

type item struct {
	Work
	began    time.Time
	ended    time.Time
	cancel   context.CancelCauseFunc
	finished chan struct{}
}

// Slots are how many pieces of work are done at a time.
type Slots struct {
	usual shop.Slots
	own   map[string]shop.Slots // of kinds that have a slot of their own
}

// NewSlots are a slot for each two cores, one for hearing, and one for rounds, which nobody waits for.
func NewSlots() *Slots {
	return &Slots{make(shop.Slots, max(1, runtime.GOMAXPROCS(0)/2)), map[string]shop.Slots{"listen": make(shop.Slots, 1), roundKind: make(shop.Slots, 1)}}
}

// of are those of a kind. No slots are enough for all.
func (s *Slots) of(kind string) shop.Slots {
	if s == nil {
		return nil
	}
	if own := s.own[kind]; own != nil {
		return own
	}
	return s.usual
}

// NewLocal is a queue whose pieces of work may each take limit. Where several queues
// are in one program, shared is what they have together: each queue's work waits for a
// slot of its own first, so that one with much work does not keep the others waiting.
// Close it in the end.
func NewLocal(limit time.Duration, now func() time.Time, shared *Slots) *Local {
	w := &Local{now: now, limit: limit, items: map[string]*item{}, slots: NewSlots(), shared: shared}
	w.ctx, w.cancel = context.WithCancelCause(context.Background())
	return w
}

// Open is how many pieces of work are not done yet.
func (w *Local) Open() (n int) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, it := range w.items {
		if it.ended.IsZero() {
			n++
		}
	}
	return n
}

var (
	errClosing   = sync.OnceValue(func() error { return shop.Saying(shop.Stopped, words.Say("refused.closing")) })
	errCancelled = sync.OnceValue(func() error { return shop.Saying(shop.Stopped, words.Say("refused.cancelled")) })
	errTooLong   = errors.New("it took too long")
)

// Close stops all work and waits for its end.
func (w *Local) Close() {
	w.cancel(errClosing())
	w.wg.Wait()
}

// Begin starts work. The context handed to do ends with the time limit, a
// cancel, or the program.
func (w *Local) Begin(kind, by string, do func(context.Context, Step) (any, error)) (Work, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	open := 0
	var oldest *item
	for id, it := range w.items {
		if it.ended.IsZero() {
			open++
		} else if w.now().Sub(it.ended) > keepResults {
			delete(w.items, id)
		} else if oldest == nil || it.ended.Before(oldest.ended) {
			oldest = it
		}
	}
	if open >= MaxWaiting {
		return Work{}, shop.Errorf(shop.Busy, "%d pieces of work are waiting; try again when some are done", open)
	}
	if len(w.items) >= keepMost && oldest != nil {
		delete(w.items, oldest.ID)
	}
	it := &item{Work: Work{ID: strings.ToLower(rand.Text()), Kind: kind, State: Waiting, By: by}, began: w.now(),
		finished: make(chan struct{})}
	var ctx context.Context
	ctx, it.cancel = context.WithCancelCause(w.ctx)
	w.items[it.ID] = it
	w.wg.Go(func() { w.run(ctx, it, do) })
	return it.Work, nil
}

func (w *Local) run(ctx context.Context, it *item, do func(context.Context, Step) (any, error)) {
	defer it.cancel(nil)
	var result any
	err := func() (err error) {
		for _, s := range []*Slots{w.slots, w.shared} {
			of := s.of(it.Kind)
			if of == nil {
				continue
			}
			held, err := of.Hold(ctx)
			if err != nil {
				return context.Cause(ctx)
			}
			defer held.Leave()
			ctx = ask.InRoom(ctx, held) // what is done elsewhere takes none
		}
		limit := w.limit
		if it.Kind == roundKind {
			limit = RoundTime
		}
		ctx, stop := context.WithTimeoutCause(ctx, limit, errTooLong)
		defer stop()
		defer func() {
			if p := recover(); p != nil {
				err = fmt.Errorf("panic in %s: %v\n%s", it.Kind, p, debug.Stack())
			}
		}()
		w.set(it, func() { it.State, it.began = Running, w.now() })
		result, err = do(ctx, func(f float64, text string) {
			w.set(it, func() { it.Progress, it.Text = min(max(f, 0), 1), text })
		})
		if ctx.Err() != nil && err != nil {
			err = context.Cause(ctx)
		}
		return err
	}()
	w.set(it, func() {
		it.ended = w.now()
		it.Seconds = it.ended.Sub(it.began).Seconds()
		switch {
		case err == nil:
			it.State, it.Progress, it.Result = Done, 1, result
		case errors.Is(err, errCancelled()), errors.Is(err, errClosing()):
			it.State, it.Error = Cancel, &FailureBody{Code: string(shop.Stopped), Text: err.Error(), Say: shop.ErrorOf(err).Say}
		case errors.Is(err, errTooLong):
			why := words.Say("refused.too-long", words.Args{"limit": words.Seconds(w.limit.Seconds())})
			it.State, it.Error = Failed, &FailureBody{Code: string(shop.Stopped), Text: why.Raw(), Say: why}
		case shop.ErrorOf(err) != nil:
			e := shop.ErrorOf(err)
			it.State, it.Error = Failed, &FailureBody{Code: string(e.Code), Text: e.Text, Key: e.Key, Say: e.Say}
		default:
			it.State, it.Error = Failed, &FailureBody{Code: "internal", Text: err.Error()}
		}
	})
	close(it.finished)
}

func (w *Local) set(it *item, change func()) {
	w.mu.Lock()
	defer w.mu.Unlock()
	change()
}

func (w *Local) find(id string) (*item, error) {
	it := w.items[id]
	if it == nil {
		return nil, shop.Errorf(shop.NotFound, "this work is not known (any more): results are kept for %v and not "+
			"over a restart; ask for it again", keepResults)
	}
	return it, nil
}

// Look waits up to wait for work to be done and tells where it stands.
func (w *Local) Look(ctx context.Context, id string, wait time.Duration) (Work, error) {
	w.mu.Lock()
	it, err := w.find(id)
	w.mu.Unlock()
	if err != nil {
		return Work{}, err
	}
	if wait > 0 {
		t := time.NewTimer(wait)
		defer t.Stop()
		select {
		case <-it.finished:
		case <-t.C:
		case <-ctx.Done():
		}
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	out := it.Work
	if it.ended.IsZero() {
		out.Seconds = w.now().Sub(it.began).Seconds()
	}
	return out, nil
}

// Stop cancels work.
func (w *Local) Stop(id string) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	it, err := w.find(id)
	if err != nil {
		return err
	}
	it.cancel(errCancelled())
	return nil
}
