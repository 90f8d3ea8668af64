package sound

import (
	"math"
	"math/bits"
	"slices"
)

// blurred is what a stroke earns at best within so many milliseconds.
type blurred struct {
	sharp []int16                // in 1/wideUnit
	wide  [len(blurRadii)][]int8 // by radius, in earnQuanta
	block [blockRows][]int16     // the most that is earned in 1, 2, 4, … times beyondBlock ms from each on, in 1/wideUnit
	twins bool                   // the machine strikes twice a revolution: what lies beyond an end tells nothing
}

// blurs is what a stroke of the recording earns so.
func (h *hearing) blurs() *blurred {
	if h.blurred == nil {
		h.blurred = newBlurred(h.wide)
	}
	return h.blurred
}

// blurRadii are in ms.
var blurRadii = [...]int{4, 10, 22, 45, 80}

// blurBy is the widest of these within so many ms, −1 for none.
var blurBy = func() (by [81]int8) {
	for ms := range by {
		by[ms] = -1
		for k, r := range blurRadii {
			if r <= ms {
				by[ms] = int8(k)
			}
		}
	}
	return by
}()

// earnQuantum is the step in which what a stroke earns in a wide place is kept.
const earnQuantum = 0.01

func newBlurred(sharp []int16) *blurred {
	b := &blurred{sharp: sharp}
	last, out, levelled := slices.Clone(sharp), make([]int16, len(sharp)), make([]float32, len(sharp))
	radius := 0
	for k, r := range blurRadii {
		by := r - radius
		for t := range out {
			m := last[t]
			// Maxima of maxima: two places at the edges and some between.
			for _, d := range []int{by, by / 2} {
				if t >= d {
					m = max(m, last[t-d])
				}
				if t+d < len(last) {
					m = max(m, last[t+d])
				}
			}
			out[t] = m
			levelled[t] = float32(m) / wideUnit
		}
		last, out, radius = out, last, r
		level(levelled) // chance earns more in a wider place
		b.wide[k] = make([]int8, len(levelled))
		for t, v := range levelled {
			b.wide[k][t] = int8(min(max(math.Round(float64(v)/earnQuantum), math.MinInt8), math.MaxInt8))
		}
	}
	for t := 0; t < len(sharp); t += beyondBlock {
		b.block[0] = append(b.block[0], slices.Max(sharp[t:min(t+beyondBlock, len(sharp))]))
	}
	for k := 1; k < blockRows; k++ {
		b.block[k] = slices.Clone(b.block[k-1])
		for i := range b.block[k] {
			b.block[k][i] = max(b.block[k][i], b.block[k-1][min(i+1<<(k-1), len(b.block[k])-1)])
		}
	}
	return b
}

// Where, in turns from a passage's first or last stroke, one stroke more would be heard,
// and where what is heard of a rest anyway.
const (
	beyondBlock          = 16 // ms
	blockRows            = 7
	beforeFrom, afterBy  = 0.3, 0.6
	beyondTo             = 1.5
	beyondRest, restEnds = 2.5, 4.5
	restParts            = 4
	unheard              = 0.7 // what it costs that a stroke is heard which the design does not have
)

// beyond is what it costs a passage that strokes are heard just before its first stroke, at
// a time in s, or after its last; turn is that stroke's, negative before.
func (b *blurred) beyond(at, turn float64) float64 {
	near := beforeFrom
	if turn > 0 {
		near = afterBy
	}
	if b.twins {
		return 0
	}
	cost := b.most(at+near*turn, at+beyondTo*turn)
	if cost <= 0 {
		return 0
	}
	rest := math.Inf(1) // strokes that were missed may lie there, too, but not all over the rest
	for k := range restParts {
		from := at + (beyondRest+float64(k)*(restEnds-beyondRest))*turn
		to := from + (restEnds-beyondRest)*turn
		if k > 0 && (rest <= 0 || min(from, to) < 0 || int(max(from, to)/Step) >= len(b.sharp)) {
			break
		}
		rest = min(rest, b.most(from, to))
	}
	return unheard * max(cost-max(rest, 0), 0)
}

// most is the most that is earned between two times in s.
func (b *blurred) most(from, to float64) float64 {
	i, j := int(min(from, to)/Step)/beyondBlock, int(max(from, to)/Step)/beyondBlock
	if i, j = max(i, 0), min(j, len(b.block[0])-1); i > j {
		return 0
	}
	k := min(bits.Len(uint(j-i+1))-1, blockRows-1) // two rows of the greatest that fits, one over the other
	row, last := b.block[k], j+1-1<<k
	most := row[last]
	for ; i < last; i += 1 << k {
		most = max(most, row[i])
	}
	return float64(most) / wideUnit
}

// near is what is earned at a millisecond, or at most so many seconds from it; off
// the recording it is what a stroke costs where nothing is heard.
func (b *blurred) near(t int, seconds float64) float64 {
	if t < 0 || t >= len(b.sharp) {
		return -background
	}
	if k := blurBy[min(int(seconds/Step+1e-6), len(blurBy)-1)]; k >= 0 {
		return float64(b.wide[k][t]) * earnQuantum
	}
	return float64(b.sharp[t]) / wideUnit
}
