package web

import (
	"sync"
	"time"
)

// limiter slows down whoever guesses passwords: after free failures each
// further one doubles the wait, up to an hour; an hour without forgets.
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

const (
	freeFailures = 5
	longestWait  = time.Hour
	limiterMost  = 10_000 // entries; the oldest go first
)

func newLimiter(now func() time.Time) *limiter {
	return &limiter{now: now, seen: map[string]*failures{}}
}

// wait is how long each of the keys must still wait; 0 for go on.
func (l *limiter) wait(keys ...string) time.Duration {
	l.mu.Lock()
	defer l.mu.Unlock()
	var longest time.Duration
	for _, k := range keys {
		if f := l.seen[k]; f != nil {
			longest = max(longest, f.until.Sub(l.now()))
		}
	}
	return longest
}

func (l *limiter) failed(keys ...string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	if len(l.seen) >= limiterMost {
		for k, f := range l.seen {
			if now.Sub(f.last) > longestWait {
				delete(l.seen, k)
			}
		}
		for k := range l.seen { // still full: any will do
			if len(l.seen) < limiterMost {
				break
			}
			delete(l.seen, k)
		}
	}
	for _, k := range keys {
		f := l.seen[k]
		if f == nil || now.Sub(f.last) > longestWait {
			f = &failures{}
			l.seen[k] = f
		}
		f.count++
		f.last = now
		if over := f.count - freeFailures; over >= 0 {
			f.until = now.Add(min(longestWait, time.Second<<min(over, 12)))
		}
	}
}

func (l *limiter) passed(keys ...string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, k := range keys {
		delete(l.seen, k)
	}
}
