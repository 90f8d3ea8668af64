package sound

import (
	"cmp"
	"math"
	"slices"
)

// What is said of numbers holds with this probability; the odds are e for so much
// earned more, in clear strokes, which the study of listening was fitted with.
const (
	numbersHold = 0.95
	oddsEarn    = 1.5
	ownSlip     = 4.0 // what it costs a passage to be wrong by itself, for each number: one is as the others are
)

// offBy is how likely numbers are wrong by 0 … mostShift, either way.
type offBy [mostShift + 1]float64

// within is by how many numbers may be wrong that are so likely wrong by 0, 1, … Farther than was looked each is less likely than the one
// before it by as much as the last two say, by half at the least.
func within(off []float64) int {
	last := len(off) - 1
	farther := 0.0
	if off[last-1] > 0 {
		farther = min(off[last]/off[last-1], 0.5)
	}
	all := off[last] * farther / (1 - farther)
	for _, v := range off {
		all += v
	}
	sum := 0.0
	for d := 0; ; d++ {
		v := off[min(d, last)]
		if d > last {
			v *= math.Pow(farther, float64(d-last))
		}
		if sum += v; sum >= numbersHold*all {
			return d
		}
	}
}

// doubt finds by how many the numbers of each passage may be wrong: every way to
// begin and to end, and every shift, is as likely as it earns (Bayes' rule; the ways
// that were looked at closely stand for all). A passage that is not read is as sure
// as those that are.
func (h *hearing) doubt() {
	c := h.cut()
	usual := offBy{mostShift: 1}
	var read []offBy
	if c.runs > 0 {
		read, usual = make([]offBy, c.runs), offBy{}
		ways := h.ways(c)
		for k := range ways {
			likely := math.Exp((ways[k].sum - ways[0].sum) / oddsEarn)
			for i := range read {
				for d, v := range ways[k].offBy(i) {
					read[i][d] += likely * v
				}
			}
		}
		for i := range read {
			for d, v := range read[i] {
				usual[d] += v
			}
		}
	}
	for k, l := range h.laid {
		off := &usual
		if i := c.of(k); i >= 0 {
			off = &read[i]
		}
		l.within = min(within(off[:]), len(l.at)-1)
	}
	h.doubtSilent()
}

// doubtSilent says of a passage in which more strokes are silent than in those of which most is heard, where
// nearly all strokes are clear, that its numbers may be wrong by so many: each may be a turn that there was not.
func (h *hearing) doubtSilent() {
	if h.silentCosts() == 0 {
		return
	}
	best := slices.Clone(h.laid)
	share := func(l *laid) float64 { return float64(h.silent(l)) / float64(len(l.at)) }
	slices.SortStableFunc(best, func(a, b *laid) int { return cmp.Compare(share(a), share(b)) })
	all := 0
	for _, l := range best {
		all += len(l.at)
	}
	n, silent := 0, 0
	for _, l := range best {
		if n >= all/2 {
			break
		}
		n, silent = n+len(l.at), silent+h.silent(l)
	}
	for _, l := range h.laid {
		usual := float64(silent) / float64(n) * float64(len(l.at))
		more := float64(h.silent(l)) - usual - chanceSilent*math.Sqrt(usual)
		if !l.placed { // a run that is not heard to begin may begin where it is heard, and so end later
			more = max(more, float64(h.muteAt(l, 1)), float64(h.muteAt(l, -1)))
		}
		l.within = max(l.within, min(int(math.Ceil(more)), len(l.at)-1))
	}
	slips, _ := h.slips()
	for k, l := range h.laid { // no law was found by which there are none
		l.within = max(l.within, min(len(slips[k]), len(l.at)-1))
	}
}

// chanceSilent is how many standard deviations more silent strokes than usual a passage has by chance.
const chanceSilent = 2

// offBy is how likely a way has the numbers of a passage that is read wrong by 0 …
// mostShift at its worse end.
func (w *way) offBy(i int) (off offBy) {
	const shifts = 2*mostShift + 1
	var earn [shifts][shifts]float64
	best, sum := math.Inf(-1), 0.0
	for s := range shifts {
		for z := range shifts {
			earn[s][z] = w.begins.by[i][s] + w.ends.by[i][z] - ownSlip*(math.Abs(float64(z-s))+math.Abs(float64(s-mostShift-w.shift)))
			best = max(best, earn[s][z])
		}
	}
	for s := range shifts {
		for z := range shifts {
			v := math.Exp((earn[s][z] - best) / oddsEarn)
			off[max(s-mostShift, mostShift-s, z-mostShift, mostShift-z)] += v
			sum += v
		}
	}
	for d := range off {
		off[d] /= sum
	}
	return off
}

// doubtPieces finds by how many the numbers of what lies between two stops may be wrong:
// where its stitches are alike, nothing but what is sewn again tells.
func (h *hearing) doubtPieces() {
	h.eachStopped(func(k int, pieces []piece, whole *passage) {
		all := h.movesOf(k, pieces, whole)
		for i := range pieces {
			if i == 0 || i == len(pieces)-1 { // numbered from the passage's own end
				continue
			}
			moves := all[i]
			var by []int
			var earn []float64
			for m := range moves {
				all[i] = moves[m : m+1]
				if _, v := sortPieces(all, pieces, len(whole.at)); !math.IsInf(v, -1) {
					by, earn = append(by, max(moves[m].by, -moves[m].by)), append(earn, v)
				}
			}
			all[i] = moves
			if len(by) == 0 {
				continue
			}
			var off [mostMoved + 1]float64
			for m, v := range earn {
				off[by[m]] += math.Exp((v - slices.Max(earn)) / oddsEarn)
			}
			l := h.laid[k+i]
			l.within = max(l.within, min(within(off[:]), len(l.at)-1))
		}
	})
}

// doubtAgain says of the runs beside a stop after which far more is sewn again than as a matter of course that their numbers may be
// wrong by as many: another version of the design, with a row of stitches more there, sounds the same.
func (h *hearing) doubtAgain() {
	for q, t := range h.halted {
		again := t.last + 1 - t.next
		if again <= fewAgain {
			continue
		}
		for _, l := range h.laid[h.after[q]-1 : h.after[q]+1] {
			l.within = max(l.within, min(again, len(l.at)-1))
		}
	}
}
