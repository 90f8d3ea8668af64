package audit

import (
	"math"

	"needlepace/stitch"
	"needlepace/words"
)

// PullGap is two colours whose edges meet so barely that the pull of the
// stitches opens them.
const PullGap Kind = "pull-gap"

// Rows that end within pullTouch of another colour touch it, and what still lies
// pullArea farther on is an area and no single thread; pullRows of them
// in a row, with pullOthers between, are reported. Rows shorter than pullLeast
// pull little. Engineering choices, 0.1 mm.
const (
	pullTouch  = 2
	pullArea   = 8
	pullRows   = 10
	pullOthers = 6
	pullLeast  = 15
)

// findPull is an estimate: stitches draw the cloth together along their own
// direction, so that a row ends Pull short of its hole (common practice, no
// published source: 0.2 to 0.4 mm are added at each end against it). Where a
// row ends at another colour, and where its thread's end, drawn back by Pull,
// then lies neither that colour nor any other, the cloth shows there. Rows along
// an edge do not draw it away: only ends are looked at.
func findPull(v *survey) []Finding {
	if v.l.blocks < 2 {
		return nil
	}
	pull := v.lim.Pull*stitch.UnitsPerMM - reach/2 // of the end of its thread, half a thread beyond its hole
	if pull <= 0 {
		return nil
	}
	open := make([]uint8, len(v.l.holes)) // the gap behind each hole, 0.1 mm
	any := false
	for i := range v.l.objects {
		o := &v.l.objects[i]
		own := v.threads[o.Block]
		other := func(line int) bool { return v.threads[v.l.objects[v.lines[line].object].Block] != own }
		for k := o.First + 1; k+1 < o.Last; k++ {
			long := v.long(k-1, k)
			if long < pullLeast || !v.turnsBack(k) {
				continue
			}
			a, b := v.l.holes[k-1], v.l.holes[k]
			ux, uy := float64(b.x-a.x)/long, float64(b.y-a.y)/long
			covered := func(back float64) bool {
				return v.grid.any(int32(math.Round(float64(b.x)-ux*back)), int32(math.Round(float64(b.y)-uy*back)),
					reach*reach/4, other)
			}
			if !covered(-pullTouch) || !covered(-pullArea) || covered(pull) {
				continue
			}
			gap := 1
			for gap < 50 && !covered(pull-float64(gap)) {
				gap++
			}
			open[k], any = uint8(gap), true
		}
	}
	if !any {
		return nil
	}
	var found []Finding
	for _, c := range v.rows(pullOthers, func(k int) bool { return open[k] > 0 }) {
		if c.count < pullRows {
			continue
		}
		gap := 0.0
		for k := c.from; k < c.to; k++ {
			gap += float64(open[k])
		}
		gap /= float64(c.count) * stitch.UnitsPerMM
		f := Finding{From: c.from, To: c.to, Count: c.count, Peak: gap, Risk: RiskGap, Over: float64(c.count) / pullRows}
		v.cover(&f, c.from, c.to)
		f = v.place(f, c.object)
		v.around(&f, c.from, c.to)
		found = append(found, f)
	}
	return found
}

func sayPull(v *survey, f *Finding) {
	mm := func(x float64) words.Value { return words.Say("length.mm", words.Args{"n": words.Figure(x)}) }
	f.What = words.Say("finding.pull", words.Args{"rows": words.Count(f.Count, "row"), "pull": mm(v.lim.Pull),
		"gap": mm(math.Round(f.Peak*100) / 100)})
	f.Ask = words.Say("finding.pull-ask", words.Args{"pull": mm(v.lim.Pull)})
}
