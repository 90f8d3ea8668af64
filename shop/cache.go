package shop

import (
	lru "container/list"
	"context"
	"runtime"
	"sync"

	"needlepace/stitch"
)

// designCache keeps the designs decoded last, up to a number of bytes.
type designCache struct {
	mu    sync.Mutex
	most  int
	held  int
	order *lru.List // of *cachedDesign, last used first
	byID  map[string]*lru.Element
}

type cachedDesign struct {
	id     string
	design *stitch.Design
	bytes  int
}

func newDesignCache(most int) *designCache {
	return &designCache{most: most, order: lru.New(), byID: map[string]*lru.Element{}}
}

func (c *designCache) get(id string) *stitch.Design {
	c.mu.Lock()
	defer c.mu.Unlock()
	e := c.byID[id]
	if e == nil {
		return nil
	}
	c.order.MoveToFront(e)
	return e.Value.(*cachedDesign).design
}

func (c *designCache) put(id string, d *stitch.Design) {
	bytes := 6*cap(d.Records) + 4096 // a record is 6 bytes
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.byID[id] != nil || bytes > c.most/2 {
		return
	}
	c.byID[id] = c.order.PushFront(&cachedDesign{id, d, bytes})
	for c.held += bytes; c.held > c.most; {
		e := c.order.Back()
		old := c.order.Remove(e).(*cachedDesign)
		delete(c.byID, old.id)
		c.held -= old.bytes
	}
}

// resultCache keeps the clocked runs asked for last, and lets those who ask
// for the same at the same time share one computation.
type resultCache struct {
	mu    sync.Mutex
	most  int
	order *lru.List // of *cachedResult
	byKey map[resultKey]*lru.Element
}

type resultKey struct {
	design, sheet, job string
}

type cachedResult struct {
	key   resultKey
	ready chan struct{}
	value *Clocked
	err   error
}

func newResultCache(most int) *resultCache {
	return &resultCache{most: most, order: lru.New(), byKey: map[resultKey]*lru.Element{}}
}

// do gives the kept result, or computes it.
func (c *resultCache) do(ctx context.Context, key resultKey, compute func() (*Clocked, error)) (*Clocked, error) {
	c.mu.Lock()
	if e := c.byKey[key]; e != nil {
		c.order.MoveToFront(e)
		r := e.Value.(*cachedResult)
		c.mu.Unlock()
		select {
		case <-r.ready:
			if r.err != nil && CodeOf(r.err) == Stopped && ctx.Err() == nil {
				return compute() // whoever computed it gave up; we did not
			}
			return r.value, r.err
		case <-ctx.Done():
			return nil, stopped(ctx)
		}
	}
	r := &cachedResult{key: key, ready: make(chan struct{})}
	e := c.order.PushFront(r)
	c.byKey[key] = e
	for c.order.Len() > c.most {
		old := c.order.Remove(c.order.Back()).(*cachedResult)
		delete(c.byKey, old.key)
	}
	c.mu.Unlock()
	done := false
	defer func() {
		if !done { // a panic: nobody must wait for ever
			r.err = Errorf(Stopped, "the computation failed")
		}
		if r.err != nil {
			c.mu.Lock()
			if c.byKey[key] == e {
				c.order.Remove(e)
				delete(c.byKey, key)
			}
			c.mu.Unlock()
		}
		close(r.ready)
	}()
	r.value, r.err = compute()
	done = true
	return r.value, r.err
}

func newSlots() chan struct{} { return make(chan struct{}, max(2, runtime.GOMAXPROCS(0))) }

// slot waits for room for a heavy computation.
func (s *Shop) slot(ctx context.Context) (free func(), err error) {
	if ctx.Err() != nil { // a select would choose either
		return nil, stopped(ctx)
	}
	select {
	case s.slots <- struct{}{}:
		return func() { <-s.slots }, nil
	case <-ctx.Done():
		return nil, stopped(ctx)
	}
}

func stopped(ctx context.Context) error {
	return Errorf(Stopped, "stopped before the end: %w", context.Cause(ctx))
}
