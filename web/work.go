package web

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

	"needlepace/shop"
)

// State is where a piece of long work stands.
type State string

// The states of work.
const (
	Waiting State = "waiting"
	Running State = "running"
	Done    State = "done"
	Failed  State = "failed"
	Cancel  State = "cancelled"
)

// Work is long work as its asker sees it: ask again until it is done.
type Work struct {
	ID       string       `json:"id"`
	Kind     string       `json:"kind" doc:"learn, testpiece, audit, mend, compare, floor, demo, plan or try"`
	State    State        `json:"state" enum:"waiting,running,done,failed,cancelled"`
	Progress float64      `json:"progress" doc:"0 to 1; 0 while it cannot be told"`
	Text     string       `json:"text" doc:"what is being done, for people"`
	Seconds  float64      `json:"seconds" doc:"since it began"`
	Error    *failureBody `json:"error,omitempty"`
	Result   any          `json:"result,omitempty" doc:"of state done: what the operation that began it says"`
}

// step tells how far work has come.
type step func(fraction float64, text string)

const (
	maxWaiting  = 32               // pieces of work not done yet
	keepResults = 20 * time.Minute // after the end of a piece of work
	keepMost    = 200              // finished pieces of work
)

// workshop does long work apart from the requests that asked for it: a few at
// a time, each with a time limit, progress and cancelling. What it holds is in
// memory: after a restart the work is asked for again.
type workshop struct {
	mu     sync.Mutex
	now    func() time.Time
	limit  time.Duration
	items  map[string]*item
	slots  chan struct{}
	ctx    context.Context
	cancel context.CancelCauseFunc
	wg     sync.WaitGroup
}

type item struct {
	Work
	by       string // account that asked, for the log
	began    time.Time
	ended    time.Time
	cancel   context.CancelCauseFunc
	finished chan struct{}
}

func newWorkshop(opt Options) *workshop {
	w := &workshop{now: opt.Now, limit: opt.LongTime, items: map[string]*item{}, slots: make(chan struct{}, max(1, runtime.GOMAXPROCS(0)/2))}
	w.ctx, w.cancel = context.WithCancelCause(context.Background())
	return w
}

var (
	errClosing   = errors.New("the program is stopping")
	errCancelled = errors.New("it was cancelled")
)

func (w *workshop) close() {
	w.cancel(errClosing)
	w.wg.Wait()
}

// begin starts work. The context handed to do ends with the time limit, a
// cancel, or the program.
func (w *workshop) begin(kind, by string, do func(context.Context, step) (any, error)) (Work, error) {
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
	if open >= maxWaiting {
		return Work{}, shop.Errorf(shop.Busy, "%d pieces of work are waiting; try again when some are done", open)
	}
	if len(w.items) >= keepMost && oldest != nil {
		delete(w.items, oldest.ID)
	}
	it := &item{Work: Work{ID: strings.ToLower(rand.Text()), Kind: kind, State: Waiting}, by: by, began: w.now(), finished: make(chan struct{})}
	var ctx context.Context
	ctx, it.cancel = context.WithCancelCause(w.ctx)
	w.items[it.ID] = it
	w.wg.Go(func() { w.run(ctx, it, do) })
	return it.Work, nil
}

func (w *workshop) run(ctx context.Context, it *item, do func(context.Context, step) (any, error)) {
	defer it.cancel(nil)
	var result any
	err := func() (err error) {
		select {
		case w.slots <- struct{}{}:
			defer func() { <-w.slots }()
		case <-ctx.Done():
			return context.Cause(ctx)
		}
		ctx, stop := context.WithTimeoutCause(ctx, w.limit, errTooLong)
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
		var e *shop.Error
		switch {
		case err == nil:
			it.State, it.Progress, it.Result = Done, 1, result
		case errors.Is(err, errCancelled), errors.Is(err, errClosing):
			it.State, it.Error = Cancel, &failureBody{string(shop.Stopped), err.Error()}
		case errors.Is(err, errTooLong):
			it.State, it.Error = Failed, &failureBody{string(shop.Stopped), fmt.Sprintf("it took longer than %v and was stopped; ask for less at once", w.limit)}
		case errors.As(err, &e):
			it.State, it.Error = Failed, &failureBody{string(e.Code), e.Text}
		default:
			it.State, it.Error = Failed, &failureBody{"internal", err.Error()}
		}
	})
	close(it.finished)
}

func (w *workshop) set(it *item, change func()) {
	w.mu.Lock()
	defer w.mu.Unlock()
	change()
}

func (w *workshop) find(id string) (*item, error) {
	it := w.items[id]
	if it == nil {
		return nil, shop.Errorf(shop.NotFound, "this work is not known (any more): results are kept for %v and not over a restart; ask for it again", keepResults)
	}
	return it, nil
}

// look waits up to wait for work to be done and tells where it stands.
func (w *workshop) look(ctx context.Context, id string, wait time.Duration) (Work, error) {
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

// stop cancels work.
func (w *workshop) stop(id string) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	it, err := w.find(id)
	if err != nil {
		return err
	}
	it.cancel(errCancelled)
	return nil
}

// work is what the doing of work gets: a context that ends with the time
// limit, a cancel or the program, and how to tell how far it has come.
type work struct {
	ctx  context.Context
	step step
}

// begin starts work for whoever asks.
func (c *call) begin(kind string, do func(*work) (any, error)) (any, error) {
	w, err := c.s.work.begin(kind, c.by(), func(ctx context.Context, st step) (any, error) { return do(&work{ctx, st}) })
	if err != nil {
		return nil, err
	}
	return w, nil
}
