package serve

import (
	"context"
	"runtime"
	"testing"
	"testing/synctest"
	"time"
)

// A few pages for each core are written at once; one more waits until one of them is written, and no
// longer than a moment.
func TestPagesAreWrittenByTurns(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var k Kept
		waits := func(ctx context.Context) (time.Duration, func()) {
			began := time.Now()
			free := k.Turn(ctx)
			return time.Since(began), free
		}
		var free []func()
		for range writtenAtOnce * runtime.GOMAXPROCS(0) {
			took, f := waits(t.Context())
			if free = append(free, f); took > 0 {
				t.Fatalf("with nobody before them one waited %v", took)
			}
		}
		go func() {
			time.Sleep(longestTurn / 10)
			free[0]()
		}()
		took, last := waits(t.Context())
		if took != longestTurn/10 {
			t.Errorf("one more waited %v, and another was written after %v", took, longestTurn/10)
		}
		took, none := waits(t.Context())
		if took != longestTurn {
			t.Errorf("behind pages that are not written one waited %v", took)
		}
		none() // what came without a place gives none back
		gone, cancel := context.WithCancel(t.Context())
		cancel()
		if took, _ := waits(gone); took != 0 {
			t.Errorf("one who is gone waited %v", took)
		}
		if last(); len(k.places) != len(free)-1 {
			t.Errorf("%d places are taken, of %d", len(k.places), len(free)-1)
		}
	})
}
