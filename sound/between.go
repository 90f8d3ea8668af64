package sound

import "math"

// Runs of one stitch have no rhythm: between two passages that are long enough to
// be heard they are placed by what they sound like and by how long the rests
// between them should take.

// shortPassage has too few strokes to be found by its rhythm.
const shortPassage = 6

// restSpread is the standard deviation of the logarithm of a rest against the
// others of the same kind.
const restSpread = 0.25

// between places each row of short passages anew.
func (h *hearing) between() {
	for k := 0; k < len(h.laid); k++ {
		if len(h.laid[k].at) >= shortPassage {
			continue
		}
		from := k
		for k+1 < len(h.laid) && len(h.laid[k+1].at) < shortPassage {
			k++
		}
		if from > 0 && k+1 < len(h.laid) {
			h.place(from, k+1)
		}
	}
}

// place finds the times of passages from ≤ k < to, which stand between two that
// are known (dynamic programming over passages and steps of time).
func (h *hearing) place(from, to int) {
	const step = 2 // ms
	before, after := h.laid[from-1], h.laid[to]
	start := before.heard[len(before.heard)-1] + before.total - before.at[len(before.at)-1]
	end := after.heard[0] - after.at[0]
	sewn, rests := 0.0, h.score.rests[to].seconds
	for k := from; k < to; k++ {
		sewn += h.laid[k].total
		rests += h.score.rests[k].seconds
	}
	n := int((end - start) / Step / step)
	if n < 2*(to-from) || n > 200000 || rests <= 0 {
		return
	}
	factor := max((end-start-sewn)/rests, 0.05)
	minus := math.Inf(-1)
	v := make([]float64, n+1)
	for i := range v {
		v[i] = minus
	}
	v[0] = 0 // the end of the passage before
	came := make([][]int32, to-from)
	rest := func(k int, seconds float64) float64 {
		if seconds <= 0 {
			return minus
		}
		z := math.Log(seconds/(factor*h.score.rests[k].seconds)) / restSpread
		return -0.5 * 0.25 * z * z
	}
	for k := from; k < to; k++ {
		l := h.laid[k]
		length := int(math.Round(l.total / Step / step))
		mid := factor * h.score.rests[k].seconds / Step / step
		lo, hi := int(mid*0.4), int(mid*2.2)+1
		price := make([]float64, hi+1)
		for q := lo; q <= hi; q++ {
			price[q] = rest(k, float64(q*step)*Step)
		}
		w := make([]float64, n+1) // by where the passage ends
		row := make([]int32, n+1)
		for i := range w {
			w[i] = minus
			at := i - length // where it begins
			best, how := minus, 0
			for q := lo; q <= hi && q <= at; q++ {
				if s := v[at-q] + price[q]; s > best {
					best, how = s, q
				}
			}
			if best == minus {
				continue
			}
			for j, x := range l.at {
				if t := int(math.Round((start+x)/Step)) + at*step; l.number[j] >= 0 && t >= 0 && t < len(h.wide) {
					best += float64(max(h.wide[t], h.wide[min(t+1, len(h.wide)-1)])) / wideUnit
				}
			}
			w[i], row[i] = best, int32(how)
		}
		came[k-from] = row
		v = w
	}
	best, at := minus, -1
	for i := range v {
		if s := v[i] + rest(to, float64((n-i)*step)*Step); s > best {
			best, at = s, i
		}
	}
	if at < 0 {
		return
	}
	for k := to - 1; k >= from; k-- {
		l := h.laid[k]
		begins := at - int(math.Round(l.total/Step/step))
		for j, x := range l.at {
			l.want[j] = start + float64(begins*step)*Step + x
			l.heard[j], l.gain[j] = pick(h.o, int(math.Round(l.want[j]/Step)))
		}
		l.placed = true
		at = begins - int(came[k-from][at])
	}
}
