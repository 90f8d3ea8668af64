package sound

import (
	"math"
	"slices"

	"needlepace/machine"
)

// A stop in a short passage between long rests may cost the way through the design
// more than it earns there: half the passage is then taken for noise at rest, and
// what was not sewn is laid where nothing is heard. Strokes tell it: what sounds
// like sewing in a rest is tried as a part of the passage before or after it.

// burst is a row of clear pulses, none far from the next.
type burst struct {
	first, last float64
	pulses      int
}

const (
	burstGap   = 0.8 // s between the pulses of a burst at the most: slow first strokes
	burstLeast = 6   // pulses; in a rest longer than usual, or beside strokes that are silent where nearly all are clear, as many as a piece has at the least
	leastPiece = 3   // strokes
	fewBursts  = 4   // in a rest: where people handle things there are more, and each looks like strokes
)

// missedEarns is what a stop must earn more than others that is tried wherever something sounds.
const missedEarns = haltEarns

// bursts are the rows of pulses of the recording that are half as clear as its strokes.
func (h *hearing) bursts() (out []burst) {
	var now burst
	least := h.halfAsClear()
	end := func() {
		if now.pulses >= leastPiece {
			out = append(out, now)
		}
		now.pulses = 0
	}
	for t := 1; t+1 < len(h.o); t++ {
		if h.o[t] < least || h.o[t] < h.o[t-1] || h.o[t] <= h.o[t+1] {
			continue
		}
		at := float64(t) * Step
		if now.pulses > 0 && at-now.last > burstGap {
			end()
		}
		if now.pulses == 0 {
			now.first = at
		}
		now.last = at
		now.pulses++
	}
	end()
	return out
}

// halfAsClear is how clear a pulse is that is half as clear as the strokes.
func (h *hearing) halfAsClear() float32 {
	var gains []float64
	for _, l := range h.laid {
		gains = append(gains, l.gain...)
	}
	slices.Sort(gains)
	return float32(gains[len(gains)/2] / 2)
}

// missed adds the stops that the way through the design has missed, as long as one
// earns enough.
func (h *hearing) missed(by drifting) *hearing {
	if h.room() < 1 {
		return h
	}
	best := h
	all, tried := h.bursts(), h.told.tried
	for range mostHalts + len(h.o)/60000 {
		was := best
		unusual, clear, byHand := was.unusual(), was.silentCosts() > 0, was.byHand()
		in := make([]int, len(all)) // the rest before which passage each is in, −1 for none
		bursts := make([]int, len(was.laid)+1)
		for i, b := range all {
			k := slices.IndexFunc(was.laid, func(l *laid) bool { return l.heard[len(l.heard)-1] > b.first })
			if k < 0 {
				k = len(was.laid)
			}
			if k < len(was.laid) && was.laid[k].heard[0] < b.last {
				in[i] = -1 // it is of a passage
				continue
			}
			in[i] = k
			bursts[k]++
		}
		for i, b := range all {
			k := in[i]
			if k < 0 {
				continue
			}
			long := k < len(was.laid) && unusual[k] >= longRest
			lacking := k < len(was.laid) && was.lacks(k-1)+was.lacks(k) >= missedEarns
			usual := k < len(was.laid) && (unusual[k] < longRest || byHand && bursts[k] > fewBursts && was.handled(k)) && !lacking
			if !long && !(lacking && clear) && b.pulses < burstLeast || usual || tried[b.beside(was, k)] {
				continue
			}
			fails := true
			var own [2]burst // what is heard of the passages before and after
			for i := range own {
				if p := k - 1 + i; p >= 0 && p < len(was.laid) {
					own[i] = cover(all, was.laid[p])
				}
			}
			for i, o := range own {
				if o == (burst{}) {
					continue
				}
				pair := [2]burst{o, b}
				if i == 1 {
					pair = [2]burst{b, o}
				}
				if try := was.split(k-1+i, pair, i, by); try != nil {
					now := try.lay(by)
					if now.earned <= was.earned+missedEarns || !now.inOrder() {
						continue
					}
					if fails = false; now.earned > best.earned {
						best = now
					}
				}
			}
			if fails {
				tried[b.beside(was, k)] = true
			}
		}
		if best == was || best.room() < 1 {
			break
		}
	}
	return best
}

// beside is a burst between two pieces, by a law.
type beside struct {
	burst
	pieces [2]piece
	sheet  *machine.Sheet
}

func (b burst) beside(h *hearing, k int) beside {
	out := beside{burst: b, sheet: h.law.sheet}
	for i := range out.pieces {
		if p := k - 1 + i; p >= 0 && p < len(h.pieces) {
			out.pieces[i] = h.pieces[p]
		}
	}
	return out
}

// lacks is what a passage earns less than its strokes would at the mean of all.
func (h *hearing) lacks(k int) float64 {
	if k < 0 {
		return 0
	}
	return h.perStroke()*float64(len(h.laid[k].at)) - h.laid[k].score
}

// room is how many more stops of the machine's own there may be: with more the recording is
// refused, whatever they earn, and what is nothing of the design has room for ever more.
func (h *hearing) room() int {
	strokes := 0
	for _, l := range h.laid {
		strokes += len(l.heard)
	}
	return mostHalts + strokes/haltStrokes - len(h.halted)
}

// inOrder reports whether no passage begins before the one before it has ended.
func (h *hearing) inOrder() bool {
	for k := 1; k < len(h.laid); k++ {
		if last := h.laid[k-1].heard; h.laid[k].heard[0] < last[len(last)-1] {
			return false
		}
	}
	return true
}

// cover is what of the bursts a passage lies over.
func cover(all []burst, l *laid) (out burst) {
	for _, b := range all {
		if b.last > l.heard[0] && b.first < l.heard[len(l.heard)-1] {
			if out == (burst{}) {
				out.first = b.first
			}
			out.last = b.last
			out.pulses += b.pulses
		}
	}
	return out
}

// split lays a played passage on two bursts with a stop between, of which it lies on the one that is its own;
// nil where they cannot hold it.
func (h *hearing) split(k int, pair [2]burst, own int, by drifting) *hearing {
	p, l := h.pieces[k], h.laid[k]
	n := len(l.at)
	begins, ends := []float64{pair[0].first - l.at[0]}, []float64{pair[1].last - l.at[n-1]}
	if own == 0 { // what is heard at rest may be of its burst: it may lie right as it is
		begins = append(begins, l.heard[0]-l.at[0])
	} else {
		ends = append(ends, l.heard[n-1]-l.at[n-1])
	}
	begin := h.match(l, 0, min(alike, n, pair[0].pulses), begins, false)
	end := h.match(l, max(n-min(alike, pair[1].pulses), 0), n, ends, true)
	// As many strokes as their time by the law says, of the beginning and of the end.
	last := min(strokeAt(l.passage, pair[0].last-begin), n-1)
	next := max(n-1-strokeAt(backwards(l.at), end+l.at[n-1]-pair[1].first), 0)
	// A piece that both rises and slows takes another time than the design's end: there it may have a few more.
	last, next = max(last, min(leastPiece, n)-1), min(next, max(n-leastPiece, 0))
	if next > last+stopMost || last-next > 2*stopMost || pair[1].first-pair[0].last < leastHalt {
		return nil
	}
	next = min(next, last+1)
	if n-next < leastPiece { // sewn again at the run's end
		return nil
	}
	try := h.again()
	q := 0
	for _, a := range h.after {
		if a <= k {
			q++
		}
	}
	every := h.path.every
	halts := slices.Insert(slices.Clone(h.halted), q, halt{p.passage, p.from + last, p.from + next, int(pair[0].last / every),
		int(pair[1].first / every)})
	was := slices.Insert(slices.Clone(h.pieces), k, p)
	was[k].to, was[k+1].from = p.from+last+1, p.from+next
	var parts [2]laid
	for i := 0; i <= last; i++ {
		parts[0].heard = append(parts[0].heard, begin+l.at[i])
	}
	for i := next; i < n; i++ {
		parts[1].heard = append(parts[1].heard, end+l.at[i])
	}
	for i := range parts {
		parts[i].gain = slices.Repeat([]float64{1}, len(parts[i].heard))
	}
	try.laid = slices.Replace(try.laid, k, k+1, &parts[0], &parts[1])
	if !try.replay(halts, was) {
		return nil
	}
	try = try.lay(by) // the bursts' strokes are known nearly only
	try.sortHalts()
	return try
}

// How a passage's beginning or end is sought near a burst's.
const (
	alike     = 16  // strokes that are looked at
	seekFar   = 1.2 // s into the burst: something else may be heard just before sewing
	seekNear  = 0.2 // s out of it
	seekEvery = 0.004
	seekBlur  = 8 // ms that a stroke may be off
)

// match is when a passage begins whose strokes from ≤ i < to are heard, near one of some times;
// before: rather before it than after.
func (h *hearing) match(l *laid, from, to int, near []float64, before bool) float64 {
	best, at := math.MinInt, near[0]
	for _, near := range near {
		lo, hi := near-seekNear, near+seekFar
		if before {
			lo, hi = near-seekFar, near+seekNear
		}
		for t := lo; t < hi; t += seekEvery {
			sum := 0
			for i := from; i < to; i++ {
				m := int((t + l.at[i]) / Step)
				if a, z := max(m-seekBlur, 0), min(m+seekBlur+1, len(h.wide)); a < z {
					sum += int(slices.Max(h.wide[a:z]))
				}
			}
			if sum > best {
				best, at = sum, t
			}
		}
	}
	return at
}

// backwards is a passage read from its last stroke to its first.
func backwards(at []float64) *passage {
	out := &passage{at: make([]float64, len(at))}
	for i, t := range at {
		out.at[len(at)-1-i] = at[len(at)-1] - t
	}
	return out
}
