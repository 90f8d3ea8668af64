package clock

import "math"

// What the controller adds to the caps of the speed law: it sets the speed in
// steps, and the shaft follows a cap that rises with a lag.

// sameSpeed is how near below a multiple of the speed step a speed counts as
// that multiple: rounding must not cost a step.
const sameSpeed = 1e-9

// stepped is the seconds of a revolution whose cap is 1/inv, its speed rounded
// down to a multiple of the step q: N′ = max(q·⌊N/q⌋, min(N, max(q, N_creep))),
// so never below one step or creep, and never above N.
func (l *core) stepped(inv float64) float64 {
	if l.step == 0 || l.freeSet && inv == l.invSet {
		return inv
	}
	n := 1 / inv
	down := l.step * math.Floor(n/l.step*(1+sameSpeed))
	if down = max(down, l.creep, l.step); down < n {
		return 1 / down
	}
	return inv
}

// caughtUp is how little of its cap, relative, a shaft with a lag may miss and count as being at it.
const caughtUp = 1e-13

// follow is the speed after a revolution of a shaft that follows the cap m with
// a first-order lag: dn/dt = (N − n)/τ from speed n < N while the angle goes on
// by one revolution. invLag is 1/τ.
//
// In y = 1 − n/N and q, the same before: ln y − y = ln q − q − 1/(τN), which is
// y·exp(−y) = z with z = q·exp(−q − 1/(τN)) ≤ 1/e. It is solved by Halley's
// method from the series of the tree function (Corless, Gonnet, Hare, Jeffrey
// and Knuth, On the Lambert W function, Adv. Comput. Math. 5 (1996) 329–359).
func follow(n float64, m *limit, invLag float64) float64 {
	q := 1 - n*m.inv
	if q < caughtUp {
		return m.n
	}
	z := q * math.Exp(-q-invLag*m.inv)
	var y float64
	if z < 0.2 {
		y = z * (1 + z*(1+z*(1.5+z*(8.0/3))))
	} else {
		p := math.Sqrt(max(2*(1-math.E*z), 0))
		y = 1 - p*(1-p*(1.0/3-p*(11.0/72)))
	}
	for range 6 {
		e := z * math.Exp(y)
		g, g1 := y-e, 1-e
		d := 2 * g1 * g1
		if d += g * e; d == 0 {
			break
		}
		d = 2 * g * g1 / d
		if y -= d; math.Abs(d) < 1e-11 { // the next would be its cube
			break
		}
	}
	return min(m.n, m.n*(1-min(max(y, 0), q)))
}

// lagged puts the lag on the caps of a window, of which the first now
// revolutions are charged, after a revolution at speed n. It gives the caps by
// revolution, what the lag adds to those charged, and the speed after them.
// each, where not nil, gets what it adds to each.
func (c *Clock) lagged(w *window, limits []limit, now, ahead int, n float64, each []float64) (out []limit, added,
	after float64) {
	w.each()
	for i, k := range w.idx[:ahead] {
		m := limits[k]
		if n < m.n {
			free := m.inv
			if n = follow(n, &m, c.invLag); n < m.n {
				m = limitAt(1 / n)
				n = m.n
			}
			if i < now {
				added += m.inv - free
				if each != nil {
					each[i] = m.inv - free
				}
			}
		} else {
			n = m.n
		}
		if i == now-1 {
			after = n
		}
		w.limits[i], w.idx[i] = m, uint16(i)
	}
	return w.limits, added, after
}
