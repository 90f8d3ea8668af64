package jobs

import (
	"context"
	"log/slog"
	"time"
)

// Round is something that is done again and again without anyone asking. How it went is kept where the shop is.
type Round interface {
	Name() string
	// Due is when it is due (zero: never), and when it began the last time (zero: it was never done): name and last name
	// one time that it is done.
	Due(ctx context.Context) (at, last time.Time, err error)
	// Do does it, if it is due still, and keeps how it went. The error is ctx's, or says that this could not be kept: then
	// it is done again.
	Do(ctx context.Context) error
}

// RoundTime is how long a round may take: nobody waits for it.
const RoundTime = 2 * time.Hour

const roundKind = "round"

// look is how often it is looked what is due: a computer may have slept, its clock may have been set, and people turn
// rounds off and on.
const look = 30 * time.Second

// mostAgain is the longest time until what could not be kept is tried again, as on a disk that is full: each time twice the
// one before.
const mostAgain = time.Hour

// Regularly has rounds done when they are due until end is called, which waits for what is under way: do does each, or puts
// it up for another program, so that each time is done once. One that was due while nobody was there is done once, not for
// each time.
func Regularly(log *slog.Logger, do func(context.Context, Round) error, rounds ...Round) (end func()) {
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		failed, again := make([]int, len(rounds)), make([]time.Time, len(rounds)) // how often, and when it is tried again
		for {
			next := look
			for i, r := range rounds {
				if time.Now().Before(again[i]) && time.Until(again[i]) <= mostAgain { // else the clock was set back
					continue
				}
				at, _, err := r.Due(ctx)
				if wait := time.Until(at); err == nil && !at.IsZero() && wait > 0 {
					next = min(next, wait)
				} else if err == nil && !at.IsZero() {
					err = do(ctx, r)
				}
				if ctx.Err() != nil {
					return
				}
				if err == nil {
					failed[i] = 0
				} else {
					again[i] = time.Now().Add(min(look<<failed[i], mostAgain))
					failed[i] = min(failed[i]+1, 10)
					log.Error("what the program does by itself was not done, and is tried again", "what", r.Name(), "error", err)
				}
			}
			select {
			case <-time.After(next):
			case <-ctx.Done():
				return
			}
		}
	}()
	return func() { stop(); <-ended }
}

// In has rounds done as work of a queue of this program.
func In(q Queue) func(context.Context, Round) error {
	return func(ctx context.Context, r Round) error { return inTurn(ctx, q, r) }
}

// inTurn does a round as work of a queue, when the queue has room for it.
func inTurn(ctx context.Context, q Queue, r Round) error {
	came := make(chan error, 1)
	w, err := q.Begin(roundKind, "", func(work context.Context, _ Step) (any, error) {
		work, cancel := context.WithCancelCause(work)
		defer cancel(nil)
		defer context.AfterFunc(ctx, func() { cancel(context.Cause(ctx)) })()
		err := r.Do(work)
		came <- err
		return nil, err
	})
	if err != nil {
		return err
	}
	for {
		is, err := q.Look(ctx, w.ID, time.Minute)
		switch {
		case ctx.Err() != nil:
			q.Stop(w.ID) //nolint:errcheck // it may have ended
			return ctx.Err()
		case err != nil:
			return err
		case is.State == Waiting || is.State == Running:
			continue
		}
		select {
		case err := <-came:
			return err
		default: // it was stopped before it began
			return nil
		}
	}
}
