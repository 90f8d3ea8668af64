package main

import (
	"os"
	"unsafe"

	"golang.org/x/sys/windows"
)

// byClick reports whether somebody opened the program by a double click: it has no
// arguments, and its console holds nobody else.
func byClick() bool {
	if len(os.Args) > 1 {
		return false
	}
	var ids [2]uint32
	n, _, _ := windows.NewLazySystemDLL("kernel32.dll").NewProc("GetConsoleProcessList").Call(
		uintptr(unsafe.Pointer(&ids[0])), uintptr(len(ids)))
	return n <= 1
}
