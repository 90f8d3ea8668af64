package synth

import (
	"math"
	"slices"
)

// Judged is how well a performance was heard.
type Judged struct {
	Near   float64 // share of its stitches that were heard within 5 ms
	Number float64 // share that were heard with their own number in the design, within 20 ms
	Said   float64 // share that were, or with one that is wrong by no more than was said
	Speed  float64 // median relative error of the speed over eight stitches
}

// Judge holds stitches that were heard (when, in s and in order, their numbers in
// the design, and by how many these may be wrong, nil for by none) against those that
// were sewn, outside drop-outs.
func (p *Performance) Judge(at []float64, number, within []int, dropOuts [][2]float64) Judged {
	byNumber := map[int][]float64{}
	for i, n := range number {
		byNumber[n] = append(byNumber[n], at[i])
	}
	n, near, right, said, i := 0, 0, 0, 0, 0
	var sewn, heard, errs []float64
next:
	for _, s := range p.Strokes {
		if s.Stitch < 0 {
			continue
		}
		for _, d := range dropOuts {
			if s.At > d[0] && s.At < d[1] {
				continue next
			}
		}
		n++
		for i+1 < len(at) && math.Abs(at[i+1]-s.At) <= math.Abs(at[i]-s.At) {
			i++
		}
		if i < len(at) && math.Abs(at[i]-s.At) < 0.005 {
			near++
		}
		own := false
		for _, t := range byNumber[s.Stitch] {
			own = own || math.Abs(t-s.At) < 0.02
		}
		if own {
			right++
		}
		if own || within != nil && i < len(at) && math.Abs(at[i]-s.At) < 0.02 && max(number[i]-s.Stitch, s.Stitch-number[i]) <= within[i] {
			said++
		}
		if i < len(at) {
			sewn, heard = append(sewn, s.At), append(heard, at[i])
			if k := len(sewn) - 1; k >= 8 && k%4 == 0 && sewn[k]-sewn[k-8] < 1.5 {
				errs = append(errs, math.Abs((heard[k]-heard[k-8])/(sewn[k]-sewn[k-8])-1))
			}
		}
	}
	out := Judged{Speed: math.NaN()}
	if n > 0 {
		out.Near, out.Number, out.Said = float64(near)/float64(n), float64(right)/float64(n), float64(said)/float64(n)
	}
	if len(errs) > 0 {
		slices.Sort(errs)
		out.Speed = errs[len(errs)/2]
	}
	return out
}
