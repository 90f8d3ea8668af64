package main

import (
	"os"
	"runtime"
	"runtime/debug"
	"slices"
)

// patientBytes is what the program may take before garbage is collected for the first time: a design of six million
// stitches and what stands beside it.
const patientBytes = 96 << 20

// patient has no garbage collected before the program takes patientBytes, and from then on as usual: most commands are
// over before. Those that stay, or mind their memory themselves, are left as they are, and so is who set GOGC or GOMEMLIMIT.
func patient(args []string) {
	stays := len(args) == 0 || slices.Contains([]string{"serve", "work", "listen"}, args[0])
	if stays || os.Getenv("GOGC") != "" || os.Getenv("GOMEMLIMIT") != "" {
		return
	}
	percent, limit := debug.SetGCPercent(-1), debug.SetMemoryLimit(patientBytes)
	// What nobody holds is found by the first collection.
	runtime.AddCleanup(new([16]*byte), func(int) {
		debug.SetGCPercent(percent)
		debug.SetMemoryLimit(limit)
	}, 0)
}
