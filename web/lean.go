package web

import (
	"os"
	"runtime/debug"
)

// Lean has garbage collected once it is half as much as what is remembered, not as much: a server
// that remembers much takes less memory for more collecting. GOGC, where it is set, goes before.
func Lean() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(50)
	}
}
