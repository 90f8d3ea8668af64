package machine

import (
	"slices"

	"needlepace/internal/tomlfile"
)

// The keys of a sheet that are not in Constants.
var otherKeys = []string{
	"name", "class", "ladder.length", "ladder.speed", "correction.length", "correction.factor",
	"correction.turn_angle", "correction.turn_factor", "travel.mode", "travel.return_to_start",
	"fit.runs", "fit.date", "fit.model_version", "fit.digest", "fit.residual", "fit.changes", "fit.terms", "fit.weight",
	"fit.also", "fit.jobs", "fit.constants", "fit.correlation",
	"fit.evidence.constants", "fit.evidence.told", "fit.evidence.read", "fit.evidence.terms", "fit.evidence.rows",
	"fit.evidence.shop", "fit.evidence.seal",
	"pool.machines", "pool.shops", "pool.model_version", "pool.from", "pool.terms", "pool.constants", "pool.told",
	"pool.correlation",
}

// allKeys lists every key a sheet may have, as full paths, in no order that
// matters.
func allKeys() []string {
	keys := slices.Clone(otherKeys)
	for _, c := range AllConstants {
		if c.node == 0 {
			keys = append(keys, c.Path)
		}
		keys = append(keys, "basis."+c.Path)
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
	if near := tomlfile.Nearest(path, slices.Values(append(allKeys(), tables()...))); near != "" {
		return "; did you mean " + near + "?"
	}
	return "; remove it, or see docs/machine-sheets.md for the keys there are"
}
