//go:build unix

package main

import (
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// A disk that is full amid a file leaves none, and says what can be done: the limit of
// a file's size stands for it.
func TestAFileThatDoesNotFitIsNotLeft(t *testing.T) {
	signal.Ignore(syscall.SIGXFSZ)
	defer signal.Reset(syscall.SIGXFSZ)
	var was syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &was); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "crest-mended.dst")
	small := was
	small.Cur = 1000
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &small); err != nil {
		t.Fatal(err)
	}
	err := createNew(path, make([]byte, 3000))
	if back := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &was); back != nil {
		t.Fatal(back)
	}
	if err == nil || !strings.Contains(err.Error(), "crest-mended.dst") || !strings.Contains(err.Error(), "make room") {
		t.Errorf("it says: %v", err)
	}
	if _, err := os.Lstat(path); !os.IsNotExist(err) {
		t.Errorf("a part of the file was left: %v", err)
	}
}
