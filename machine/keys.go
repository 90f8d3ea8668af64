package machine

import (
	"slices"
	"strings"
)

// The keys of a sheet that are not in Constants.
var otherKeys = []string{
	"name", "class", "ladder.length", "ladder.speed", "travel.mode", "travel.return_to_start",
	"fit.runs", "fit.date", "fit.model_version", "fit.digest", "fit.residual", "fit.constants", "fit.correlation",
}

// allKeys lists every key a sheet may have, as full paths, in no order that
// matters.
func allKeys() []string {
	keys := slices.Clone(otherKeys)
	for _, c := range Constants {
		keys = append(keys, c.Path, "basis."+c.Path)
		if !c.Whole {
			keys = append(keys, "sd."+c.Path)
		}
	}
	return keys
}

// tables lists every table a sheet may have.
func tables() []string {
	var ts []string
	for _, k := range allKeys() {
		for i := range k {
			if k[i] == '.' && !slices.Contains(ts, k[:i]) {
				ts = append(ts, k[:i])
			}
		}
	}
	return ts
}

// didYouMean is "; did you mean …?" with the nearest valid key, or what else
// to do where none is near.
func didYouMean(path string) string {
	if near := nearest(path, append(allKeys(), tables()...)); near != "" {
		return "; did you mean " + near + "?"
	}
	return "; remove it, or see docs/machine-sheets.md for the keys there are"
}

// nearest finds the valid key that a wrong one was most likely meant to be:
// the fewest letters changed, where a wrong table costs as much as one letter
// if the key itself is right. Empty where nothing is near.
func nearest(path string, valid []string) string {
	const longest = 80 // bytes; nothing longer is a slip of the pen
	if len(path) > longest {
		return ""
	}
	table, leaf := split(path)
	best, bestCost := "", 1<<30
	for _, v := range valid {
		t, l := split(v)
		cost := edits(path, v)
		if t != table {
			cost = min(cost, 1+edits(leaf, l))
		}
		// Nothing is a slip if a third of the letters must change.
		if cost < bestCost && 3*cost <= max(len(leaf), 3)+2 {
			best, bestCost = v, cost
		}
	}
	return best
}

func split(path string) (table, leaf string) {
	i := strings.LastIndexByte(path, '.')
	if i < 0 {
		return "", path
	}
	return path[:i], path[i+1:]
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
