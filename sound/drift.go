package sound

import (
	"math"
)

// drifting is what laying by the law alone pays: how far a passage may run
// ahead of the law or behind it.
type drifting struct {
	reach float64 // s that it may be off in all
	step  float64 // what a millisecond of drift costs, in clear strokes
	ends  float64 // the same at a passage's ends
}

// mostDrift is by how many ms the drift may change from one stroke to the next.
const mostDrift = 3

// follow lays a passage by the law: a stroke falls where the law says, off by a
// drift that changes little from one stroke to the next and by a jitter of its
// own (dynamic programming over strokes and drifts). Unlike lay it cannot lose
// or win a stroke on the way without paying for the whole time of it.
func (l *laid) follow(wide []float32, o []float32, by drifting) {
	n := len(l.at)
	reach := int(by.reach / Step)
	width := 2*reach + 1
	v, w := make([]float32, width+2*mostDrift), make([]float32, width+2*mostDrift)
	minus := float32(math.Inf(-1))
	for i := range mostDrift {
		v[i], w[i] = minus, minus
		v[len(v)-1-i], w[len(v)-1-i] = minus, minus
	}
	came := make([]int8, n*width)
	base := make([]int, n)
	for i := range base {
		base[i] = int(math.Round(l.want[i]/Step)) - reach
	}
	var price [2*mostDrift + 1]float32
	for i := range n {
		if i > 0 {
			// Rounding of the law's times to the grid is no drift.
			k := near(i, n)
			step := by.step + (by.ends-by.step)*k
			for q := range price {
				price[q] = float32(step * math.Abs(float64(q-mostDrift)))
			}
			row := came[i*width : (i+1)*width]
			for x := range width {
				best, how := v[x+mostDrift], 0
				for q := -mostDrift; q <= mostDrift; q++ {
					if s := v[x+mostDrift+q] - price[q+mostDrift]; s > best {
						best, how = s, q
					}
				}
				row[x] = int8(how)
				w[x+mostDrift] = best
			}
		}
		for x := range width {
			t := base[i] + x
			s := float32(0)
			if l.number[i] >= 0 && t >= 0 && t < len(wide) {
				s = wide[t]
			} else if l.number[i] >= 0 {
				s = -background
			}
			w[x+mostDrift] += s
		}
		v, w = w, v
		if i == 0 {
			for x := range w {
				w[x] = 0
			}
			for k := range mostDrift {
				w[k], w[len(w)-1-k] = minus, minus
			}
		}
	}
	x := 0
	for k := range width {
		if v[k+mostDrift] > v[x+mostDrift] {
			x = k
		}
	}
	l.score = float64(v[x+mostDrift])
	l.heard, l.gain, l.drifted = grown(l.heard, n), grown(l.gain, n), 0
	for i := n - 1; i >= 0; i-- {
		l.heard[i], l.gain[i] = pick(o, base[i]+x)
		if i > 0 {
			if k := int(came[i*width+x]); k != 0 && near(i, n) == 0 {
				l.drifted += math.Abs(float64(k))
			}
			x += int(came[i*width+x])
		}
	}
}

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

// widened is worth where a stroke may be a millisecond or two from the law's
// place at no cost to speak of.
func widened(worth []float32) []float32 {
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
	return out
}
