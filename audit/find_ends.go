package audit

import (
	"fmt"

	"needlepace/stitch"
	"needlepace/words"
)

// How objects begin and end.
const (
	MissingLock   Kind = "missing-lock"
	FewStitches   Kind = "few-stitches"
	DraggedThread Kind = "dragged-thread"
)

// lockWithin is how many stitches before a cut are looked at for a lock.
const lockWithin = 6

// findLocks looks before every cut for small stitches with a turn among them.
// It costs no time; the thread comes undone.
func findLocks(v *survey) []Finding {
	var found []Finding
	for k := range v.l.objects {
		o := &v.l.objects[k]
		j := &v.l.joints[k+1]
		if o.Bare || v.locked(o) || k == len(v.l.objects)-1 && len(j.cuts) == 0 && j.from == j.to && o.Last-o.First < 2 {
			continue
		}
		what := "no lock stitches before the trim"
		switch {
		case j.has(stitch.ColourStop):
			what = "no lock stitches before the colour stop"
		case k == len(v.l.objects)-1:
			what = "no lock stitches before the end"
		}
		f := Finding{From: o.Last, To: o.Last, Count: 1, Risk: RiskUnravel, What: what,
			Ask: "lock stitches at the end of the object, unless the machine is set to make them"}
		f.Block = o.Block
		f.X, f.Y = v.mm(o.Last - 1)
		found = append(found, f)
	}
	return found
}

// locked: at least two of the last stitches are small, and the needle turns
// back on one of them.
func (v *survey) locked(o *Object) bool {
	small, turns := 0, 0
	for k := max(o.First+1, o.Last-lockWithin); k < o.Last; k++ {
		mm := v.step(k)
		if mm > v.lim.LockStitch {
			continue
		}
		small++
		if k-1 > o.First {
			a, b, c := v.l.holes[k-2], v.l.holes[k-1], v.l.holes[k]
			if int64(b.x-a.x)*int64(c.x-b.x)+int64(b.y-a.y)*int64(c.y-b.y) < 0 {
				turns++
			}
		}
	}
	return small >= 2 && turns >= 1
}

// findFew: the cost is the object and its cut, less the way past it.
func findFew(v *survey) []Finding {
	var found []Finding
	for k := range v.l.objects {
		o := &v.l.objects[k]
		n := o.Last - o.First
		if float64(n) >= v.lim.FewStitches || o.Wall {
			continue
		}
		f := Finding{From: o.First, To: o.Last, Count: 1,
			What: fmt.Sprintf("an object of %s between two cuts", words.Count(n, "stitch").Text(nil)),
			Ask:  "join it to its neighbour, make it larger, or leave it out"}
		before, after := &v.l.joints[k], &v.l.joints[k+1]
		if k > 0 && k+1 < len(v.l.objects) && len(before.cuts) == 1 && len(after.cuts) == 1 {
			a, b := &v.l.objects[k-1], &v.l.objects[k+1]
			with := append([]stitch.Record(nil), v.tail(a)...)
			with = append(with, v.l.rec[before.from:after.to]...)
			with = append(with, v.head(b)...)
			without := append([]stitch.Record(nil), v.tail(a)...)
			w := writer{&without, max(trimJumps, v.l.trimAfter), v.explicit}
			way := stitch.Point{X: b.Lead.X - a.Exit.X, Y: b.Lead.Y - a.Exit.Y}
			stops := before.count(stitch.ColourStop) + after.count(stitch.ColourStop)
			if stops == 0 {
				w.trim(way)
			} else {
				w.colour(way)
				for range stops - 1 { // the colours stay what they are
					w.put(stitch.ColourStop, 0, 0)
				}
			}
			without = append(without, v.head(b)...)
			f.Seconds = max(0, v.seconds(with)-v.seconds(without))
		}
		found = append(found, v.place(f, k))
	}
	return found
}

// findDrags looks for jumps inside objects and before cuts, where the thread is
// not cut. A trim would cost time; what is lost here is the trimming by hand.
func findDrags(v *survey) []Finding {
	var found []Finding
	for i := range v.l.objects {
		o := &v.l.objects[i]
		for k := o.First + 1; k < o.Last; k++ {
			a, b := v.l.holes[k-1], v.l.holes[k]
			if b.record == a.record+1 || v.step(k) <= v.lim.DragWay {
				continue
			}
			jumps := 0
			for _, r := range v.l.rec[a.record+1 : b.record] {
				if r.Op == stitch.Jump {
					jumps++
				}
			}
			if jumps == 0 {
				continue
			}
			found = append(found, v.place(Finding{From: k, To: k, Count: 1, Risk: RiskLoose,
				What: fmt.Sprintf("%s over %s with the thread uncut", words.Count(jumps, "jump").Text(nil),
					mmText(v.step(k))),
				Ask: "a trim here, or a way under later stitches"}, i))
		}
	}
	return found
}
