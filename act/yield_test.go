package act

import (
	"context"
	"testing"
	"testing/synctest"
	"time"
)

// A chore lets readers go first, and goes on all the same where somebody reads all the time.
func TestAChoreLetsReadersGoFirst(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &Shop{Shared: NewShared()}
		waited := func(ctx context.Context) time.Duration {
			began := time.Now()
			s.yield(ctx)
			return time.Since(began)
		}
		if w := waited(t.Context()); w != 0 {
			t.Errorf("waited %v for nobody", w)
		}
		done, other := s.Reads(), s.Reads()
		if w := waited(t.Context()); w != yieldMost {
			t.Errorf("waited %v for one who reads all the time", w)
		}
		done()
		time.AfterFunc(yieldMost/5-time.Microsecond, other) // before it looks again, not as it does
		if w := waited(t.Context()); w != yieldMost/5 {
			t.Errorf("waited %v for one who read %v", w, yieldMost/5)
		}
		done = s.Reads()
		gone, leave := context.WithCancel(t.Context())
		leave()
		if w := waited(gone); w != 0 {
			t.Errorf("one who gave up waited %v", w)
		}
		done()
	})
}
