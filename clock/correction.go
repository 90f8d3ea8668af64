package clock

import "math"

// curve is a correction table: the logarithm of a factor over stitch length or
// turn, straight between nodes and held beyond them. Empty is 1 everywhere.
type curve struct{ at, log []float64 }

func newCurve(at, factor []float64) curve {
	c := curve{at: at}
	for _, f := range factor {
		c.log = append(c.log, math.Log(f))
	}
	return c
}

// factor is the curve's value at x.
func (c *curve) factor(x float64) float64 {
	if len(c.at) == 0 {
		return 1
	}
	k, up := c.place(x)
	log := c.log[k]
	if up > 0 {
		log += (c.log[k+1] - log) * up
	}
	if log == 0 {
		return 1
	}
	return math.Exp(log)
}

// place is the node before x and how far x lies on the way to the next, 0 to 1.
func (c *curve) place(x float64) (k int, up float64) {
	n := len(c.at)
	for k < n && c.at[k] <= x {
		k++
	}
	switch k {
	case 0:
		return 0, 0
	case n:
		return n - 1, 0
	}
	return k - 1, (x - c.at[k-1]) / (c.at[k] - c.at[k-1])
}

// slope passes the slope by the logarithm of the curve's value at x on to its nodes; it must have some.
func (c *curve) slope(x, g float64, nodes []float64) {
	k, up := c.place(x)
	nodes[k] += g * (1 - up)
	if up > 0 {
		nodes[k+1] += g * up
	}
}

// turnDegrees is the turn between two displacements, 0 to 180 degrees; 0 where
// either is zero. An arc cosine would be unsure of small turns.
func turnDegrees(dx, dy, px, py int) float64 {
	cross := dx*py - dy*px
	return math.Atan2(float64(max(cross, -cross)), float64(dx*px+dy*py)) * 180 / math.Pi
}
