package sound

import (
	"math"
	"slices"
	"sync"
)

// drifting is what laying by the law alone pays: how far a passage may run
// ahead of the law or behind it.
type drifting struct {
	reach float64 // s that it may be off in all
	step  float64 // what a millisecond of drift costs, in clear strokes
	ends  float64 // the same at a passage's ends
	known int     // 1 + the stroke that is where it is expected, 0: none
}

// knownWell is by how many ms a stroke whose time is known may be off.
const knownWell = 6

// mostDrift is by how many ms the drift may change from one stroke to the next.
const mostDrift = 3

// beyond is how far two strokes lead.
const beyond = 2 * mostDrift

// mostSummed is what a drift may have earned or paid before it is taken off all: whole numbers end.
const mostSummed = 1 << 28

// giveUpAt is how much less than the best, in clear strokes, a drift may have earned
// and still be gone on with: more than a passage's beginning can earn that is taken for
// a stroke more or less.
const giveUpAt = 15

// wayBacks are for how each drift came about, of a passage that is laid.
var wayBacks = sync.Pool{New: func() any { return new([]uint8) }}

// follow lays a passage by the law: a stroke falls where the law says, off by a
// drift that changes little from one stroke to the next and by a jitter of its
// own (dynamic programming over strokes and drifts, those left out that have fallen far
// behind). Unlike lay it cannot lose or win a stroke on the way without paying for the
// whole time of it.
func (l *laid) follow(wide []int16, o []float32, by drifting) {
	n := len(l.at)
	reach := int(by.reach / Step)
	width := 2*reach + 1
	// What each drift has earned, and as far beyond either side as two strokes lead. Below what is
	// earned, in the lowest bits, stands from where.
	v, w := make([]int32, width+2*beyond), make([]int32, width+2*beyond)
	for i := range beyond {
		v[i], v[len(v)-1-i] = never, never
	}
	store := wayBacks.Get().(*[]uint8)
	came := (*store)[:0]
	defer func() {
		*store = came
		wayBacks.Put(store)
	}()
	type row struct{ base, lo, from int } // ms of drift 0, the least that is gone on with, its place in came
	rows := make([]row, n)
	lo, hi := 0, width
	total, top := int64(0), int32(0) // taken off all, and earned beside it by the best
	for i := range rows {
		base := int(math.Round(l.want[i]/Step)) - reach
		if i > 0 {
			lo, hi = max(lo-mostDrift, 0), min(hi+mostDrift, width)
		}
		rows[i] = row{base, lo, len(came)}
		if i > 0 {
			// Rounding of the law's times to the grid is no drift.
			step := int32((by.step + (by.ends-by.step)*near(i, n)) * wideUnit)
			one, two, three := step<<cameBits, 2*step<<cameBits, 3*step<<cameBits
			came = slices.Grow(came, hi-lo)[:len(came)+hi-lo]
			here := came[rows[i].from:]
			from, to := v[lo+beyond-mostDrift:hi+beyond+mostDrift], w[lo+beyond:hi+beyond]
			here = here[:len(to)]
			for x := range to {
				f := from[x : x+2*mostDrift+1]
				best := max(f[3]|6, (f[2]-one)|5, (f[4]-one)|4, (f[1]-two)|3, (f[5]-two)|2, (f[0]-three)|1, f[6]-three)
				here[x] = uint8(best) & cameMask
				to[x] = best &^ cameMask
			}
			v, w = w, v
		}
		sums := v[lo+beyond : hi+beyond]
		most := int32(never)
		if l.number[i] < 0 {
			most = slices.Max(sums)
		} else if t := base + lo; t >= 0 && t+len(sums) <= len(wide) {
			at := wide[t:][:len(sums)]
			for x := range sums {
				sum := sums[x] + int32(at[x])<<cameBits
				sums[x], most = sum, max(most, sum)
			}
		} else { // partly off the recording
			for x := range sums {
				earned := -int32(background * wideUnit)
				if t+x >= 0 && t+x < len(wide) {
					earned = int32(wide[t+x])
				}
				sums[x] += earned << cameBits
				most = max(most, sums[x])
			}
		}
		if i == by.known-1 {
			for x := lo; x < hi; x++ {
				if x < reach-knownWell || x > reach+knownWell {
					v[x+beyond] = never
				}
			}
			most = slices.Max(sums)
		}
		least := most - int32(giveUpAt*wideUnit)<<cameBits
		if i < by.known-1 { // any may be it that leads where the stroke is known to be
			least = never
		}
		for v[lo+beyond] < least {
			lo++
		}
		for v[hi-1+beyond] < least {
			hi--
		}
		if most > mostSummed || most < -mostSummed {
			for x := lo; x < hi; x++ {
				v[x+beyond] = max(v[x+beyond]-most, never)
			}
			total, most = total+int64(most), 0
		}
		top = most
		for k := range beyond {
			v[lo+k], v[hi+beyond+k] = never, never
		}
	}
	total += int64(top)
	x := lo
	for v[x+beyond] < top {
		x++
	}
	l.score = float64(total) / (1 << cameBits) / wideUnit
	l.heard, l.gain, l.drifted = grown(l.heard, n), grown(l.gain, n), 0
	for i := n - 1; i >= 0; i-- {
		r := &rows[i]
		l.heard[i], l.gain[i] = pick(o, r.base+x)
		if i > 0 {
			k := cameBy[came[r.from+x-r.lo]]
			if k != 0 && near(i, n) == 0 {
				l.drifted += math.Abs(float64(k))
			}
			x += k
		}
	}
}

// What strokes earn, widened, is kept in whole numbers of 1/wideUnit, for the greater of two
// whole numbers is found without a jump; in the lowest bits of a sum stands by how much,
// in ms, the drift was another before: cameBy.
const (
	wideUnit = 2000
	cameBits = 3
	cameMask = 1<<cameBits - 1
)

var cameBy = [1 << cameBits]int{3, -3, 2, -2, 1, -1, 0}

// pick is where the stroke near a millisecond was, and how clear: the pulse's
// peak within the jitter of a stroke.
func pick(o []float32, t int) (at, gain float64) {
	best, where := -1.0, t
	for d := -4; d <= 4; d++ {
		if t+d < 0 || t+d >= len(o) {
			continue
		}
		if g := float64(o[t+d]) * (1 - 0.02*float64(d*d)); g > best {
			best, where = g, t+d
		}
	}
	if best < 0.02 {
		return float64(t) * Step, max(best, 0)
	}
	return peakAt(o, where) * Step, float64(o[where])
}

// widened is worth, in 1/wideUnit, where a stroke may be a millisecond or two from the
// law's place at no cost to speak of.
func widened(worth []float32) []int16 {
	out := make([]float32, len(worth))
	for t := range worth {
		m := worth[t]
		for d := 1; d <= 2; d++ {
			less := float32(0.03 * float64(d*d))
			if t >= d {
				m = max(m, worth[t-d]-less)
			}
			if t+d < len(worth) {
				m = max(m, worth[t+d]-less)
			}
		}
		out[t] = m
	}
	level(out)
	whole := make([]int16, len(out))
	for t, v := range out {
		whole[t] = int16(math.Round(float64(v) * wideUnit))
	}
	return whole
}
