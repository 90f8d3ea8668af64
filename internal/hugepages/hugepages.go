// Package hugepages makes room for much data by large pages where the system has them: to fill it for the first time
// costs half as much by pages of 2 MiB as by pages of 4 KiB.
package hugepages

import "unsafe"

// least is for how many bytes it is worth asking.
const least = 4 << 20

// Make makes a slice of n elements, which must hold no pointers. What the system does makes no difference but time.
func Make[T any](n int) []T {
	s := make([]T, n)
	var one T
	if size := uintptr(n) * unsafe.Sizeof(one); size >= least {
		ask(unsafe.Pointer(unsafe.SliceData(s)), size)
	}
	return s
}
