package tomlfile

import (
	"iter"
	"strings"
)

// longestSlip is the length of a key, in bytes, beyond which nothing is a slip
// of the pen.
const longestSlip = 80

// Nearest is the valid key that a wrong one was most likely meant to be: the
// fewest letters changed, where a wrong table costs as much as one letter if
// the key itself is right; of equals the first. Empty where nothing is near: nothing is a slip if a
// third of the letters must change.
func Nearest(key string, valid iter.Seq[string]) string {
	if len(key) > longestSlip {
		return ""
	}
	table, leaf := Split(key)
	best, least := "", 1<<30
	for v := range valid {
		t, l := Split(v)
		cost := edits(key, v)
		if t != table {
			cost = min(cost, 1+edits(leaf, l))
		}
		if 3*cost <= max(len(leaf), 3)+2 && cost < least {
			best, least = v, cost
		}
	}
	return best
}

// Split parts a dotted key into its table and its last word.
func Split(key string) (table, leaf string) {
	i := strings.LastIndexByte(key, '.')
	if i < 0 {
		return "", key
	}
	return key[:i], key[i+1:]
}

// edits is the Levenshtein distance in bytes: insertions, deletions and
// replacements that make a into b (Levenshtein 1966).
func edits(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diag := row[0]
		row[0] = i + 1
		for j := range len(b) {
			up := row[j+1]
			cost := diag
			if a[i] != b[j] {
				cost++
			}
			row[j+1] = min(cost, up+1, row[j]+1)
			diag = up
		}
	}
	return row[len(b)]
}
