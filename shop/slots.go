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

// Slot is a slot that is held, and may be left for a while (ask.Room). One goroutine uses it.
type Slot struct {
	of Slots
	in bool
}

// Hold waits for a slot, as Take does; leave it in the end.
func (s Slots) Hold(ctx context.Context) (*Slot, error) {
	h := &Slot{of: s}
	return h, h.Return(ctx)
}

// Leave gives the slot to others; once it is left it does nothing.
func (h *Slot) Leave() {
	if h.in {
		h.in = false
		<-h.of
	}
}

// Return waits for a slot again. A context that ends is Stopped.
func (h *Slot) Return(ctx context.Context) error {
	if h.in {
		return nil
	}
	_, err := h.of.Take(ctx)
	h.in = err == nil
	return err
}

// StoppedBy is the error of a computation whose context has ended.
func StoppedBy(ctx context.Context) *Error {
	return Errorf(Stopped, "stopped before the end: %w", context.Cause(ctx))
}
