package web

import (
	"strings"
	"testing"
	"time"
)

// FreeFailures are the wrong passwords that cost no wait.
const FreeFailures = freeFailures

func TestTheLimiterDoublesItsWaits(t *testing.T) {
	now := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	l := newLimiter(func() time.Time { return now })
	var waits []time.Duration
	for range 8 {
		l.failed("a")
		waits = append(waits, l.wait("a", "b"))
	}
	want := []time.Duration{0, 0, 0, 0, time.Second, 2 * time.Second, 4 * time.Second, 8 * time.Second}
	for i := range want {
		if waits[i] != want[i] {
			t.Errorf("waits %v, want %v", waits, want)
			break
		}
	}
	for range 30 {
		l.failed("a")
	}
	if w := l.wait("a"); w != longestWait {
		t.Errorf("after many failures: %v", w)
	}
	now = now.Add(2 * time.Hour)
	if l.failed("a"); l.wait("a") != 0 {
		t.Error("an hour without failures must forget")
	}
	for i := range limiterMost + 50 {
		l.failed(string(rune('A'+i%26)) + strings.Repeat("x", i%7) + time.Duration(i).String())
	}
	if len(l.seen) > limiterMost {
		t.Errorf("%d entries are held", len(l.seen))
	}
}
