package shop

import (
	"context"
	"runtime"
)

// Slots bounds how many heavy computations are under way at once.
type Slots chan struct{}

// NewSlots makes a slot for each core, at least two.
func NewSlots() Slots { return make(Slots, max(2, runtime.GOMAXPROCS(0))) }

// Take waits for a slot; free gives it back. A context that ends is Stopped.
func (s Slots) Take(ctx context.Context) (free func(), err error) {
	if ctx.Err() != nil { // a select would choose either
		return nil, StoppedBy(ctx)
	}
	select {
	case s <- struct{}{}:
		return func() { <-s }, nil
	case <-ctx.Done():
		return nil, StoppedBy(ctx)
	}
}

// StoppedBy is the error of a computation whose context has ended.
func StoppedBy(ctx context.Context) *Error {
	return Errorf(Stopped, "stopped before the end: %w", context.Cause(ctx))
}
