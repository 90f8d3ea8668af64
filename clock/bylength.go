package clock

import (
	"math"
	"math/rand/v2"
	"slices"

	"needlepace/machine"
	"needlepace/stitch"
)

// LengthPoint is the speed a machine may hold on stitches of one length.
type LengthPoint struct {
	LengthMM       float64
	Low, Mid, High float64 // stitches/min; Low and High are the interval
}

// byLengthDraws is how many machines are drawn for the interval: enough for a
// band on a chart to look the same with every seed.
const byLengthDraws = 400

// SpeedByLength is the cap of MODEL section 2 on stitches of 0.1 mm to mostMM
// in steps of 0.1 mm along the x axis, sewn straight on or (zigzag) to and fro,
// with the central interval at level that the sheet's spreads leave. The sheet
// and the job must be valid; mostMM is held to 0.1…100. Level 0: no interval.
func SpeedByLength(s *machine.Sheet, job Job, mostMM float64, zigzag bool, level float64) []LengthPoint {
	n := int(math.Round(min(max(mostMM, 0.1), 100) * stitch.UnitsPerMM))
	speeds := func(s *machine.Sheet) []float64 {
		c := New(s, job)
		out := make([]float64, n)
		for i := range out {
			next := i + 1
			if zigzag {
				next = -next
			}
			out[i] = c.HoldsOn(next, 0, i+1, 0)
		}
		return out
	}
	out := make([]LengthPoint, n)
	for i, v := range speeds(s) {
		out[i] = LengthPoint{LengthMM: float64(i+1) / stitch.UnitsPerMM, Low: v, Mid: v, High: v}
	}
	if level == 0 {
		return out
	}
	drawn := make([][]float64, n)
	draw, rng := NewDraw(s, job.Kinds), rand.New(rand.NewPCG(1, 0))
	for range byLengthDraws {
		m, z := s.Clone(), draw(rng)
		for k, c := range machine.AllConstants {
			if sd := s.Spread(c); sd > 0 && !c.Whole {
				c.Set(m, c.Get(s)*math.Exp(sd*z[k]))
			}
		}
		for i, v := range speeds(m) {
			drawn[i] = append(drawn[i], v)
		}
	}
	for i := range out {
		slices.Sort(drawn[i])
		out[i].Low = min(Quantile(drawn[i], (1-level)/2), out[i].Mid)
		out[i].High = max(Quantile(drawn[i], (1+level)/2), out[i].Mid)
	}
	return out
}
