// Package doptimal chooses experiments: from a list of candidates, those that
// together make the determinant of the information matrix largest
// (D-optimality; with a prior's precision added, Bayesian D-optimality:
// Chaloner and Verdinelli, Statistical Science 10, 1995). The search is an
// exchange algorithm (review: St. John and Draper, Technometrics 17, 1975):
// add greedily, then exchange as long as that helps.
//
// The package is checked against the optimal designs of Box and Lucas (1959),
// of Kiefer and Wolfowitz's quadratic, and of the hyperbola y = Vx/(K+x).
package doptimal

import (
	"math"
)

// worth is the least gain of the score that counts as one.
const worth = 1e-10

// Exchange chooses a set of the candidates 0…n−1 (one may stand in it more
// than once) that makes score largest, from the start set on. score gives
// −Inf for a set that is not allowed (too dear, too large, a forbidden
// repeat); it must allow the start set. It gets sets in no particular order
// and must not keep them. The result is a local optimum: no addition,
// exchange, or removal with a filling up helps. The order of ties is fixed, so the same input gives the
// same set.
func Exchange(n int, score func(set []int) float64, start []int) []int {
	set := append([]int(nil), start...)
	now := score(set)
	try := func(s []int) float64 {
		v := score(s)
		if math.IsNaN(v) {
			return math.Inf(-1)
		}
		return v
	}
	// add puts in the best candidate while one helps.
	add := func(s []int, v float64) ([]int, float64) {
		for {
			best, at := v, -1
			for c := range n {
				if w := try(append(s, c)); w > best+worth {
					best, at = w, c
				}
			}
			if at < 0 {
				return s, v
			}
			s, v = append(s, at), best
		}
	}
	for {
		before := now
		set, now = add(set, now)
		// Exchange each member for the best candidate.
		for i := range set {
			old := set[i]
			best, at := now, old
			for c := range n {
				if c == old {
					continue
				}
				set[i] = c
				if v := try(set); v > best+worth {
					best, at = v, c
				}
			}
			set[i], now = at, best
		}
		// Take each member out and fill up: one dear experiment may hold the
		// place of two cheap ones.
		for i := 0; i < len(set); i++ {
			s := append(append(make([]int, 0, len(set)+4), set[:i]...), set[i+1:]...)
			if s, v := add(s, try(s)); v > now+worth {
				set, now = s, v
			}
		}
		if now <= before+worth {
			return set
		}
	}
}
