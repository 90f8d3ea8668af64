package audit

import (
	"fmt"
	"strings"

	"needlepace/stitch"
)

// blockThreads checks a list of threads against the number of blocks; nil
// gives every block its own.
func blockThreads(threads []int, blocks int) ([]int, error) {
	if threads == nil {
		return identity(blocks), nil
	}
	if len(threads) != blocks {
		return nil, fmt.Errorf("threads were given for %d colour blocks, the design has %d", len(threads),
			blocks)
	}
	return threads, nil
}

// ThreadsOf gives each colour block of a design a thread by the file's own
// thread table: blocks whose entries are the same share one. Blocks the table
// says nothing about get one each. ok is false if the table says nothing at
// all; then the list is nil.
func ThreadsOf(d *stitch.Design, blocks int) (threads []int, ok bool) {
	seen := map[stitch.Thread]int{}
	threads = identity(blocks)
	for k := range threads {
		if k >= len(d.Threads) || !d.Threads[k].Known {
			continue
		}
		ok = true
		if first, again := seen[d.Threads[k]]; again {
			threads[k] = first
		} else {
			seen[d.Threads[k]] = k
		}
	}
	if !ok {
		return nil, false
	}
	return threads, true
}

// ThreadsNamed gives each colour block a thread by name: blocks of the same
// name (spaces and case aside) share one; an empty name, "?" or "-" is a
// thread of its own.
func ThreadsNamed(names []string) []int {
	seen := map[string]int{}
	threads := identity(len(names))
	for k, n := range names {
		n = strings.ToLower(strings.Join(strings.Fields(n), " "))
		if n == "" || n == "?" || n == "-" {
			continue
		}
		if first, again := seen[n]; again {
			threads[k] = first
		} else {
			seen[n] = k
		}
	}
	return threads
}

// Blocks is the number of colour blocks of a design.
func Blocks(d *stitch.Design) int { return d.Count().ColourStops + 1 }
