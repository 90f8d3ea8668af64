package hugepages

import (
	"os"
	"unsafe"

	"golang.org/x/sys/unix"
)

// ask asks for large pages from the first whole page on.
func ask(from unsafe.Pointer, size uintptr) {
	skip := -uintptr(from) & uintptr(os.Getpagesize()-1)
	unix.Madvise(unsafe.Slice((*byte)(unsafe.Add(from, skip)), size-skip), unix.MADV_HUGEPAGE) //nolint:errcheck // it is advice
}
