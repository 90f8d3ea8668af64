//go:build !windows

package main

import (
	"os"
	"runtime"
	"strings"
)

// byClick reports whether somebody opened the program by a double click: on macOS it
// then is within Needlepace.app and has neither arguments nor a terminal.
func byClick() bool {
	self, err := os.Executable()
	return err == nil && runtime.GOOS == "darwin" && len(os.Args) == 1 && strings.Contains(self, ".app/Contents/MacOS/") &&
		!isTerminal(os.Stdout) && !isTerminal(os.Stderr)
}
