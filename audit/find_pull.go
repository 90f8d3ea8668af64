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
// in a row, with pullOthers between (a row there and one back), are reported. Rows shorter than pullLeast
// pull little. Engineering choices, 0.1 mm.
const (
	pullTouch  = 2
	pullArea   = 8
	pullRows   = 10
	pullOthers = 60
	pullLeast  = 15
	rowCos     = -0.9 // cosine: rows lie along each other
	rowNear    = 3    // farther over each other they were drawn to overlap, and the ends of one are looked at alone
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
		for k := o.First; k < o.Last; k++ {
			from := v.rowTo(o, k)
			if from < 0 || v.long(from, k) < pullLeast {
				continue
			}
			long := v.long(from, k)
			a, b := v.l.holes[from], v.l.holes[k]
			ux, uy := float64(b.x-a.x)/long, float64(b.y-a.y)/long
			lies := func(back float64, is func(line int) bool) bool {
				return v.grid.any(int32(math.Round(float64(b.x)-ux*back)), int32(math.Round(float64(b.y)-uy*back)),
					reach*reach/4, is)
			}
			covered := func(back float64) bool { return lies(back, other) }
			if !covered(-pullTouch) || !covered(-pullArea) {
				continue
			}
			// Rows of the other colour that end here too are drawn away as well.
			back := pull
			if lies(-pullTouch, func(line int) bool { return other(line) && v.lines[line].endsLike(b, ux, uy) }) {
				back += v.lim.Pull * stitch.UnitsPerMM
			}
			if covered(back) {
				continue
			}
			gap := 1
			for gap < 50 && !covered(back-float64(gap)) {
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
		var ends []int // of rows that are drawn away
		for k := c.from; k < c.to; k++ {
			if open[k] > 0 {
				ends = append(ends, k)
			}
		}
		v.onto(&f, ends)
		found = append(found, f)
	}
	return found
}

// rowTo is the hole beside k that a row which ends or begins in hole k comes from;
// -1: no row does. The thread turns back there, or steps along the edge to a row
// that goes back.
func (v *survey) rowTo(o *Object, k int) int {
	if k > o.First && k+1 < o.Last && v.turnsBack(k, columnStep) {
		return k - 1
	}
	steps := func(a, b, c, d int) bool { // a to b is a row's last stitch, c to d the next row's first
		if min(a, d) < o.First || max(a, d) >= o.Last || v.l.holes[max(a, d)].record-v.l.holes[min(a, d)].record != 3 {
			return false
		}
		p, q, r, s := v.l.holes[a], v.l.holes[b], v.l.holes[c], v.l.holes[d]
		dot := float64(q.x-p.x)*float64(s.x-r.x) + float64(q.y-p.y)*float64(s.y-r.y)
		return v.long(b, c) <= columnStep && dot < rowCos*v.long(a, b)*v.long(c, d)
	}
	switch {
	case steps(k-1, k, k+1, k+2):
		return k - 1
	case steps(k+1, k, k-1, k-2):
		return k + 1
	}
	return -1
}

// endsLike reports whether a piece of thread ends within rowNear of p and lies along
// the direction u.
func (l *line) endsLike(p hole, ux, uy float64) bool {
	dx, dy := float64(l.x1-l.x0), float64(l.y1-l.y0)
	long := math.Hypot(dx, dy)
	if long == 0 || math.Abs(dx*ux+dy*uy) < -rowCos*long {
		return false
	}
	near := func(x, y int32) bool { return math.Hypot(float64(x-p.x), float64(y-p.y)) <= rowNear }
	return near(l.x0, l.y0) || near(l.x1, l.y1)
}

func sayPull(v *survey, f *Finding) {
	f.What = words.Say("finding.pull", words.Args{"rows": words.Count(f.Count, "row"), "pull": words.FineMM(v.lim.Pull),
		"gap": words.FineMM(math.Round(f.Peak*100) / 100)})
	f.Ask = words.Say("finding.pull-ask", words.Args{"pull": words.FineMM(v.lim.Pull)})
}
