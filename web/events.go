package web

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"time"

	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/web/watch"
)

// How events go out.
const (
	lookEvery  = 200 * time.Millisecond // while somebody reads
	beatEvery  = 10 * time.Second       // a sign of life; who reads is looked at again
	mostEvents = 500                    // readers at once
)

// changes looks what was changed in the shop, by whatever program, while
// somebody reads, and wakes the readers: one look for all of them.
type changes struct {
	look func(context.Context) (shop.Revision, error)

	mu      sync.Mutex
	readers map[chan struct{}]bool
	is      shop.Revision
	ended   bool
}

// join begins to read; leave ends it. ok is false where there are too many, or
// the serving is over.
func (h *changes) join() (wake chan struct{}, leave func(), ok bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.ended || len(h.readers) >= mostEvents {
		return nil, nil, false
	}
	if h.readers == nil {
		h.readers = map[chan struct{}]bool{}
	}
	wake = make(chan struct{}, 1)
	if h.readers[wake] = true; len(h.readers) == 1 {
		go h.run()
	}
	return wake, func() {
		h.mu.Lock()
		defer h.mu.Unlock()
		delete(h.readers, wake)
	}, true
}

// run looks until nobody reads any more.
func (h *changes) run() {
	for {
		r, err := h.look(context.Background())
		h.mu.Lock()
		if len(h.readers) == 0 {
			h.mu.Unlock()
			return
		}
		if err == nil && r != h.is {
			h.is = r
			for wake := range h.readers {
				select {
				case wake <- struct{}{}:
				default: // it is to be woken already
				}
			}
		}
		h.mu.Unlock()
		time.Sleep(lookEvery)
	}
}

// over reports whether the serving is over.
func (h *changes) over() bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.ended
}

// end wakes all readers for the last time.
func (h *changes) end() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.ended = true
	for wake := range h.readers {
		close(wake)
		delete(h.readers, wake)
	}
}

// eventsOf is what kinds of things differ between two states, those that who asks may see.
func eventsOf(was, is shop.Revision, may func(shop.Right) bool) (kinds []string) {
	for _, k := range []struct {
		name    string
		was, is int64
		right   shop.Right
	}{
		{"added", was.Added, is.Added, shop.Look}, // new designs
		{"designs", was.Designs, is.Designs, shop.Look},
		{"machines", was.Machines, is.Machines, shop.Look},
		{"orders", was.Orders, is.Orders, shop.Look},
		{"reports", was.Reports, is.Reports, shop.Look},
		{"plans", was.Plans, is.Plans, shop.Look},
		{"setups", was.Setups, is.Setups, shop.SeeMoney}, // hours and prices
		{"told", was.Told, is.Told, shop.Look},           // by machines
		{"rest", was.Rest, is.Rest, shop.Look},           // timed runs, quotes, settings
		{"visits", was.Visits, is.Visits, shop.KeepVisits},
	} {
		if k.was != k.is && may(k.right) {
			kinds = append(kinds, k.name)
		}
	}
	return kinds
}

// events tells a page that stands open which kinds of things change, as server-sent
// events (WHATWG HTML, section 9.2): names of kinds and nothing of what they say, which
// the page asks for by its own right. since, or Last-Event-ID, is the state that the
// page was made from: what changed before the connection stood is told too.
func (s *Server) events(c *serve.Call) error {
	last := c.Header.Get("Last-Event-ID")
	if last == "" {
		last = c.URL.Query().Get("since")
	}
	seen, err := s.site.Shop.Revision(context.WithoutCancel(c.Request.Context()))
	if err != nil {
		return err
	}
	if last != "" {
		if seen, err = serve.ParseRevision(last); err != nil {
			return err
		}
	}
	wake, leave, ok := s.changes.join()
	if !ok {
		c.W.Header().Set("Retry-After", "5")
		return shop.Errorf(shop.Busy, "too many pages are open here at once; this one renews itself when it is opened again")
	}
	defer leave()
	watch.Of(c.Context()).Waits = true
	h := c.W.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Accel-Buffering", "no") // a proxy is not to gather it
	out := http.NewResponseController(c.W)
	say := func(text string) bool {
		if out.SetWriteDeadline(time.Now().Add(2*beatEvery)) != nil {
			return false
		}
		if _, err := c.W.Write([]byte(text)); err != nil {
			return false
		}
		return out.Flush() == nil
	}
	if !say("retry: 1000\n\n") {
		return nil
	}
	beat := time.NewTicker(beatEvery)
	defer beat.Stop()
	for {
		may := s.mayStill(c)
		if may == nil {
			return nil
		}
		is, err := s.site.Shop.Revision(c.Request.Context())
		if err != nil {
			return nil //nolint:nilerr // the page comes again and asks for what it missed
		}
		if kinds := eventsOf(seen, is, may); len(kinds) > 0 {
			if !say(fmt.Sprintf("id: %s\nevent: changed\ndata: %s\n\n", serve.RevisionText(is), strings.Join(kinds, " "))) {
				return nil
			}
		}
		seen = is
		select {
		case <-c.Request.Context().Done():
			return nil
		case _, open := <-wake:
			if !open {
				return nil
			}
		case <-beat.C:
			if !say("event: beat\ndata:\n\n") {
				return nil
			}
		}
	}
}

// mayStill is what who reads may see now: a right that was taken away, or a
// session that ended, ends the reading. nil: nothing any more.
func (s *Server) mayStill(c *serve.Call) func(shop.Right) bool {
	if !s.site.Accounts {
		return c.May
	}
	a, err := s.sessions.who(c.Request)
	if err != nil || a == nil || !a.Role.Has(shop.Look) {
		return nil
	}
	return a.Role.Has
}
