package web

import (
	"net/netip"
	"sync"
	"time"
)

// limiter slows down whoever guesses passwords or codes. A try counts as wrong
// before it is looked at, and is taken back where it was not: so tries side by
// side do not pass together. After some free ones each further try doubles the
// wait, up to a minute: never long enough to keep the shop's own people from
// their work. An hour without a try forgets.
type limiter struct {
	mu   sync.Mutex
	now  func() time.Time
	seen map[string]*failures
}

type failures struct {
	count int
	until time.Time // not before
	last  time.Time
}

// limited is what tries are counted by.
type limited struct {
	key  string
	free int  // that cost no wait
	one  bool // one right try forgets the wrong ones before
}

const (
	freeFailures = 5  // with one name from one address, or with one browser
	freeOfHost   = 30 // with any names from one address
	longestWait  = time.Minute
	forgetAfter  = time.Hour
	limiterMost  = 10_000 // entries; the oldest go first
)

func newLimiter(now func() time.Time) *limiter {
	return &limiter{now: now, seen: map[string]*failures{}}
}

// begin reserves a try by each of the keys: wait is how long it must still wait,
// and then nothing is reserved. done tells how it went.
func (l *limiter) begin(by ...limited) (done func(tried), wait time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	for _, k := range by {
		if f := l.seen[k.key]; f != nil && now.Sub(f.last) <= forgetAfter {
			wait = max(wait, f.until.Sub(now))
		}
	}
	if wait > 0 {
		return nil, wait
	}
	l.makeRoom(now)
	for _, k := range by {
		f := l.seen[k.key]
		if f == nil || now.Sub(f.last) > forgetAfter {
			f = &failures{}
			l.seen[k.key] = f
		}
		f.last = now
		f.set(f.count+1, k.free, now)
	}
	return func(t tried) { l.end(t, now, by) }, 0
}

// tried is how a try went.
type tried int

const (
	wrong   tried = iota
	right         // it was let in
	unknown       // it was not looked at
)

func (l *limiter) end(t tried, began time.Time, by []limited) {
	if t == wrong {
		return
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, k := range by {
		f := l.seen[k.key]
		switch {
		case f == nil:
		case t == right && k.one:
			delete(l.seen, k.key)
		default:
			f.set(f.count-1, k.free, began)
		}
	}
}

// set keeps the count and what must be waited for after it.
func (f *failures) set(count, free int, now time.Time) {
	f.count, f.until = max(0, count), time.Time{}
	if over := f.count - free; over >= 0 {
		f.until = now.Add(min(longestWait, time.Second<<min(over, 12)))
	}
}

func (l *limiter) makeRoom(now time.Time) {
	if len(l.seen) < limiterMost {
		return
	}
	for k, f := range l.seen {
		if now.Sub(f.last) > forgetAfter {
			delete(l.seen, k)
		}
	}
	for len(l.seen) >= limiterMost { // still full: the oldest of some
		oldest, n := "", 0
		for k, f := range l.seen {
			if oldest == "" || f.last.Before(l.seen[oldest].last) {
				oldest = k
			}
			if n++; n == 100 {
				break
			}
		}
		delete(l.seen, oldest)
	}
}

// network is what an address counts as: itself, or the /64 that one subscriber
// has of IPv6 (RFC 6177).
func network(host string) string {
	a, err := netip.ParseAddr(host)
	if err != nil {
		return host
	}
	a = a.Unmap().WithZone("")
	if a.Is6() {
		if p, err := a.Prefix(64); err == nil {
			return p.String()
		}
	}
	return a.String()
}
