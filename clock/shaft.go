package clock

import "math"

// shaft is MODEL section 3: how the main shaft gets from one revolution's cap
// to the next. Speeds are kept as squares, in which one revolution of
// acceleration is a constant to add; a square root is taken only on ramps.
type shaft struct {
	up2, down2     float64 // 2·A_up, 2·A_down, (rev/s)² per revolution
	perUp, perDown float64 // 1/A_up, 1/A_down, s²/rev
	peak0          float64 // peak² = peak0 + peakU·u² + peakV·v²
	peakU, peakV   float64
	creep2         float64 // square of N_creep
	look           int     // revolutions after which no cap ahead can matter
}

func newShaft(up, down, creep, nSet float64) shaft {
	return shaft{
		up2: 2 * up, down2: 2 * down,
		perUp: 1 / up, perDown: 1 / down,
		peak0: 2 * up * down / (up + down),
		peakU: down / (up + down), peakV: up / (up + down),
		creep2: creep * creep,
		look:   int(math.Ceil(nSet*nSet/(2*down))) + 2,
	}
}

// backward fills b2[i], the square of the highest boundary speed before
// revolution i from which all that comes can still be obeyed, for the window
// of revolutions whose caps are limits[idx[i]]. Where the window ends with
// the run (last), the boundary after it is at most creep; otherwise the
// window must reach shaft.look revolutions past the part that is used.
func (s *shaft) backward(b2 []float64, idx []uint16, limits []limit, last bool) {
	n := len(idx)
	next := limits[idx[n-1]].n2
	q := next
	if last && s.creep2 < q {
		q = s.creep2
	}
	b2 = b2[:n+1]
	b2[n] = q
	for i := n - 1; i > 0; i-- {
		prev := limits[idx[i-1]].n2
		here := next
		if prev < here {
			here = prev
		}
		q += s.down2
		if here < q {
			q = here
		}
		b2[i] = q
		next = prev
	}
	q += s.down2
	if next < q {
		q = next
	}
	b2[0] = q
}

// forward runs the window's first n revolutions from boundary speed u (u2 is
// its square) under the ceilings of backward. It gives the seconds lost
// against turning at each cap, and the boundary speed after. Where seconds is
// not nil it gets each revolution's time.
func (s *shaft) forward(b2 []float64, idx []uint16, limits []limit, n int, u, u2 float64, seconds []float64) (lost, v,
	v2 float64) {
	b2 = b2[1 : n+1]
	idx = idx[:n]
	for i, k := range idx {
		c := &limits[k]
		v2 = b2[i]
		if r := u2 + s.up2; r < v2 {
			v2 = r
		}
		var t float64 // beyond 1/c
		switch {
		case v2 == c.n2:
			v = c.n
			if u2 == v2 { // cruising
				if seconds != nil {
					seconds[i] = c.inv
				}
				continue
			}
			// p ≥ v = c: at the cap by the end of the revolution.
			t = (c.n-u)*s.perUp - (c.n2-u2)*0.5*s.perUp*c.inv
		default:
			v = math.Sqrt(v2)
			if p2 := s.peak0 + s.peakU*u2 + s.peakV*v2; p2 <= c.n2 {
				p := math.Sqrt(p2)
				t = (p-u)*s.perUp + (p-v)*s.perDown - c.inv
			} else {
				t = (c.n-u)*s.perUp + (c.n-v)*s.perDown -
					((c.n2-u2)*s.perUp+(c.n2-v2)*s.perDown)*0.5*c.inv
			}
		}
		lost += t
		if seconds != nil {
			seconds[i] = c.inv + t
		}
		u, u2 = v, v2
	}
	return lost, u, u2
}
