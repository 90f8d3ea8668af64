package sound

import (
	"math"
	"slices"
)

// A machine takes about as long for one trim as for the next. A rest of the design's own that takes
// several times as long as others of its kind speaks for a stop of the machine's own in it, or for
// another rest that was taken for a stop.

const (
	restsAlike  = 0.25 // standard deviation of the logarithm of a rest against the others of its kind (assumed)
	restsByLaw  = 0.6  // the same against the sheet's, where there are too few to compare with (assumed)
	fewRests    = 3    // of a kind are compared with one another
	usualRest   = 2.0  // standard deviations that cost nothing
	longRest    = 1.0  // standard deviations longer than usual: a piece of a few strokes may lie in it
	mostForRest = 3.5  // what an unusual rest costs at the most, in clear strokes: a little more than a stop
)

// restCost is what a rest costs that is so many standard deviations longer or shorter than usual, in
// clear strokes; nothing where that is not known.
func restCost(z float64) float64 {
	if math.IsNaN(z) {
		return 0
	}
	return min(max(oddsEarn/2*(z*z-usualRest*usualRest), 0), mostForRest)
}

// unusual is by how many standard deviations each of the design's own rests is longer than usual; NaN for the
// first and for stops of the machine's own. What an operator does at rest takes as long as it likes.
func (h *hearing) unusual() []float64 {
	out := slices.Repeat([]float64{math.NaN()}, len(h.laid))
	ratio := func(k int) float64 {
		return math.Log(max(h.restBefore(k), Step) / h.score.rests[k].seconds)
	}
	for _, kind := range [...]Kind{Trim, ColourStop} {
		var all []float64
		var of []int
		for k := 1; k < len(h.laid); k++ {
			if h.score.rests[k].kind != kind || h.score.rests[k].seconds <= 0 || h.laid[k].placed || h.laid[k-1].placed ||
				h.interrupted(k) || kind == ColourStop && h.law.sheet.Needles == 1 {
				continue
			}
			all, of = append(all, ratio(k)), append(of, k)
		}
		mid, sd := 0.0, restsByLaw
		if len(all) >= fewRests {
			sorted := slices.Sorted(slices.Values(all))
			mid, sd = sorted[(len(sorted)-1)/2], restsAlike
		}
		for i, k := range of {
			out[k] = (all[i] - mid) / sd
		}
	}
	return out
}

// restBefore is the seconds between what is sewn of passage k − 1 and of k ≥ 1, as they are heard; less than nothing where they overlap.
func (h *hearing) restBefore(k int) float64 {
	a, b := h.laid[k-1], h.laid[k]
	last := len(a.at) - 1
	return b.heard[0] - b.at[0] - a.heard[last] - a.total + a.at[last]
}
