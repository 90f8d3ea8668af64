package main

import (
	"runtime"
	"runtime/debug"
	"testing"
	"time"
)

func TestGarbageIsLeftUntilThereIsMuch(t *testing.T) {
	t.Setenv("GOGC", "")
	t.Setenv("GOMEMLIMIT", "")
	limit := debug.SetMemoryLimit(-1)
	was := debug.SetGCPercent(73)
	defer debug.SetGCPercent(was)
	percent := func() int {
		p := debug.SetGCPercent(73)
		debug.SetGCPercent(p)
		return p
	}
	for _, stays := range [][]string{nil, {"serve"}, {"work", "--x"}, {"listen"}} {
		if patient(stays); percent() != 73 {
			t.Errorf("%q: %d", stays, percent())
		}
	}
	if patient([]string{"clock", "a.dst"}); percent() != -1 || debug.SetMemoryLimit(-1) != patientBytes {
		t.Fatalf("collected at %d %%, %d bytes", percent(), debug.SetMemoryLimit(-1))
	}
	// From the first collection on all is as it was.
	for range 100 {
		runtime.GC()
		if time.Sleep(10 * time.Millisecond); percent() == 73 && debug.SetMemoryLimit(-1) == limit {
			return
		}
	}
	t.Errorf("after a collection: %d %%, %d bytes", percent(), debug.SetMemoryLimit(-1))
}
