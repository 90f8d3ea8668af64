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
// first, for stops of the machine's own and for colours that are changed by hand: that takes as long as it takes.
func (h *hearing) unusual() []float64 {
	out := slices.Repeat([]float64{math.NaN()}, len(h.laid))
	ratio := func(k int) float64 {
		return math.Log(max(h.restBefore(k), Step) / h.score.rests[k].seconds)
	}
	for _, kind := range [...]Kind{Trim, ColourStop} {
		var all []float64
		var of []int
		if kind == ColourStop && h.byHand() {
			continue
		}
		for k := 1; k < len(h.laid); k++ {
			if h.score.rests[k].kind != kind || h.score.rests[k].seconds <= 0 || h.laid[k].placed || h.laid[k-1].placed || h.interrupted(k) {
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

// handStop is how long, in s, colour stops take in the middle that are not the machine's own (common practice, no published source: a needle is
// changed in 5 to 15 s, a thread in a minute or more).
const handStop = 20

// byHand reports whether colours are changed by hand: there is one needle, or most colour stops take longer than any machine's own, of fewRests at the least.
func (h *hearing) byHand() bool {
	if h.law.sheet.Needles == 1 {
		return true
	}
	all, long := 0, 0
	for k := 1; k < len(h.laid); k++ {
		if h.score.rests[k].kind != ColourStop || h.interrupted(k) {
			continue
		}
		if all++; h.restBefore(k) > handStop {
			long++
		}
	}
	return all >= fewRests && 2*long > all
}

// In the rest of a colour that is changed by hand people handle things and talk: some knocks follow one another as slow strokes do, and the more there are,
// the more likely. A piece of fewer than knockedPiece strokes between such a rest and a stop of the machine's own costs as many clear strokes as
// that says (Bayes' rule, where each knock may be its first), beyond usualKnocks that a machine's own trim and change of colour make.
const (
	knockedPiece = 12
	usualKnocks  = 10.0
)

// handled reports whether the rest before passage k is a change of colour by hand.
func (h *hearing) handled(k int) bool {
	return h.score.rests[k].kind == ColourStop && !h.interrupted(k) && h.byHand()
}

// knocked is what such pieces cost, in clear strokes.
func (h *hearing) knocked() (cost float64) {
	for q := range h.halted {
		k := h.after[q] // it lies between passages k − 1 and k
		for _, piece := range [2]int{k - 1, k} {
			from, to := piece-1, piece+1 // what it lies between
			rest := to
			if piece < k {
				rest = piece
			}
			if len(h.laid[piece].at) >= knockedPiece || from < 0 || to >= len(h.laid) || !h.handled(rest) {
				continue
			}
			before := h.laid[from].heard
			n := h.pulses(before[len(before)-1], h.laid[to].heard[0], h.halfAsClear()) - len(h.laid[piece].at)
			cost += oddsEarn * math.Log(max(float64(n)/usualKnocks, 1))
		}
	}
	return cost
}

// restBefore is the seconds between what is sewn of passage k − 1 and of k ≥ 1, as they are heard; less than nothing where they overlap.
func (h *hearing) restBefore(k int) float64 {
	a, b := h.laid[k-1], h.laid[k]
	last := len(a.at) - 1
	return b.heard[0] - b.at[0] - a.heard[last] - a.total + a.at[last]
}
