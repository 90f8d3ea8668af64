package clock

import "math"

// shaft is MODEL section 3: how the main shaft gets from one revolution's cap
// to the next. Speeds are kept as squares, in which one revolution of
// acceleration is a constant to add, and these as whole numbers, which are added and
// compared in a cycle each and do not round; a square root is taken only on ramps.
type shaft struct {
	up, down, creep  square  // 2·A_up and 2·A_down, per revolution; N_creep
	perUp, perDown   float64 // 1/A_up, 1/A_down, s²/rev
	halfUp, halfDown float64 // half of that
	peak0            float64 // peak² = peak0 + peakU·u² + peakV·v²
	peakU, peakV     float64
	look             int // revolutions after which no cap ahead can matter
}

// square is the square of a speed in units of 2⁻⁴⁸ (rev/s)²: a speed of 1/min is known to 6·10⁻¹², and the sum of two is
// far from the largest that there is.
type square int64

const (
	perSquare  = 1.0 / (1 << 48) // (rev/s)²
	mostSquare = 1 << 13         // (rev/s)², 90 revolutions a second
)

func squareOf(n2 float64) square { return square(min(n2, mostSquare)*(1/perSquare) + 0.5) }

// float is the square in (rev/s)².
func (q square) float() float64 { return float64(q) * perSquare }

func newShaft(up, down, creep, nSet float64) shaft {
	return shaft{
		up: squareOf(2 * up), down: squareOf(2 * down), creep: squareOf(creep * creep),
		perUp: 1 / up, perDown: 1 / down, halfUp: 0.5 / up, halfDown: 0.5 / down,
		peak0: 2 * up * down / (up + down),
		peakU: down / (up + down), peakV: up / (up + down),
		look: int(math.Ceil(nSet*nSet/(2*down))) + 2,
	}
}

// backward fills ceiling[i], the square of the highest boundary speed before
// revolution i from which all that comes can still be obeyed, for the window
// of revolutions whose caps are limits[idx[i]]. Where the window ends with
// the run (last), the boundary after it is at most creep; otherwise the
// window must reach shaft.look revolutions past the part that is used.
func (s *shaft) backward(ceiling []square, idx []uint16, limits []limit, last bool) {
	n := len(idx)
	next := limits[idx[n-1]].square
	q := next
	if last {
		q = min(q, s.creep)
	}
	ceiling = ceiling[:n+1]
	ceiling[n] = q
	for i := n - 1; i > 0; i-- {
		prev := limits[idx[i-1]].square
		q = min(q+s.down, next, prev)
		ceiling[i] = q
		next = prev
	}
	ceiling[0] = min(q+s.down, next)
}

// forward runs the window's first n revolutions from a boundary speed under the
// ceilings of backward. It gives the seconds lost against turning at each cap, and the
// boundary speed after. Where seconds is not nil it gets each revolution's time.
//
// From u to v under the cap c with the peak p ≤ c a revolution takes
//
//	t = (p−u)/A_up + (p−v)/A_down + (1 − (p²−u²)/(2·A_up) − (p²−v²)/(2·A_down))/c
//
// where the bracket, what is turned at the cap, is 0 if p < c.
func (s *shaft) forward(ceiling []square, idx []uint16, limits []limit, n int, at square, seconds []float64) (lost float64,
	after square) {
	ceiling = ceiling[1 : n+1]
	idx = idx[:n]
	u2 := at.float()
	u := math.Sqrt(u2)
	for i, k := range idx {
		c := &limits[k]
		to := min(ceiling[i], at+s.up)
		if to == c.square && at == to { // cruising
			if seconds != nil {
				seconds[i] = c.inv
			}
			continue
		}
		v2 := to.float()
		v := math.Sqrt(v2)
		p, p2 := c.n, c.n*c.n
		if q := s.peak0 + s.peakU*u2 + s.peakV*v2; q < p2 {
			p, p2 = math.Sqrt(q), q
		}
		t := (p-u)*s.perUp + (p-v)*s.perDown - ((p2-u2)*s.halfUp+(p2-v2)*s.halfDown)*c.inv // beyond 1/c
		lost += t
		if seconds != nil {
			seconds[i] = c.inv + t
		}
		at, u, u2 = to, v, v2
	}
	return lost, at
}
