package designs

import (
	lru "container/list"
	"sync"

	"needlepace/stitch"
)

// designCache keeps the designs decoded last, up to a number of bytes.
type cache struct {
	mu    sync.Mutex
	most  int
	held  int
	order *lru.List // of *cachedDesign, last used first
	byID  map[string]*lru.Element
}

type cached struct {
	id     string
	design *stitch.Design
	bytes  int
}

func newCache(most int) *cache {
	return &cache{most: most, order: lru.New(), byID: map[string]*lru.Element{}}
}

func (c *cache) get(id string) *stitch.Design {
	c.mu.Lock()
	defer c.mu.Unlock()
	e := c.byID[id]
	if e == nil {
		return nil
	}
	c.order.MoveToFront(e)
	return e.Value.(*cached).design
}

func (c *cache) put(id string, d *stitch.Design) {
	bytes := 6*cap(d.Records) + 4096 // a record is 6 bytes
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.byID[id] != nil || bytes > c.most/2 {
		return
	}
	c.byID[id] = c.order.PushFront(&cached{id, d, bytes})
	for c.held += bytes; c.held > c.most; {
		e := c.order.Back()
		old := c.order.Remove(e).(*cached)
		delete(c.byID, old.id)
		c.held -= old.bytes
	}
}
