package sound

import (
	"math"
	"slices"
)

// Stretch is a stretch of sewing with its time: from the end of one revolution of the shaft, or
// the shaft standing, to the end of another, or the shaft standing.
type Stretch struct {
	First, Last int     // its stitches, of the design, from 0
	Block       int     // colour block, from 0
	Seconds     float64 // as heard
	Error       float64 // s, its standard error
}

// Rested is a rest of the design's own with its time, from the shaft standing to the
// shaft moving.
type Rested struct {
	After   int // stitch of the design, from 0
	Block   int // colour block of that
	Kind    Kind
	Seconds float64
	Error   float64 // s, its standard error
	Doubt   float64 // s, that of how its runs begin and end, alike in all rests
}

// How the sewing is divided into stretches: a law shows itself where the shaft rises, where
// it falls, and on stitches of each length and turn by themselves.
const (
	atStart       = 15   // strokes in which a run rises
	atEnd         = 8    // strokes in which it falls
	unlike        = 0.1  // relative: by which the turns to come differ from those of a stretch that ends
	leastStretch  = 12   // strokes, at first
	longStretch   = 300  // strokes
	mostStretches = 60   // of the middles of runs
	mostEnds      = 12   // runs whose beginnings and ends are stretches of their own
	stoppedAt     = 40   // strokes next to a stop of the machine's own of which nothing is taken
	endPhase      = 0.01 // of a run's first or last revolution: by how much its beginning or end may be off (assumed)
)

// startCuts are after how many strokes a run's beginning is cut: at creep, in soft start, as it rises.
var startCuts = []int{3, 8, atStart}

// stretches are the sewing heard in stretches whose times say most of the law.
func (h *hearing) stretches(blockOf []int) []Stretch {
	var out []Stretch
	every := (len(h.laid) + mostEnds - 1) / mostEnds
	for k, l := range h.laid {
		n := len(l.heard)
		stopBefore, stopAfter := h.interrupted(k), h.interrupted(k+1)
		from, to := 0, n
		if stopBefore {
			from = stoppedAt
		}
		if stopAfter {
			to -= stoppedAt
		}
		if to-from < shortPassage || l.placed {
			continue
		}
		var cuts []int
		if k%every == 0 {
			if cuts = append(cuts, from); !stopBefore {
				for _, c := range startCuts {
					if c < to-from {
						cuts = append(cuts, c)
					}
				}
			}
			if !stopAfter && to-atEnd > cuts[len(cuts)-1] {
				cuts = append(cuts, to-atEnd)
			}
			if cuts = append(cuts, to); len(cuts) == 2 {
				cuts = cuts[:0]
			}
		}
		for i := 0; i+1 < len(cuts); i++ {
			if cuts[i] != atStart || stopBefore { // the middles come by themselves
				out = h.timed(out, k, cuts[i], cuts[i+1], blockOf)
			}
		}
	}
	for least := leastStretch; ; least *= 2 {
		var mid []Stretch
		for k, l := range h.laid {
			from, to := atStart, len(l.heard)-atEnd
			if h.interrupted(k) {
				from = stoppedAt
			}
			if h.interrupted(k + 1) {
				to = len(l.heard) - stoppedAt
			}
			if l.placed {
				continue
			}
			for from+least <= to {
				next := l.like(from, to, least)
				mid = h.timed(mid, k, from, next, blockOf)
				from = next
			}
		}
		if len(mid) <= mostStretches {
			return append(out, mid...)
		}
	}
}

// like is where a stretch ends that begins at stroke from, of at least so many: before the turns
// become others.
func (l *laid) like(from, to, least int) int {
	mean := func(i, j int) float64 {
		s := 0.0
		for _, t := range l.turn[i:j] {
			s += t
		}
		return s / float64(j-i)
	}
	for i := from + least; i+least <= to; i++ {
		if i-from >= longStretch || math.Abs(mean(i, i+least)/mean(from, i)-1) > unlike {
			return i
		}
	}
	return to
}

// timed adds strokes from ≤ i < to of passage k, where both its ends are clearly heard.
func (h *hearing) timed(all []Stretch, k, from, to int, blockOf []int) []Stretch {
	l := h.laid[k]
	n := len(l.heard)
	if from > 0 && l.gain[from-1] <= clearly || l.gain[to-1] <= clearly {
		return all
	}
	s := Stretch{First: -1, Last: -1}
	for i := from; i < to; i++ {
		if l.number[i] < 0 {
			continue
		}
		if s.Last = h.numberOf[l.record[i]]; s.First < 0 {
			s.First = s.Last
		}
	}
	// A stretch is named by its stitches: a jump within the run beside its end would be of another.
	if s.First < 0 || from > 0 && l.number[from-1] < 0 || l.number[to-1] < 0 && to < n {
		return all
	}
	doubt := 0.0
	begins, before := l.heard[0]-l.at[0], 0.0
	v := 0.0
	if from > 0 {
		begins, before = l.ends(from-1), l.turn[from-1]
		v += strokeJitter * strokeJitter
	} else {
		v += sq(endPhase * l.turn[0])
	}
	v += strokeJitter * strokeJitter
	after := l.turn[to-1]
	if to == n {
		v, after = v+sq(endPhase*l.turn[n-1]), 0
	}
	// Numbers that are wrong by one move both its ends by a turn.
	doubt = float64(l.within) / 2 * math.Abs(after-before)
	s.Seconds, s.Error = l.ends(to-1)-begins, math.Sqrt(v+sq(doubt))
	s.Block = blockOf[s.First]
	return append(all, s)
}

// ends is when the revolution of stroke i ends, by the stroke and what the law says of the rest of it.
func (l *laid) ends(i int) float64 {
	end := 0.0
	for _, t := range l.turn[:i+1] {
		end += t
	}
	return l.heard[i] + end - l.at[i]
}

func sq(v float64) float64 { return v * v }

// rested are the design's own rests, each with its time.
func (h *hearing) rested(out *Heard) (all []Rested) {
	for k := 1; k < len(h.laid); k++ {
		l, next := h.laid[k-1], h.laid[k]
		kind := h.score.rests[k].kind
		if h.interrupted(k) || kind != Trim && kind != ColourStop || l.placed || next.placed {
			continue
		}
		last := -1
		for i := range slices.Backward(l.number) {
			if l.number[i] >= 0 {
				last = h.numberOf[l.record[i]]
				break
			}
		}
		r := Rested{After: last, Block: out.Runs[k-1].Block, Kind: kind, Seconds: out.Runs[k].Start - out.Runs[k-1].End}
		if last < 0 || r.Seconds <= 0 {
			continue
		}
		a, b := l.turn[len(l.turn)-1], next.turn[0]
		r.Error = math.Sqrt(sq(endPhase*a) + sq(endPhase*b) + 2*sq(strokeJitter))
		r.Doubt = (float64(l.within)*a + float64(next.within)*b) / 2
		all = append(all, r)
	}
	return all
}
