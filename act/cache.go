package act

import (
	lru "container/list"
	"context"
	"sync"

	"needlepace/ask"
	"needlepace/shop"
)

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
	value *ask.ClockAnswer
	err   error
}

func newResultCache(most int) *resultCache {
	return &resultCache{most: most, order: lru.New(), byKey: map[resultKey]*lru.Element{}}
}

// do gives the kept result, or computes it.
func (c *resultCache) do(
	ctx context.Context, key resultKey, compute func() (*ask.ClockAnswer, error),
) (*ask.ClockAnswer, error) {
	c.mu.Lock()
	if e := c.byKey[key]; e != nil {
		c.order.MoveToFront(e)
		r := e.Value.(*cachedResult)
		c.mu.Unlock()
		select {
		case <-r.ready:
			if r.err != nil && shop.CodeOf(r.err) == shop.Stopped && ctx.Err() == nil {
				return compute() // whoever computed it gave up; we did not
			}
			return r.value, r.err
		case <-ctx.Done():
			return nil, shop.StoppedBy(ctx)
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
			r.err = shop.Errorf(shop.Stopped, "the computation failed")
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
