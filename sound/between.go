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
		byRests := from > 0 && k+1 < len(h.laid)
		for q := from; q <= k+1 && byRests; q++ {
			byRests = !h.interrupted(q) // a stop of the machine's own takes as long as it likes
		}
		if byRests {
			h.place(from, k+1)
		}
	}
}

// place finds the times of passages from ≤ k < to, which stand between two that
// are known (dynamic programming over passages and steps of time).
func (h *hearing) place(from, to int) {
	const step = 2 // ms
	before, next := h.laid[from-1], h.laid[to]
	start := before.heard[len(before.heard)-1] + before.total - before.at[len(before.at)-1]
	end := next.heard[0] - next.at[0]
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
	v := make([]float64, n+1)
	for i := range v {
		v[i] = nowhere
	}
	v[0] = 0 // the end of the passage before
	came := make([][]int32, to-from)
	rest := func(k int, seconds float64) float64 {
		if seconds <= 0 {
			return nowhere
		}
		z := math.Log(seconds/(factor*h.score.rests[k].seconds)) / restSpread
		return -0.5 * 0.25 * z * z
	}
	for k := from; k < to; k++ {
		l := h.laid[k]
		length := int(math.Round(l.total / Step / step))
		mid := factor * h.score.rests[k].seconds / Step / step
		lo, hi := max(int(mid*0.4), 1), int(mid*2.2)+1 // up to e·mid the price is concave
		price := make([]float64, hi-lo+1)
		for q := range price {
			price[q] = rest(k, float64((lo+q)*step)*Step)
		}
		w := make([]float64, n+1) // by where the passage ends
		row := make([]int32, n+1)
		begins, how := after(v, price, lo)
		for i := range w {
			w[i] = nowhere
			at := i - length // where it begins
			if at < 0 || begins[at] <= nowhere {
				continue
			}
			best := begins[at]
			for j, x := range l.at {
				if t := int(math.Round((start+x)/Step)) + at*step; l.number[j] >= 0 && t >= 0 && t < len(h.wide) {
					best += float64(max(h.wide[t], h.wide[min(t+1, len(h.wide)-1)])) / wideUnit
				}
			}
			w[i], row[i] = best, how[at]
		}
		came[k-from] = row
		v = w
	}
	best, at := nowhere, -1
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

// nowhere is less than anything that can be reached earns.
const nowhere = -1e9

// after is what is earned at best at each place by a rest of lo, lo+1, … steps, at these
// prices, after a place that earns v, and how long it is. The prices are concave in the rest's
// length, so the later the place, the later the best one before it: the middle place's best
// is sought first, and those on either side only on its side (divide and conquer over
// a totally monotone matrix; A. Aggarwal and others, Algorithmica 2 (1987) 195–208).
func after(v, price []float64, lo int) (best []float64, how []int32) {
	n, hi := len(v), lo+len(price)-1
	best, how = make([]float64, n), make([]int32, n)
	// Rests that are too short or too long go on concavely, so steeply that none is taken.
	const steep = -2 * nowhere
	earns := func(i, j int) float64 {
		switch q := i - j; {
		case q < lo:
			return v[j] - steep*float64(lo-q)
		case q > hi:
			return v[j] - steep*float64(q-hi)
		default:
			return v[j] + price[q-lo]
		}
	}
	var solve func(from, to, first, last int)
	solve = func(from, to, first, last int) {
		if from >= to {
			return
		}
		i := (from + to) / 2
		at, most := first, math.Inf(-1)
		for j := first; j <= last; j++ {
			if s := earns(i, j); s > most {
				at, most = j, s
			}
		}
		if best[i], how[i] = max(most, nowhere), int32(i-at); most < nowhere/2 {
			best[i] = nowhere
		}
		solve(from, i, first, at)
		solve(i+1, to, at, last)
	}
	solve(0, n, 0, n-1)
	return best, how
}
