package audit

import (
	"fmt"
	"math"

	"needlepace/stitch"
)

// NeedlessTrim is a trim where the thread could run on.
const NeedlessTrim Kind = "needless-trim"

// findTrims clocks each trim with a short or hidden way against the thread
// running on: a single stitch over a short way, a running stitch over a way
// that later stitches cover. Only the ends of the two objects are clocked; what
// lies further off cannot change.
func findTrims(v *survey) []Finding {
	var found []Finding
	for k := 1; k < len(v.l.objects); k++ {
		j := &v.l.joints[k]
		if len(j.cuts) != 1 || j.cuts[0].op != stitch.Trim {
			continue
		}
		a, b := &v.l.objects[k-1], &v.l.objects[k]
		dx, dy := b.Start.X-a.Exit.X, b.Start.Y-a.Exit.Y
		way := stitch.LengthMM(dx, dy)
		n := jumpsFor(dx, dy)
		f := Finding{From: b.First, To: b.First, Count: 1}
		switch {
		case way == 0:
			f.What = "the thread is cut and begins again in the same hole"
			f.Ask = "leave the thread running"
		case way <= v.lim.TrimWay:
			f.What = fmt.Sprintf("a trim before a way of only %s", mmText(way))
			f.Ask = "leave the thread running, or let the objects meet"
		case way <= v.lim.CoveredWay && v.hidden(a.Exit, b.Start, k-1):
			n = max(n, int(math.Ceil(way/v.lim.CoveredStitch)))
			f.What = fmt.Sprintf("a trim before a way of %s that later stitches cover", mmText(way))
			f.Ask = "sew the way as running stitch under what comes later"
		default:
			continue
		}
		with := append(append(append([]stitch.Record(nil), v.tail(a)...), v.l.rec[j.from:j.to]...), v.head(b)...)
		without := append([]stitch.Record(nil), v.tail(a)...)
		head := v.head(b)
		for ; n > 0; n-- {
			sx, sy := dx/n, dy/n
			without = append(without, stitch.Record{DX: int16(sx), DY: int16(sy), Op: stitch.Sew})
			dx, dy = dx-sx, dy-sy
		}
		without = append(without, head[1:]...)
		if f.Seconds = v.seconds(with) - v.seconds(without); f.Seconds > 0 {
			f.Risk = RiskUnravel
			found = append(found, v.place(f, k))
		}
	}
	return found
}

// hideWithin is how near, in 0.1 mm, later thread must lie to hide a way: half
// its width and a little for the way to sink in. hideShare of the way must be
// hidden. Engineering choices.
const (
	hideWithin = 3
	hideShare  = 0.95
)

// hidden says whether the straight way lies under what is sewn after object
// after.
func (v *survey) hidden(a, b stitch.Point, after int) bool {
	n := max(2, int(stitch.LengthMM(b.X-a.X, b.Y-a.Y)*5)) // every 0.2 mm
	hit := 0
	for i := 0; i <= n; i++ {
		x, y := a.X+(b.X-a.X)*i/n, a.Y+(b.Y-a.Y)*i/n
		if v.grid.covered(int32(x), int32(y), after, hideWithin*hideWithin) {
			hit++
		} else if float64(i+1-hit) > (1-hideShare)*float64(n+1) {
			return false
		}
	}
	return true
}
