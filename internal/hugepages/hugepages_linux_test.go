package hugepages_test

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"unsafe"

	"needlepace/internal/hugepages"
)

// By what the system says of the memory: proc(5), smaps, VmFlags, where hg is "huge page advise flag".
func TestLargePagesAreAskedForWhereMuchIsMade(t *testing.T) {
	if _, err := os.Stat("/sys/kernel/mm/transparent_hugepage"); err != nil {
		t.Skip("the system has none: ", err)
	}
	for _, c := range []struct {
		records int
		asked   bool
	}{{5 << 20, true}, {1000, false}} {
		s := hugepages.Make[[3]int16](c.records)
		if len(s) != c.records {
			t.Fatalf("%d elements of %d", len(s), c.records)
		}
		if flags := flagsOf(t, uintptr(unsafe.Pointer(&s[len(s)/2]))); strings.Contains(flags, " hg") != c.asked {
			t.Errorf("%d records: flags %s", c.records, flags)
		}
	}
}

func flagsOf(t *testing.T, at uintptr) string {
	t.Helper()
	b, err := os.ReadFile("/proc/self/smaps")
	if err != nil {
		t.Skip(err)
	}
	inside := false
	for line := range strings.Lines(string(b)) {
		var from, to uintptr
		if n, _ := fmt.Sscanf(line, "%x-%x ", &from, &to); n == 2 {
			inside = from <= at && at < to
		}
		if inside && strings.HasPrefix(line, "VmFlags:") {
			return strings.TrimSpace(line)
		}
	}
	t.Fatalf("no memory at %x", at)
	return ""
}
