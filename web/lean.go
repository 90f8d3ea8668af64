package web

import (
	"os"
	"runtime/debug"
	"runtime/metrics"
	"time"
)

// Lean has garbage collected once it is half as much as what is remembered, not as much, and harder where the program's
// memory nears a limit that goes up with what is remembered: many readers at once leave more than is collected meanwhile.
// A server that remembers much takes less memory for more collecting. GOGC and GOMEMLIMIT, where they are set, go before.
func Lean() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(50)
	}
	if os.Getenv("GOMEMLIMIT") == "" {
		go func() {
			for ; ; time.Sleep(leanLook) {
				live := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
				metrics.Read(live)
				debug.SetMemoryLimit(leanLimit(int64(live[0].Value.Uint64())))
			}
		}()
	}
}

const (
	leanLook  = 2 * time.Second
	leanBytes = 205 << 20
)

// leanLimit is how many bytes the program may take, by how many were live when garbage was collected last: room for a quarter
// of them and for what stands beside the heap is always left, so that a large shop is not collected without end.
func leanLimit(live int64) int64 { return max(leanBytes, live+live/4+64<<20) }
