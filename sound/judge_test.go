package sound

import (
	"math"
	"slices"

	"needlepace/sound/synth"
)

// judged compares: share of strokes within 5 ms, of those with the right number,
// and the median relative error of speed over 8 turns.
func judged(p *synth.Performance, h *Heard, drop [][2]float64) (near, number, speed float64) {
	n, good, right := 0, 0, 0
	i := 0
	byNumber := map[int][]float64{}
	for _, s := range h.Strokes {
		byNumber[s.Stitch] = append(byNumber[s.Stitch], s.At)
	}
	var errs []float64
	var lastTrue, lastHeard []float64
next:
	for _, s := range p.Strokes {
		if s.Stitch < 0 {
			continue
		}
		for _, d := range drop {
			if s.At > d[0] && s.At < d[1] {
				continue next
			}
		}
		n++
		for i+1 < len(h.Strokes) && math.Abs(h.Strokes[i+1].At-s.At) <= math.Abs(h.Strokes[i].At-s.At) {
			i++
		}
		if i < len(h.Strokes) && math.Abs(h.Strokes[i].At-s.At) < 0.005 {
			good++
		}
		for _, at := range byNumber[s.Stitch] {
			if math.Abs(at-s.At) < 0.02 {
				right++
				break
			}
		}
		if i < len(h.Strokes) {
			lastTrue, lastHeard = append(lastTrue, s.At), append(lastHeard, h.Strokes[i].At)
			if k := len(lastTrue) - 1; k >= 8 && k%4 == 0 && lastTrue[k]-lastTrue[k-8] < 1.5 {
				a, b := lastTrue[k]-lastTrue[k-8], lastHeard[k]-lastHeard[k-8]
				errs = append(errs, math.Abs(b/a-1))
			}
		}
	}
	return float64(good) / float64(n), float64(right) / float64(n), median(errs)
}

func median(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	s := slices.Clone(x)
	slices.Sort(s)
	return s[len(s)/2]
}
