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
	n := len(c.at)
	if n == 0 {
		return 1
	}
	k := 0
	for k < n && c.at[k] <= x {
		k++
	}
	var log float64
	switch k {
	case 0:
		log = c.log[0]
	case n:
		log = c.log[n-1]
	default:
		log = c.log[k-1] + (c.log[k]-c.log[k-1])*(x-c.at[k-1])/(c.at[k]-c.at[k-1])
	}
	if log == 0 {
		return 1
	}
	return math.Exp(log)
}

// turnDegrees is the turn between two displacements, 0 to 180 degrees; 0 where
// either is zero. An arc cosine would be unsure of small turns.
func turnDegrees(dx, dy, px, py int) float64 {
	cross := dx*py - dy*px
	return math.Atan2(float64(max(cross, -cross)), float64(dx*px+dy*py)) * 180 / math.Pi
}
